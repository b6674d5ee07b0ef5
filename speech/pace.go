package speech

import (
	"math"
	"time"
)

const (
	// A delivery that is late by more may follow a hole: one that the device
	// owns up to, or one that it does not. Without that, a sound server that
	// has begun to keep more sound back, or a machine with too much to do, looks
	// the same.
	lateFlagged   = 5 * time.Millisecond
	lateUnflagged = 200 * time.Millisecond

	// A delay is made up for sooner than that.
	sureFlagged   = 150 * time.Millisecond
	sureUnflagged = 500 * time.Millisecond

	holeMost = 10 * time.Second // a longer hole is not filled: the machine slept

	soonestFor = time.Second // how long the soonest delivery counts, at least
	paceTurn   = 200         // the anchor moves by one part in so many at most
)

// mark tells of one delivery of a device.
type mark struct {
	arrived  time.Duration // CLOCK_BOOTTIME
	samples  int           // delivered
	dropped  int           // delivered just before, and dropped since nobody read
	overflow bool          // the device says that it lost some before
}

// pace finds out what a device lost, which it may say, but not how much. It
// holds the count of samples against the time at which they arrive: what is
// late for good was lost. PortAudio's own time of the first sample is no help;
// through PulseAudio it wanders by more than half a second after the start,
// whereas the soonest of a few arrivals is good to some milliseconds.
//
// A delivery that is late is held back until one in time shows that it was
// only delayed, or time enough has passed that the soonest of those held tells
// the size of the hole.
type pace struct {
	rate   int
	count  int64         // samples until here, holes included
	anchor time.Duration // CLOCK_BOOTTIME of sample 0, as the device's clock goes now
	last   time.Duration // arrival of the last delivery read

	soonest [2]time.Duration // when sample 0 would have arrived, by the soonest delivery of this second and the one before
	turned  time.Duration    // when this second began

	held    []mark
	ahead   int64         // samples in held
	least   time.Duration // lateness of the soonest in held
	flagged bool          // one in held has an overflow
}

// arrive takes in a delivery. It returns the deliveries that may be read now,
// valid until the next call, and how many samples were lost before the first
// of them.
func (p *pace) arrive(m mark) (lost int64, ready []mark) {
	n := int64(m.samples + m.dropped)
	if p.count == 0 && len(p.held) == 0 {
		p.anchor = m.arrived - p.lasts(n)
		p.soonest = [2]time.Duration{p.anchor, p.anchor}
		p.last, p.turned = m.arrived, m.arrived
	}
	if len(p.held) == 0 {
		p.ahead, p.least, p.flagged = 0, math.MaxInt64, false
	}
	p.held = append(p.held, m)
	p.ahead += n
	p.least = min(p.least, m.arrived-min(p.soonest[0], p.soonest[1])-p.lasts(p.count+p.ahead))
	p.flagged = p.flagged || m.overflow
	allowed, sure := lateUnflagged, sureUnflagged
	if p.flagged {
		allowed, sure = lateFlagged, sureFlagged
	}
	if p.least > allowed {
		if m.arrived-p.held[0].arrived < sure {
			return 0, nil
		}
		lost = int64(p.least) * int64(p.rate) / int64(time.Second)
	}
	ready = p.held
	p.held = p.held[:0]
	p.count += lost + p.ahead
	p.follow(m.arrived)
	return lost, ready
}

// follow learns from a delivery that arrived at the given time and is read. The
// anchor follows slowly, so that time never goes backwards.
func (p *pace) follow(arrived time.Duration) {
	if arrived-p.turned > soonestFor {
		p.soonest = [2]time.Duration{math.MaxInt64, p.soonest[0]}
		p.turned = arrived
	}
	p.soonest[0] = min(p.soonest[0], arrived-p.lasts(p.count))
	step := (arrived - p.last) / paceTurn
	p.anchor += max(-step, min(step, min(p.soonest[0], p.soonest[1])-p.anchor))
	p.last = arrived
}

// lasts is the time that n samples of the device last.
func (p *pace) lasts(n int64) time.Duration {
	rate := int64(p.rate)
	return time.Duration(n/rate)*time.Second + time.Duration(n%rate)*time.Second/time.Duration(rate)
}
