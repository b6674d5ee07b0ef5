package speech

import (
	"math"
	"slices"
	"unicode"
)

// decide turns an utterance into what was heard.
func (e *Ears) decide(u utterance, busy bool) {
	const length = netStride * Frame
	if e.echo.unsettled() && e.echo.residue(u.from-e.read, u.to-u.from, math.Pow(10, e.levels.floor/10)) {
		return
	}
	h := Heard{From: e.zero + e.levels.onset(u.from, u.to), To: e.zero + u.to, At: e.zero + e.read}
	first, last := int((u.from-5*Frame)/length), e.near.net.step
	if !u.over || !u.alone {
		if !u.early {
			h.Nearest, _ = e.nearest(e.weigh(e.near.net.judge(first, last)))
			e.heard = append(e.heard, h)
		}
		return
	}
	act := e.enough(u)
	if busy {
		act = max(act, e.cfg.TalkAct)
	}
	echoed := e.echo.present(u.from-e.read, u.to-u.from)
	if echoed {
		if e.residue.share(int((e.read-u.from)/Frame), int((e.read-u.to)/Frame)) < e.cfg.OverClear {
			return
		}
		act = max(act, e.cfg.OverVoice)
		if u.to-u.from < SamplesIn(e.cfg.OverShort) {
			act = max(act, e.cfg.OverShortVoice)
		}
	}
	if e.nums && e.numbers(u, h, first, last, act) {
		return
	}
	p := e.weigh(e.near.net.judge(first, last))
	var best int
	if h.Nearest, best = e.nearest(p); best < 0 {
		e.heard = append(e.heard, h)
		return
	}
	h.Score = float64(p[best])
	act = max(act, e.acts[best])
	if echoed && h.Score < act {
		return
	}
	if u.early {
		if e.k.isNumber(e.k.classes[best]) && h.Score >= act && !(echoed && e.said(best, first, last)) {
			h.Label, h.Sure = e.k.classes[best], true
			e.ends.settle()
			e.heard = append(e.heard, h)
		}
		return
	}
	if h.Score >= max(e.cfg.Ask, act-e.cfg.Doubt) && !e.hasty(best, u) {
		if echoed && e.said(best, first, last) {
			return
		}
		h.Label, h.Sure = e.k.classes[best], h.Score >= act
	}
	e.heard = append(e.heard, h)
}

// enough is the score from which an utterance is obeyed: more, the less it
// stands out of the noise, because noise makes other words look like phrases.
func (e *Ears) enough(u utterance) float64 {
	const quiet, loud = 25, 3.5 // dB of speech with its noise above the noise alone; 3 dB: as loud as each other
	stands := e.levels.between(u.from, u.to) - e.levels.floor
	noisy := min(1, max(0, (quiet-stands)/(quiet-loud)))
	return (1-noisy)*e.cfg.Act + noisy*max(e.cfg.Act, e.cfg.Noisy)
}

// hasty reports whether an utterance is too short for the phrase: a blow of a
// hammer is no "where am i". Of phrases heard right, 99 in 100 took longer than
// this for each letter.
func (e *Ears) hasty(class int, u utterance) bool {
	const letter = Rate * 28 / 1000
	letters := 0
	for _, c := range e.k.classes[class] {
		if unicode.IsLetter(c) {
			letters++
		}
	}
	return u.to-u.from < Samples(letters*letter)
}

// weigh turns the chances of all classes into those of the phrases alone, the
// rest weighed by cfg.Rest: training hears more of it than a shop will.
func (e *Ears) weigh(p []float32) []float32 {
	weighPhrases(p, e.k.labels, e.cfg.Rest)
	return p
}

// said reports whether our own voice said the phrase then, at any delay that
// a loudspeaker may have.
func (e *Ears) said(class, first, last int) bool {
	const (
		enough = 0.05
		steps  = 18 // 360 ms
		ahead  = 12 // of the word: its beginning may be gone
	)
	if e.mine < 0 {
		return false
	}
	for d := 0; d <= steps; d += 3 {
		for _, early := range [2]int{0, ahead} {
			from, to := first-early-d-e.mine, last-d-e.mine
			if to > 0 && e.own.net.judge(from, to)[class] >= enough {
				return true
			}
		}
	}
	return false
}

// numbers reads numbers spoken in one breath, two or more of them, from the
// digit head. It reports whether it did; fewer are left to the phrase head.
func (e *Ears) numbers(u utterance, h Heard, first, last int, act float64) bool {
	const length = netStride * Frame
	var read [16]digit
	n, sure := e.near.net.readDigits(read[:], first, last)
	if n < 2 || sure < e.cfg.Ask {
		return false
	}
	for i, d := range read[:n] {
		class := slices.Index(e.k.classes, e.k.digits[d.class])
		if class < 0 || !e.live[class] || e.said(class, first, last) {
			return false
		}
		h.Label, h.Score, h.Sure = e.k.classes[class], d.score, sure >= act
		h.Nearest = h.Label
		if i > 0 {
			h.From = h.To
		}
		h.To = e.zero + u.to
		if i+1 < n {
			h.To = min(h.To, max(h.From, e.zero+Samples(d.last-e.k.delay/netStride)*length))
		}
		e.heard = append(e.heard, h)
	}
	if u.early {
		e.ends.settle()
	}
	return true
}
