package speech

import (
	"errors"
	"fmt"
	"time"
)

// Check says everything that is wrong with c, or nil.
func (c EarsConfig) Check() error {
	var errs []error
	wrong := func(bad bool, format string, args ...any) {
		if bad {
			errs = append(errs, fmt.Errorf("ears: "+format, args...))
		}
	}
	for name, d := range map[string]time.Duration{"before": c.Before, "after": c.After, "number gap": c.NumberGap} {
		wrong(d < 20*time.Millisecond || d > 2*time.Second, "%s: %s: choose from 20ms to 2s", name, d)
	}
	wrong(c.Longest < 500*time.Millisecond || c.Longest > 2400*time.Millisecond, "longest: %s: choose from 500ms to 2.4s", c.Longest)
	wrong(c.Ask < 0 || c.Ask > c.Act || c.Act > 1, "ask %g and act %g: choose 0 <= ask <= act <= 1", c.Ask, c.Act)
	wrong(c.Doubt < 0 || c.Doubt > 1, "doubt %g: choose from 0 to 1", c.Doubt)
	wrong(c.Noisy < 0 || c.Noisy > 1, "noisy %g: choose from 0 to 1", c.Noisy)
	wrong(c.Careful < c.Act || c.Careful > 1, "careful %g: choose from act, %g, to 1", c.Careful, c.Act)
	wrong(c.Seed == 0, "seed: 0 is none")
	return errors.Join(errs...)
}

// Speaking reports whether somebody is heard speaking, as of the latest block.
func (e *Ears) Speaking() bool { return e.active }

// Reset forgets what was heard: the next block is the first of another stream. What is live stays so.
func (e *Ears) Reset() {
	fresh, err := NewEars(e.cfg)
	if err != nil {
		return // the weights were read once already
	}
	if fresh.tune(e.tuning) != nil {
		return
	}
	copy(fresh.live, e.live)
	fresh.nums = e.nums
	*e = *fresh
}
