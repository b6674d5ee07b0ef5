package speech

import "time"

const (
	lateBy   = 15 * time.Millisecond  // later than that is a delay or a hole
	lateFor  = 150 * time.Millisecond // a delay is made up for sooner than that
	holeMost = 10 * time.Second       // a longer hole is not filled: the machine slept

	paceSettles = time.Second // base is not yet known well before that
	paceUp      = 5000        // one part in so many: base rises, a device's clock being slow
	paceDown    = 100         // and falls, to the least delay seen
)

// mark tells of one delivery of a device.
type mark struct {
	arrived time.Duration // CLOCK_BOOTTIME
	samples int           // delivered
	dropped int           // delivered just before, and dropped since nobody read
}

// pace finds out what a device lost without saying how much, or at all. It
// holds the count of samples against the time at which they arrive: what is
// late for good was lost. PortAudio's own time of the first sample is no help;
// through PulseAudio it wanders by more than half a second after the start,
// whereas the soonest of a few arrivals is good to some milliseconds.
//
// A delivery that is late is held back until one in time shows that it was
// only delayed, or lateFor has passed and the soonest of those held tells the
// size of the hole.
type pace struct {
	rate  int
	count int64         // samples until here, holes included
	base  time.Duration // when sample 0 would have arrived, without delay
	began time.Duration
	last  time.Duration

	held  []mark
	ahead int64         // samples in held
	least time.Duration // lateness of the soonest in held
}

// arrive takes in a delivery. It returns the deliveries that may be read now,
// valid until the next call, and how many samples were lost before the first
// of them.
func (p *pace) arrive(m mark) (lost int64, ready []mark) {
	n := int64(m.samples + m.dropped)
	if p.count == 0 && len(p.held) == 0 {
		p.began, p.last = m.arrived, m.arrived
		p.base = m.arrived - p.lasts(n)
	}
	if len(p.held) == 0 {
		p.ahead = 0
	}
	p.ahead += n
	late := m.arrived - p.base - p.lasts(p.count+p.ahead)
	if len(p.held) == 0 || late < p.least {
		p.least = late
	}
	p.held = append(p.held, m)
	if p.least > lateBy {
		if m.arrived-p.held[0].arrived < lateFor {
			return 0, nil
		}
		lost = int64(p.least) * int64(p.rate) / int64(time.Second)
	}
	ready = p.held
	p.held = p.held[:0]
	p.count += lost + p.ahead
	p.follow(m.arrived, m.arrived-p.base-p.lasts(p.count))
	return lost, ready
}

// follow lets base follow the device's clock, which is some parts in a million
// fast or slow.
func (p *pace) follow(now, late time.Duration) {
	since := now - p.last
	p.last = now
	switch {
	case late < 0 && now-p.began < paceSettles:
		p.base += late
	case late < 0:
		p.base += max(late, -since/paceDown)
	default:
		p.base += min(late, since/paceUp)
	}
}

// lasts is the time that n samples of the device last.
func (p *pace) lasts(n int64) time.Duration {
	rate := int64(p.rate)
	return time.Duration(n/rate)*time.Second + time.Duration(n%rate)*time.Second/time.Duration(rate)
}
