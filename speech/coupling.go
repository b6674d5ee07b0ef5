package speech

import "math"

// coupling bounds from above how much of what is played the microphone can
// hear, as a ratio of energies. Whatever the delay up to the filter's length,
// what was played between one second ago and that length ago has come back by
// now: so the microphone's energy over the second, all other sound included,
// over the energy played then is such a bound. The least of the last seconds
// counts. A headset shows itself in the first quiet second.
type coupling struct {
	least, before float64 // of this spell of voice and the one before; 0 while nothing is known
	voiced        int     // blocks of this spell
}

const (
	couplingWindow = 100 // blocks
	couplingSpell  = 400 // blocks of voice after which an older bound is forgotten: somebody may have turned a knob
)

// most is the most energy that the echo can have in the newest block, infinite
// while nothing is known.
func (c *canceller) most() float64 {
	var mic, played, loudest float64
	for d := range min(couplingWindow, c.blocks) {
		slot := (c.blocks - d) % echoHistory
		mic += c.mics[slot]
		if d >= echoBlocks {
			played += c.plays[slot]
		} else {
			loudest = max(loudest, c.plays[slot])
		}
	}
	if c.blocks >= couplingWindow && played > echoLoud*(couplingWindow-echoBlocks) {
		c.coupled.take(mic / played)
	}
	if loudest == 0 {
		return 0
	}
	return c.coupled.bound() * loudest
}

// take learns one ratio.
func (c *coupling) take(ratio float64) {
	if c.voiced++; c.voiced > couplingSpell {
		c.before, c.least, c.voiced = c.least, 0, 1
	}
	if c.least == 0 || ratio < c.least {
		c.least = ratio
	}
}

func (c *coupling) bound() float64 {
	switch {
	case c.least == 0 && c.before == 0:
		return math.Inf(1)
	case c.before == 0:
		return c.least
	case c.least == 0:
		return c.before
	}
	return min(c.least, c.before)
}
