package speech

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// recordingDevice is a device with a clock of its own, whose deliveries come late
// now and then and lose samples.
type recordingDevice struct {
	rate  int
	ppm   float64
	count int64 // samples recorded, lost ones included
}

// next records n samples, of which the first lost ones are gone, and returns
// the time at which the last was recorded.
func (d *recordingDevice) next(n, lost int64) time.Duration {
	d.count += n + lost
	return 5*time.Hour + time.Duration(float64(d.count)/float64(d.rate)*(1+d.ppm/1e6)*float64(time.Second))
}

// Whatever is lost, however late deliveries come and whatever the sound server
// keeps back, the count is within 20 ms of what the device recorded. The device
// owns up to a hole, or the hole is longer than what a server may keep back.
func TestPaceKeepsTheCountRight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.SampledFrom([]int{16000, 44100, 48000}).Draw(t, "rate")
		d := &recordingDevice{rate: rate, ppm: rapid.Float64Range(-100, 100).Draw(t, "ppm")}
		p := &pace{rate: rate}
		n := int64(rate / 100)
		var read int64
		var free, kept time.Duration // deliveries queue behind a late one
		quiet := 250
		for range rapid.IntRange(1000, 4000).Draw(t, "deliveries") {
			var lost int64
			m := mark{samples: int(n)}
			late := time.Duration(rapid.IntRange(0, 2000).Draw(t, "jitter")) * time.Microsecond
			if quiet--; quiet < 0 {
				quiet = 250
				switch rapid.IntRange(0, 3).Draw(t, "event") {
				case 0:
					late = time.Duration(rapid.IntRange(1, 1500).Draw(t, "delay")) * time.Millisecond
				case 1:
					m.overflow = true
					lost = int64(rapid.IntRange(1, 9*rate).Draw(t, "lost"))
				case 2:
					lost = int64(rapid.IntRange(rate/4, 9*rate).Draw(t, "lost"))
				case 3:
					kept = time.Duration(rapid.IntRange(0, 190).Draw(t, "kept back")) * time.Millisecond
				}
			}
			m.arrived = max(d.next(n, lost)+kept+late, free)
			free = m.arrived + 20*time.Microsecond
			hole, ready := p.arrive(m)
			read += hole
			for _, m := range ready {
				read += int64(m.samples)
			}
			if read != p.count {
				t.Fatalf("%d samples read, %d counted", read, p.count)
			}
			if len(p.held) > 0 {
				continue // nothing is read meanwhile
			}
			off := time.Duration(read-d.count) * time.Second / time.Duration(rate)
			if off > 20*time.Millisecond || off < -20*time.Millisecond {
				t.Fatalf("the count is off by %v after %d samples", off, d.count)
			}
		}
	})
}

func TestPaceTellsADelayFromAHole(t *testing.T) {
	d := &recordingDevice{rate: 16000}
	p := &pace{rate: 16000}
	for range 200 {
		if lost, ready := p.arrive(mark{arrived: d.next(160, 0), samples: 160}); lost != 0 || len(ready) != 1 {
			t.Fatalf("in time: %d lost, %d ready", lost, len(ready))
		}
	}
	// A delay of 100 ms: ten deliveries at once, none lost, none held long.
	var burst []mark
	for range 10 {
		burst = append(burst, mark{samples: 160})
		d.next(160, 0)
	}
	now := d.next(0, 0)
	ready := 0
	for _, m := range burst {
		m.arrived = now
		lost, r := p.arrive(m)
		ready += len(r)
		if lost != 0 {
			t.Fatalf("a delay taken for a hole of %d", lost)
		}
	}
	if ready != 10 {
		t.Errorf("%d of 10 ready after the burst", ready)
	}
	// A hole of 0.5 s: what follows is held until it is sure, then comes after
	// the hole.
	hole, held := int64(8000), 0
	for {
		lost, r := p.arrive(mark{arrived: d.next(160, hole), samples: 160})
		hole = 0
		held++
		if r == nil {
			continue
		}
		if lost < 8000-160 || lost > 8000+160 {
			t.Errorf("%d samples lost, want 8000", lost)
		}
		if len(r) != held || held > 52 {
			t.Errorf("%d of %d deliveries ready", len(r), held)
		}
		break
	}
}

// A day's work with a clock that is 100 parts in a million off: the anchor
// keeps up with it.
func TestPaceFollowsTheDevicesClock(t *testing.T) {
	for _, ppm := range []float64{-100, 100} {
		d := &recordingDevice{rate: 16000, ppm: ppm}
		p := &pace{rate: 16000}
		for range 8 * 3600 * 100 {
			arrived := d.next(160, 0)
			if lost, _ := p.arrive(mark{arrived: arrived, samples: 160}); lost != 0 {
				t.Fatalf("%v ppm: %d samples lost", ppm, lost)
			}
			if off := p.anchor + p.lasts(p.count) - arrived; off > 5*time.Millisecond || off < -5*time.Millisecond {
				t.Fatalf("%v ppm: the anchor is off by %v", ppm, off)
			}
		}
	}
}
