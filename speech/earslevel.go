package speech

import "math"

// meter follows how loud the place and the people in it are. Levels are dBFS:
// 10 log10 of the mean square, full scale 1.
type meter struct {
	floor  float64 // of what is no speech
	speech float64 // of what is
	crowd  float64 // of all talk over the last seconds, near or far
	seen   int
	energy [meterRing]float64 // quarter frames, dBFS
	at     int                // quarter frames taken
}

const (
	quarter    = Frame / 4
	meterRing  = 4 * 400
	silence    = -90.0 // dBFS below which nothing is measured
	frameSecs  = float64(Frame) / Rate
	stepSecs   = netStride * frameSecs
	slowRise   = 1.0 // dB a second that the floor may rise under speech
	rising     = 1.0 // seconds
	falling    = 0.25
	speechFast = 0.1
	speechSlow = 1.0
	crowdSlow  = 5.0
)

// take measures one frame.
func (m *meter) take(pcm []float32) {
	for q := 0; q < Frame; q += quarter {
		var sum float64
		for _, v := range pcm[q : q+quarter] {
			sum += float64(v) * float64(v)
		}
		m.energy[m.at%meterRing] = decibels(sum / quarter)
		m.at++
	}
}

// between is the level from sample a to b, counted like the frames taken.
func (m *meter) between(a, b Samples) float64 {
	i, j := max(int(a/quarter), m.at-meterRing, 0), min(int(b/quarter), m.at)
	if j <= i {
		return silence
	}
	var sum float64
	for k := i; k < j; k++ {
		sum += math.Pow(10, m.energy[k%meterRing]/10)
	}
	return decibels(sum / float64(j-i))
}

// judge learns from a judged step of level e.
func (m *meter) judge(e float64, speech, talk bool) {
	m.seen++
	if m.seen == 1 {
		m.floor, m.speech, m.crowd = e, silence, e
	}
	slow := rising
	if e < m.floor {
		slow = falling
	}
	change := (e - m.floor) * max(stepSecs/slow, min(1, 1/float64(m.seen)))
	if talk {
		change = min(change, slowRise*stepSecs)
	}
	m.floor += change
	if talk {
		m.crowd += (e - m.crowd) * stepSecs / crowdSlow
	}
	if speech {
		if m.speech == silence {
			m.speech = e
		}
		slow := speechFast
		if e < m.speech {
			slow = speechSlow
		}
		m.speech += (e - m.speech) * stepSecs / slow
	}
}

// onset is the first sample of the speech up to to that the network saw begin
// about from: where the sound leaves the floor for good, no more than reach
// before and a quarter of it after. Sound that lies far below the speech behind
// it, such as the hiss that a recording opens with, is none of it.
func (m *meter) onset(from, to Samples) Samples {
	return m.rise(m.leave(from), to)
}

// rise is the first sample from from on of sound that is not far below the
// loudest up to to.
func (m *meter) rise(from, to Samples) Samples {
	const far, hold = 38.0, 6
	lo, hi := max(int(from/quarter), m.at-meterRing, 0), min(int(to/quarter), m.at)
	peak := silence
	for k := lo; k < hi; k++ {
		peak = max(peak, m.energy[k%meterRing])
	}
	above := 0
	for k := lo; k < hi; k++ {
		if m.energy[k%meterRing] < peak-far {
			above = 0
		} else if above++; above == hold {
			return max(from, Samples(k+1-hold)*quarter)
		}
	}
	return from
}

// leave is where the sound leaves the floor for good.
func (m *meter) leave(from Samples) Samples {
	const reach, hold = 16 * Frame, 6
	lo, hi := max(int((from-reach)/quarter), m.at-meterRing, 0), min(int((from+reach/4)/quarter), m.at-hold)
	peak := silence
	for k := lo; k < min(int((from+20*Frame)/quarter), m.at); k++ {
		peak = max(peak, m.energy[k%meterRing])
	}
	edge := max(m.floor+3.5, m.floor+0.15*(peak-m.floor), peak-45)
	for k := lo; k < hi; k++ {
		var sum float64
		above := 0
		for i := k; i < k+hold; i++ {
			v := m.energy[i%meterRing]
			sum += v
			if v >= edge {
				above++
			}
		}
		if m.energy[k%meterRing] >= edge && above >= hold-1 && sum >= hold*edge {
			return min(from, Samples(k)*quarter)
		}
	}
	return from
}

func decibels(square float64) float64 {
	return max(silence, 10*math.Log10(square+1e-12))
}
