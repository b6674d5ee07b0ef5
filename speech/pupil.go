package speech

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"
)

// impression is what the network makes of one utterance: the input of its
// phrase layer.
type impression struct {
	take    int  // of the takes given
	noisy   bool // noise was added
	kind    impressionKind
	feature []float32
}

type impressionKind uint8

const (
	whole   impressionKind = iota // from the take's first sample to its last
	found                         // as much of the take as the ears found
	unheard                       // nothing, since the ears found no utterance that covers the take
	other                         // half of the take, or the take backwards: speech of the same voice, and not what was to be said
)

// hearing is a condition that takes are heard in.
type hearing struct {
	snr      float64 // dB; clean for no noise
	speed    float64
	reversed bool
	half     int // 0: hear every take; 1 or 2: hear two and leave two out, or the other way round
}

const clean = 99.0

// studied are the conditions that a technician's takes are heard in: as they
// were said, a little faster and slower, through noise, and once backwards.
// chatted are those for the bundled chatter.
var (
	studied = []hearing{{snr: clean, speed: 1}, {snr: clean, speed: 0.94}, {snr: 14, speed: 1.06}, {snr: 8, speed: 0.97}, {snr: 6, speed: 1},
		{snr: 5, speed: 1.03}, {snr: 4, speed: 0.98}, {snr: 2, speed: 1}, {snr: 16, speed: 1, reversed: true}}
	chatted = []hearing{{snr: clean, speed: 1, half: 1}, {snr: 6, speed: 1, half: 2}}
)

// study hears every take in all hearings. It uses every processor, for a
// fiftieth of the sound's length in all.
func study(cfg EarsConfig, takes []Take, in []hearing, seed uint64) ([]impression, error) {
	parts := make([][]impression, len(in))
	var all errgroup.Group
	all.SetLimit(runtime.GOMAXPROCS(0))
	for i, h := range in {
		all.Go(func() error {
			p, err := newPupil(cfg, h, seed+uint64(i))
			if err == nil {
				parts[i] = p.hearAll(takes)
			}
			return err
		})
	}
	err := all.Wait()
	return slices.Concat(parts...), err
}

// pupil hears takes over noise with ears of its own.
type pupil struct {
	hearing
	ears  *Ears
	r     *rand.Rand
	noise *din
	under float64 // effective value of the noise
	frame [Frame]int16
	fill  int
	at    Samples // of the next sample
	take  int     // at hand
	from  Samples // of its speech
	to    Samples
	heard bool // it was found
	out   []impression
}

func newPupil(cfg EarsConfig, h hearing, seed uint64) (*pupil, error) {
	ears, err := NewEars(cfg)
	return &pupil{hearing: h, ears: ears, r: rand.New(rand.NewPCG(seed, 9)), noise: newDin(seed)}, err
}

// hearAll lines the takes up, in an order of its own.
func (p *pupil) hearAll(takes []Take) []impression {
	const (
		lead, between = Rate, Rate / 4
		level         = -25.0
		before, after = 5 * Frame, 21 * Frame // that the ears take with an utterance: see Ears.decide
		length        = netStride * Frame
	)
	for _, n := range p.r.Perm(len(takes)) {
		if p.half > 0 && n/2%2 != p.half-1 {
			continue
		}
		t := takes[n].paced(p.speed)
		if p.reversed {
			t = t.backwards()
		}
		loud := level + 8*p.r.Float64() - 4
		p.under = math.Pow(10, (loud-p.snr)/20)
		rest := math.Pow(10, max(-75, loud-t.Level()+t.Floor())/20) // the take's own quiet, in place of none
		quiet := Samples(between)
		if p.at == 0 {
			quiet = lead
		}
		p.give(nil, 0, rest, quiet) // the take before may be decided on in it
		p.close()
		p.take, p.from, p.to, p.heard = n, p.at+t.From, p.at+t.To, false
		p.ears.attend(p.ears.k.isNumber(t.Label))
		p.give(t.PCM, math.Pow(10, (loud-t.Level())/20)/32768, 0, Samples(len(t.PCM)))
		from, until := p.from-before-Samples(p.r.IntN(2*Frame)), p.to+after+Samples(p.r.IntN(4*Frame))
		p.give(nil, 0, rest, max(0, until+length-p.at))
		kind := whole
		if p.reversed {
			kind = other
		}
		p.keep(kind, from/length, until/length)
		if middle := (p.from + p.to) / 2; p.snr > 12 && !p.reversed {
			p.keep(other, from/length, middle/length)
			p.keep(other, middle/length, until/length)
		}
	}
	p.give(nil, 0, 0, between)
	p.close()
	return p.out
}

