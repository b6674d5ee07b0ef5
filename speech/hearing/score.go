package hearing

import (
	"math"
	"slices"
	"strings"

	"stepcaller/speech"
)

// report adds up what was heard.
func (t Test) report(pieces []piece, skipped []Skipped) *Report {
	r := &Report{Skipped: append([]Skipped{}, skipped...), Settings: Settings{
		Live: append([]string{}, t.Live...), DitherLevel: DitherLevel, LeadIn: LeadIn.Seconds(), Tail: Tail.Seconds(), Seed: t.Seed,
	}}
	if !t.KeepLevel {
		level := SpeechLevel
		r.Settings.SpeechLevel = &level
	}
	pieces = slices.DeleteFunc(pieces, func(p piece) bool { return p.skipped != "" })
	for _, p := range pieces {
		switch {
		case p.kind == talk:
			r.Settings.Talk++
		case p.kind == noiseAlone:
			r.Settings.Noise++
		case p.clip.Live:
			r.Settings.Clips++
		default:
			r.Settings.Ignored++
		}
	}
	for i, e := range t.Engines {
		r.Engines = append(r.Engines, t.result(e.Name(), i, pieces))
	}
	return r
}

// result adds up what one engine heard.
func (t Test) result(name string, engine int, pieces []piece) Result {
	r := Result{Name: name, Confusion: []Confusion{}, Phrases: []Phrase{}}
	var times, sure timing
	var seconds, sound float64
	for c, snr := range t.conditions() {
		condition := Condition{SNR: snrOf(snr)}
		ignored := IgnoredNoise{SNR: snrOf(snr)}
		for _, p := range pieces {
			if p.clip == nil {
				continue
			}
			k := p.engines[engine].takes[c]
			obeyed, asked := k.labels()
			if !p.clip.Live {
				ignored.add(obeyed, asked)
				for _, o := range obeyed {
					r.confuse(p.clip.Word, o).Obeyed++
				}
				continue
			}
			condition.add(p.clip.Word, k.nearest, obeyed, asked)
			r.utterances = append(r.utterances, utterance{p.clip.Name, snrOf(snr), []string{p.clip.Word}, obeyed})
			r.phrase(p.clip.Word).add(p.clip.Word, k.nearest, obeyed)
			if k.nearest != "" {
				r.confuse(p.clip.Word, k.nearest).Nearest++
			}
			for _, o := range obeyed {
				r.confuse(p.clip.Word, o).Obeyed++
			}
			if c == 0 && right(p.clip.Word, obeyed) {
				h := k.heard[slices.IndexFunc(k.heard, func(h speech.Heard) bool { return h.Sure && h.Label == p.clip.Word })]
				times.add(h, k)
				if p.quiet {
					sure.add(h, k)
				}
			}
		}
		condition.share()
		r.Conditions = append(r.Conditions, condition)
		r.Ignored.By = append(r.Ignored.By, ignored)
	}
	clean := r.Ignored.By[0]
	r.Ignored.N, r.Ignored.Accepted, r.Ignored.Asked = clean.N, clean.Accepted, clean.Asked
	r.Ignored.Share, r.Ignored.Limits = share(clean.Accepted, clean.N), Wilson(clean.Accepted, clean.N)
	for _, p := range pieces {
		seconds += p.engines[engine].seconds
		sound += p.engines[engine].sound
	}
	if sound > 0 {
		r.RealTimeFactor = seconds / sound
	}
	if len(sure.late) > 0 {
		times = sure
	}
	r.Latency, r.StartError = spread(times.late), spread(times.off)
	r.Talk, r.Noise = stream(pieces, engine, talk), stream(pieces, engine, noiseAlone)
	slices.SortFunc(r.Phrases, func(a, b Phrase) int { return strings.Compare(a.Phrase, b.Phrase) })
	slices.SortFunc(r.Confusion, func(a, b Confusion) int {
		if by := strings.Compare(a.Said, b.Said); by != 0 {
			return by
		}
		return strings.Compare(a.Heard, b.Heard)
	})
	return r
}

// timing collects how late words were decided and how far off their times were,
// in milliseconds.
type timing struct{ late, off []float64 }

func (t *timing) add(h speech.Heard, k take) {
	t.late = append(t.late, milliseconds(h.At-k.to))
	t.off = append(t.off, math.Abs(milliseconds(h.From-k.from)))
}

