package speech_test

import (
	"errors"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"stepcaller/speech"
	"stepcaller/speech/soundtest"
)

// sourceKeepsItsContract is what every source is held to. open returns one that
// has at least a second of sound.
func sourceKeepsItsContract(t *testing.T, open func(t *testing.T) speech.Source) {
	t.Run("blocks follow each other", func(t *testing.T) {
		s := open(t)
		defer s.Close()
		for n := range speech.Samples(60) {
			b, err := s.Read()
			if err != nil {
				t.Fatal(err)
			}
			if b.At != n*speech.Frame || len(b.PCM) != speech.Frame || b.Missing < 0 || b.Missing > speech.Frame {
				t.Fatalf("block %d: %d samples at %d, %d missing", n, len(b.PCM), b.At, b.Missing)
			}
			if s.Anchor() <= 0 || s.Anchor() > speech.Boottime() {
				t.Fatalf("block %d: anchor %v at %v", n, s.Anchor(), speech.Boottime())
			}
		}
	})
	t.Run("a closed source is lost", func(t *testing.T) {
		s := open(t)
		if _, err := s.Read(); err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(s.Close(), s.Close()); err != nil {
			t.Errorf("closing twice: %v", err)
		}
		for range 2 {
			if b, err := s.Read(); !errors.Is(err, speech.ErrDeviceLost) || b.PCM != nil {
				t.Errorf("reading on: a block of %d and %v", len(b.PCM), err)
			}
		}
	})
	t.Run("it is closed under the reader", func(t *testing.T) {
		s := open(t)
		begun, ended := make(chan struct{}), make(chan error)
		go func() {
			_, err := s.Read()
			close(begun)
			for err == nil {
				_, err = s.Read()
			}
			ended <- err
		}()
		<-begun
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		select {
		case <-ended: // a file may have ended by itself
		case <-time.After(patience):
			t.Error("the reader still waits")
		}
	})
}

// sinkKeepsItsContract is what every sink is held to.
func sinkKeepsItsContract(t *testing.T, open func(t *testing.T, f speech.Feed) speech.Sink) {
	feed := &counter{}
	s := open(t, feed)
	for limit := time.Now().Add(patience); feed.pulled.Load() < speech.Rate/2; {
		if err := s.Advance(speech.Frame); err != nil {
			t.Fatal(err)
		}
		if time.Now().After(limit) {
			t.Fatalf("%d samples pulled", feed.pulled.Load())
		}
	}
	if s.Latency() < 0 || s.Latency() > time.Second {
		t.Errorf("latency %v", s.Latency())
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	pulled := feed.pulled.Load()
	if err := s.Close(); err != nil {
		t.Errorf("closing again: %v", err)
	}
	if err := s.Advance(speech.Frame); err == nil {
		t.Error("a closed sink goes on")
	}
	if now := feed.pulled.Load(); now != pulled {
		t.Errorf("%d samples pulled after it was closed", now-pulled)
	}
}

// counter is a feed that counts what is pulled.
type counter struct{ pulled atomic.Int64 }

func (c *counter) Pull(out []int16) {
	clear(out)
	c.pulled.Add(int64(len(out)))
}

func TestTrackKeepsTheContractOfSources(t *testing.T) {
	path := writeWAV(t, mains(2*44100, 44100), 44100, 16, 2)
	sourceKeepsItsContract(t, func(t *testing.T) speech.Source {
		s, err := speech.OpenTrack(path, time.Millisecond)
		if err != nil {
			t.Fatal(err)
		}
		return s
	})
}

func TestMicrophoneKeepsTheContractOfSources(t *testing.T) {
	soundtest.Start(t)
	h := newHost(t)
	sourceKeepsItsContract(t, func(t *testing.T) speech.Source { return openMicrophone(t, h, speech.DeviceConfig{}) })
}

func TestWAVKeepsTheContractOfSinks(t *testing.T) {
	sinkKeepsItsContract(t, func(t *testing.T, f speech.Feed) speech.Sink {
		s, err := speech.CreateWAV(filepath.Join(t.TempDir(), "out.wav"), f)
		if err != nil {
			t.Fatal(err)
		}
		return s
	})
}

func TestSpeakerKeepsTheContractOfSinks(t *testing.T) {
	soundtest.Start(t)
	eachRate(t, func(t *testing.T, c speech.DeviceConfig) {
		h := newHost(t)
		sinkKeepsItsContract(t, func(t *testing.T, f speech.Feed) speech.Sink { return openSpeaker(t, h, c, f) })
	})
}
