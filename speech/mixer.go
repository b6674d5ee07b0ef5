package speech

import (
	"math"
	"sync/atomic"
)

// What a mechanic's ear can be asked to bear: a voice that starts loud by
// surprise makes a man under a load jump.
const (
	voiceCap  = 0.5  // peak of the voice, -6 dBFS
	toneCap   = 0.25 // peak of a tone, -12 dBFS, the room the lowered voice leaves
	voiceLow  = 0.5  // the voice under a tone
	fullScale = 32768

	softStart = Rate / 100      // 10 ms
	softCut   = 3 * Rate / 1000 // 3 ms
	softGain  = Rate / 50       // 20 ms
	softLow   = Rate / 200      // 5 ms

	tapeLength = Rate      // 1 s
	tapeSlack  = Rate / 5  // 200 ms
	tapeKept   = Rate / 50 // 20 ms
)

// order is what the player's goroutine wants of the audio thread.
type order struct {
	say, tone *sentence
	cut, drop bool
}

// sentence is a piece of sound on its way to the loudspeaker. The audio thread
// writes begun, over and cut, and follows next.
type sentence struct {
	id    int64
	pcm   []int16
	limit float64 // the gain at which its peak reaches the cap
	told  bool    // its beginning has been reported

	begun, over atomic.Int64 // output sample plus 1; 0 is not yet
	cut         atomic.Bool

	next *sentence
}

func (s *sentence) end(at Samples, cut bool) {
	s.cut.Store(cut)
	s.over.Store(int64(at) + 1)
}

// headroom is the gain at which the peak of pcm reaches the given share of
// full scale.
func headroom(pcm []int16, share float64) float64 {
	peak := 0.0
	for _, v := range pcm {
		peak = max(peak, math.Abs(float64(v)))
	}
	return share * fullScale / peak // +Inf for silence: no limit
}

// lane plays sentences one after the other.
type lane struct {
	first, last *sentence
	at          int // next sample of first
	fade        int // samples left of its fade-out; 0 is none
}

func (l *lane) add(s *sentence) {
	if l.first == nil {
		l.first = s
	} else {
		l.last.next = s
	}
	l.last = s
}

// cut lets the sentence that is sounding fade and drops the rest.
func (l *lane) cut(now Samples) {
	l.drop(now)
	if l.first != nil && l.fade == 0 {
		l.fade = softCut
	}
}

// drop drops the sentences behind the one that is sounding.
func (l *lane) drop(now Samples) {
	if l.first == nil {
		return
	}
	waiting := l.first
	if l.at > 0 {
		waiting = l.first.next
		l.first.next, l.last = nil, l.first
	} else {
		l.first, l.last = nil, nil
	}
	for ; waiting != nil; waiting = waiting.next {
		waiting.end(now, true)
	}
}

// sample is the lane's next sample, played at output sample now.
func (l *lane) sample(now Samples, gain float64) float64 {
	for l.first != nil && len(l.first.pcm) == 0 {
		l.first.begun.Store(int64(now) + 1)
		l.pass(now)
	}
	s := l.first
	if s == nil {
		return 0
	}
	if l.at == 0 {
		s.begun.Store(int64(now) + 1)
	}
	v := float64(s.pcm[l.at]) * min(gain, s.limit)
	l.at++
	if l.at < softStart {
		v *= float64(l.at) / softStart
	}
	cut := l.fade > 0
	if cut {
		l.fade--
		v *= float64(l.fade) / softCut
	}
	if l.at == len(s.pcm) || (cut && l.fade == 0) {
		s.cut.Store(cut)
		l.pass(now + 1)
	}
	return v
}

// pass ends the first sentence at output sample now and turns to the next.
func (l *lane) pass(now Samples) {
	s := l.first
	l.first, l.at, l.fade = s.next, 0, 0
	s.end(now, s.cut.Load())
}

// mixer belongs to the audio thread.
type mixer struct {
	now         Samples // output samples so far
	voice, tone lane

	gain, target, step float64 // volume, where it is going and by how much a sample
	low                float64 // 1 for the voice alone, voiceLow under a tone
}

func (m *mixer) obey(o order) {
	switch {
	case o.say != nil:
		m.voice.add(o.say)
	case o.tone != nil:
		m.tone.cut(m.now)
		m.tone.add(o.tone)
	case o.drop:
		m.voice.drop(m.now)
	case o.cut:
		m.voice.cut(m.now)
	}
}

func (m *mixer) mix(out []int16, volume float64) {
	if volume != m.target {
		m.target, m.step = volume, (volume-m.gain)/softGain
	}
	const lower = (1 - voiceLow) / softLow
	for i := range out {
		if m.gain != m.target {
			m.gain += m.step
			if (m.step > 0) == (m.gain > m.target) {
				m.gain = m.target
			}
		}
		if m.tone.first != nil {
			m.low = max(voiceLow, m.low-lower)
		} else {
			m.low = min(1, m.low+lower)
		}
		v := m.voice.sample(m.now, m.gain)*m.low + m.tone.sample(m.now, m.gain)
		out[i] = int16(math.Round(max(-voiceCap*fullScale, min(voiceCap*fullScale, v))))
		m.now++
	}
}