// close ends the hearing of the take at hand: one that was not found counts,
// too.
func (p *pupil) close() {
	if p.to > 0 && !p.heard && !p.reversed {
		p.out = append(p.out, impression{take: p.take, noisy: p.snr < clean, kind: unheard})
	}
}

// attend makes numbers live, or everything else.
func (e *Ears) attend(numbers bool) {
	for i := range e.live {
		e.live[i] = i < e.k.labels && e.k.isNumber(e.k.classes[i]) == numbers
	}
	e.nums = numbers
}

// give has the ears hear n samples of sound, hiss and noise.
func (p *pupil) give(pcm []int16, gain, hiss float64, n Samples) {
	for i := range n {
		v := hiss * p.r.NormFloat64()
		if int(i) < len(pcm) {
			v += gain * float64(pcm[i])
		}
		if p.snr < clean {
			v += p.under * p.noise.sample()
		}
		p.frame[p.fill] = int16(math.Round(max(math.MinInt16, min(math.MaxInt16, v*32768))))
		p.at++
		if p.fill++; p.fill < Frame {
			continue
		}
		p.fill = 0
		inner := p.ears.near.net.inner
		inner[0] = -1 // nothing was judged: the layer is never negative
		p.ears.Hear(Block{At: p.at - Frame, PCM: p.frame[:]}, nil)
		if inner[0] >= 0 && !p.reversed && p.covers(p.ears.ends.from, p.ears.ends.last) {
			p.heard = true
			p.note(found)
		}
	}
}

// covers reports whether an utterance that the ears found is most of the take at
// hand, and little else.
func (p *pupil) covers(from, to Samples) bool {
	long := p.to - p.from
	return 10*(min(to, p.to)-max(from, p.from)) >= 7*long && 10*(to-from) <= 15*long
}

// keep judges the steps of the network from first up to last.
func (p *pupil) keep(kind impressionKind, first, last Samples) {
	p.ears.near.net.judge(int(first), int(last))
	p.note(kind)
}

func (p *pupil) note(kind impressionKind) {
	p.out = append(p.out, impression{take: p.take, noisy: p.snr < clean, kind: kind, feature: slices.Clone(p.ears.near.net.inner)})
}

// backwards is the take from its end to its beginning.
func (t Take) backwards() Take {
	pcm := slices.Clone(t.PCM)
	slices.Reverse(pcm)
	n := Samples(len(pcm))
	return Take{Label: t.Label, PCM: pcm, From: n - t.To, To: n - t.From}
}

// paced is the take said faster, above 1, or slower, with its pitch: somebody
// else of a slightly other size.
func (t Take) paced(speed float64) Take {
	if speed == 1 {
		return t
	}
	to := newResampler(int(math.Round(Rate*speed)), Rate)
	in := make([]float64, len(t.PCM))
	for i, v := range t.PCM {
		in[i] = float64(v)
	}
	pcm := toInt16(nil, to.push(in))
	pcm = toInt16(pcm, to.flush())
	scale := func(s Samples) Samples { return min(Samples(len(pcm)), Samples(float64(s)/speed)) }
	return Take{Label: t.Label, PCM: pcm, From: scale(t.From), To: scale(t.To)}
}

// quantile is the value below which a share q of x lies. It sorts a copy.
func quantile(x []float64, q float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return s[min(len(s)-1, int(q*float64(len(s))))]
}