// labels are the phrases obeyed, in order, and those only asked about.
func (k take) labels() (obeyed, asked []string) {
	for _, h := range k.heard {
		switch {
		case h.Label == "":
		case h.Sure:
			obeyed = append(obeyed, h.Label)
		default:
			asked = append(asked, h.Label)
		}
	}
	return obeyed, asked
}

// right says whether what was said was obeyed, and nothing else.
func right(said string, obeyed []string) bool { return len(obeyed) > 0 && !wrong(said, obeyed) }

// wrong says whether something else was obeyed.
func wrong(said string, obeyed []string) bool {
	return slices.ContainsFunc(obeyed, func(o string) bool { return o != said })
}

func (c *Condition) add(said, nearest string, obeyed, asked []string) {
	c.N++
	if nearest == said {
		c.Counts.Forced++
	}
	switch {
	case wrong(said, obeyed):
		c.Counts.AcceptedWrong++
	case right(said, obeyed):
		c.Counts.AcceptedRight++
	case slices.Contains(asked, said):
		c.Counts.Asked++
		c.Counts.Missed++
	case len(asked) > 0:
		c.Counts.AskedWrong++
		c.Counts.Missed++
	default:
		c.Counts.Missed++
	}
	c.Words.add(Align([]string{said}, obeyed))
}

func (c *Condition) share() {
	k := c.Counts
	c.Forced, c.Limits.Forced = share(k.Forced, c.N), Wilson(k.Forced, c.N)
	c.AcceptedRight, c.Limits.AcceptedRight = share(k.AcceptedRight, c.N), Wilson(k.AcceptedRight, c.N)
	c.AcceptedWrong, c.Limits.AcceptedWrong = share(k.AcceptedWrong, c.N), Wilson(k.AcceptedWrong, c.N)
	c.Missed, c.Limits.Missed = share(k.Missed, c.N), Wilson(k.Missed, c.N)
	c.Asked = share(k.Asked, c.N)
}

func share(k, n int) float64 {
	if n == 0 {
		return 0
	}
	return float64(k) / float64(n)
}

func (i *IgnoredNoise) add(obeyed, asked []string) {
	i.N++
	switch {
	case len(obeyed) > 0:
		i.Accepted++
	case len(asked) > 0:
		i.Asked++
	}
}

func (p *Phrase) add(said, nearest string, obeyed []string) {
	p.N++
	if nearest == said {
		p.Forced++
	}
	switch {
	case wrong(said, obeyed):
		p.AcceptedWrong++
	case right(said, obeyed):
		p.AcceptedRight++
	}
}

func (r *Result) phrase(name string) *Phrase {
	i := slices.IndexFunc(r.Phrases, func(p Phrase) bool { return p.Phrase == name })
	if i < 0 {
		i = len(r.Phrases)
		r.Phrases = append(r.Phrases, Phrase{Phrase: name})
	}
	return &r.Phrases[i]
}

func (r *Result) confuse(said, heard string) *Confusion {
	i := slices.IndexFunc(r.Confusion, func(c Confusion) bool { return c.Said == said && c.Heard == heard })
	if i < 0 {
		i = len(r.Confusion)
		r.Confusion = append(r.Confusion, Confusion{Said: said, Heard: heard})
	}
	return &r.Confusion[i]
}

// stream adds up one kind of recording.
func stream(pieces []piece, engine int, what kind) Stream {
	s := Stream{Accepted: []Accept{}}
	var length speech.Samples
	for _, p := range pieces {
		if p.kind != what {
			continue
		}
		length += p.length
		for _, h := range p.engines[engine].stream {
			switch {
			case h.Label == "":
			case h.Sure:
				s.FalseAccepts++
				s.Accepted = append(s.Accepted, Accept{File: p.path, AtS: h.From.Duration().Seconds(), Phrase: h.Label, Score: h.Score})
			default:
				s.Asked++
			}
		}
	}
	s.Hours = length.Duration().Hours()
	if s.Hours > 0 {
		limits, upper, rate := Poisson(s.FalseAccepts), PoissonUpper(s.FalseAccepts)/s.Hours, float64(s.FalseAccepts)/s.Hours
		s.PerHour, s.Upper, s.Limits = &rate, &upper, []float64{limits[0] / s.Hours, limits[1] / s.Hours}
	}
	return s
}

func spread(values []float64) Spread {
	return Spread{P50: quantile(0.5, values), P95: quantile(0.95, values), N: len(values)}
}

func milliseconds(s speech.Samples) float64 { return s.Duration().Seconds() * 1000 }
