package speech

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync/atomic"
	"time"

	"github.com/gordonklaus/portaudio"
)

// micStore is how much sound waits for a slow reader, in seconds.
const micStore = 2

// Microphone is a recording device as a [Source]. Its count of samples goes on
// through whatever the device or a slow reader loses: the hole is filled with
// silence, marked in [Block.Missing], and the count is right to 20 ms after it.
type Microphone struct {
	host   *Host
	stream *portaudio.Stream
	name   string
	anchor atomic.Int64 // time.Duration
	closed atomic.Bool

	// From the audio thread to the reader.
	pcm   *ring[int16]
	marks *ring[mark]
	wake  *wake

	// The audio thread's, since the last mark.
	dropped  int
	overflow bool
	next     [1]mark

	// The reader's.
	pace    pace
	to      *resampler
	in      []float64
	raw     []int16
	ready   []int16
	taken   int // of ready
	at      Samples
	gaps    []gap
	lost    error
	started bool
}

// gap is a hole in the sound, in samples of the device.
type gap struct{ from, to int64 }

func startMicrophone(h *Host, name string, p portaudio.StreamParameters) (*Microphone, error) {
	w, err := newWake()
	if err != nil {
		return nil, err
	}
	rate := int(p.SampleRate)
	m := &Microphone{
		host: h, name: name, wake: w,
		pcm: newRing[int16](micStore * rate), marks: newRing[mark](micStore * 1000),
		pace: pace{rate: rate}, to: newResampler(rate, Rate),
		in: make([]float64, rate/100), raw: make([]int16, rate/100),
	}
	if m.stream, err = startStream(p, m.record); err != nil {
		w.close()
		return nil, err
	}
	return m, nil
}

// record runs on the audio thread.
func (m *Microphone) record(in []int16, _ portaudio.StreamCallbackTimeInfo, flags portaudio.StreamCallbackFlags) {
	m.overflow = m.overflow || flags&portaudio.InputOverflow != 0
	if m.pcm.room() < len(in) || m.marks.room() == 0 {
		m.dropped += len(in)
		return
	}
	m.pcm.write(in)
	m.next[0] = mark{arrived: Boottime(), samples: len(in), dropped: m.dropped, overflow: m.overflow}
	m.marks.write(m.next[:])
	m.dropped, m.overflow = 0, false
	m.wake.up()
}

// Name is the device's name.
func (m *Microphone) Name() string { return m.name }

// Read implements [Source].
func (m *Microphone) Read() (Block, error) {
	m.ready = m.ready[:copy(m.ready, m.ready[m.taken:])]
	m.taken = 0
	for m.lost == nil && len(m.ready) < Frame {
		if m.lost = m.more(); m.lost != nil {
			m.Close()
		}
	}
	if m.lost != nil {
		return Block{}, m.lost
	}
	m.taken = Frame
	b := Block{At: m.at, PCM: m.ready[:Frame], Missing: m.missing(m.at, m.at+Frame)}
	m.at += Frame
	return b, nil
}

// more waits for a delivery and makes it ready.
func (m *Microphone) more() error {
	limit := soundLimit
	if !m.started {
		limit = firstSound
	}
	var next [1]mark
	for silent := time.Duration(0); !m.closed.Load() && m.marks.read(next[:]) == 0; {
		if silent >= limit {
			return fmt.Errorf("%w: microphone %q gives no sound for %v: look at its plug, or at the sound server", ErrDeviceLost, m.name, limit)
		}
		if errors.Is(m.wake.wait(look), os.ErrDeadlineExceeded) {
			silent += look
		}
	}
	if m.closed.Load() {
		return fmt.Errorf("%w: microphone %q was closed", ErrDeviceLost, m.name)
	}
	m.started = true
	from := m.pace.count
	lost, ready := m.pace.arrive(next[0])
	if m.pace.lasts(lost) > holeMost {
		return fmt.Errorf("%w: microphone %q stood still for %v, as in standby", ErrDeviceLost, m.name, m.pace.lasts(lost).Round(time.Second))
	}
	m.anchor.Store(int64(m.pace.anchor))
	for _, k := range ready {
		from += m.silence(from, lost+int64(k.dropped))
		from += m.sound(k.samples)
		lost = 0
	}
	return nil
}

// silence makes n samples of silence ready in the place of what was lost from
// the given sample of the device on.
func (m *Microphone) silence(from, n int64) int64 {
	if n > 0 {
		m.gaps = append(m.gaps, gap{from, from + n})
	}
	clear(m.in)
	for left := n; left > 0; left -= int64(len(m.in)) {
		m.push(m.in[:min(left, int64(len(m.in)))])
	}
	return n
}

// sound makes the next n recorded samples ready.
func (m *Microphone) sound(n int) int64 {
	for left := n; left > 0; {
		k := m.pcm.read(m.raw[:min(left, len(m.raw))])
		for i, v := range m.raw[:k] {
			m.in[i] = float64(v)
		}
		m.push(m.in[:k])
		left -= k
	}
	return int64(n)
}

func (m *Microphone) push(in []float64) { m.ready = toInt16(m.ready, m.to.push(in)) }

// missing is how many of the samples between two were filled in.
func (m *Microphone) missing(from, to Samples) int {
	n := Samples(0)
	kept := m.gaps[:0]
	for _, g := range m.gaps {
		rate := int64(m.pace.rate)
		a, b := Samples(g.from*Rate/rate), Samples(g.to*Rate/rate)
		n += max(0, min(b, to)-max(a, from))
		if b > to {
			kept = append(kept, g)
		}
	}
	m.gaps = kept
	return int(n)
}

// Anchor implements [Source]. Sound is stamped as it reaches the program, some
// 10 to 50 ms after it was in the air. A device's clock runs some parts in a million
// fast or slow; the anchor follows it, so that Anchor plus the time of a sample
// just read stays right all day.
func (m *Microphone) Anchor() time.Duration { return time.Duration(m.anchor.Load()) }

// Close implements [Source]. A device that hangs is left behind with ErrStuck,
// and closing can be tried again.
func (m *Microphone) Close() error {
	if !m.closed.Swap(true) {
		m.wake.up()
	}
	return m.host.call("close the microphone", closingLimit, func(context.Context) error {
		if m.host.mic != m {
			return nil
		}
		m.host.mic = nil
		return m.shut()
	})
}

// shut ends the audio thread and lets go of what it used. It runs with the
// host's token.
func (m *Microphone) shut() error {
	m.closed.Store(true)
	err := m.host.stop(m.stream)
	m.wake.close()
	return err
}
