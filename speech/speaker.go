package speech

import (
	"context"
	"fmt"
	"sync/atomic"
	"time"

	"github.com/gordonklaus/portaudio"
)

// speakerAhead is how much resampled sound waits for the audio thread.
const speakerAhead = 30 * time.Millisecond

// Speaker is a playing device as a [Sink]. Its audio thread pulls the feed.
// Where the device does not run at [Rate], a goroutine pulls and resamples a
// little ahead of the audio thread.
type Speaker struct {
	host    *Host
	stream  *portaudio.Stream
	name    string
	feed    Feed
	latency time.Duration
	delay   atomic.Int64 // time.Duration from the audio thread to the air, as it says itself
	pulls   atomic.Int64 // by the audio thread
	closed  atomic.Bool

	// Of the goroutine that calls Advance.
	seen   int64         // pulls at the last call
	looked time.Duration // CLOCK_BOOTTIME of the last call
	silent time.Duration // since the last pull, standstills left out

	// Where the device has its own rate.
	pcm   *ring[int16] // nil otherwise
	to    *resampler
	store int // samples to keep in pcm
	wake  *wake
	ended chan struct{}
}

func startSpeaker(h *Host, name string, p portaudio.StreamParameters, feed Feed) (*Speaker, error) {
	s := &Speaker{host: h, name: name, feed: feed, looked: Boottime()}
	callback := s.play
	if rate := int(p.SampleRate); rate != Rate {
		var err error
		if s.wake, err = newWake(); err != nil {
			return nil, err
		}
		s.pcm, s.to, s.store = newRing[int16](rate), newResampler(Rate, rate), int(speakerAhead.Milliseconds())*rate/1000
		s.ended = make(chan struct{})
		go s.resample()
		callback = s.playResampled
	}
	var err error
	if s.stream, err = startStream(p, callback); err != nil {
		s.rest()
		return nil, err
	}
	s.latency = s.stream.Info().OutputLatency
	return s, nil
}

// play runs on the audio thread.
func (s *Speaker) play(out []int16, t portaudio.StreamCallbackTimeInfo) {
	s.feed.Pull(out)
	s.alive(t)
}

// playResampled runs on the audio thread.
func (s *Speaker) playResampled(out []int16, t portaudio.StreamCallbackTimeInfo) {
	clear(out[s.pcm.read(out):])
	s.wake.up()
	s.alive(t)
}

func (s *Speaker) alive(t portaudio.StreamCallbackTimeInfo) {
	s.delay.Store(int64(t.OutputBufferDacTime - t.CurrentTime))
	s.pulls.Add(1)
}

// resample keeps the store filled until the speaker is closed.
func (s *Speaker) resample() {
	defer close(s.ended)
	var block [Frame]int16
	var in [Frame]float64
	var out []int16
	for !s.closed.Load() {
		for s.pcm.len() < s.store {
			s.feed.Pull(block[:])
			for i, v := range block {
				in[i] = float64(v)
			}
			out = toInt16(out[:0], s.to.push(in[:]))
			s.pcm.write(out)
		}
		_ = s.wake.wait(soundLimit)
	}
}

// Name is the device's name.
func (s *Speaker) Name() string { return s.name }

// Advance implements [Sink]: it waits for nothing. One goroutine calls it.
func (s *Speaker) Advance(Samples) error {
	if s.closed.Load() {
		return fmt.Errorf("%w: loudspeaker %q was closed", ErrDeviceLost, s.name)
	}
	now, pulls := Boottime(), s.pulls.Load()
	s.silent += min(now-s.looked, look)
	if pulls > s.seen {
		s.silent = 0
	}
	s.looked, s.seen = now, pulls
	limit := soundLimit
	if pulls == 0 {
		limit = firstSound
	}
	if s.silent <= limit {
		return nil
	}
	s.Close()
	return fmt.Errorf("%w: loudspeaker %q takes no sound for %v: look at its plug, or at the sound server", ErrDeviceLost, s.name, limit)
}

// Latency implements [Sink]: what the device itself says, which changes by
// some milliseconds while it plays.
func (s *Speaker) Latency() time.Duration {
	d := time.Duration(s.delay.Load())
	if d <= 0 || d > time.Second {
		d = s.latency
	}
	if s.pcm != nil {
		d += speakerAhead
	}
	return d
}

// Close implements [Sink]. What is still in the device is not played. A device
// that hangs is left behind with ErrStuck, and closing can be tried again.
func (s *Speaker) Close() error {
	s.closed.Store(true)
	return s.host.call("close the loudspeaker", closingLimit, func(context.Context) error {
		if s.host.speaker != s {
			return nil
		}
		s.host.speaker = nil
		return s.shut()
	})
}

// shut ends the audio thread and lets go of what it used. It runs with the
// host's token.
func (s *Speaker) shut() error {
	err := s.host.stop(s.stream)
	s.rest()
	return err
}

// rest ends the goroutine that resamples, once no audio thread reads from it.
func (s *Speaker) rest() {
	s.closed.Store(true)
	if s.pcm != nil {
		s.wake.up()
		<-s.ended
		s.wake.close()
	}
}
