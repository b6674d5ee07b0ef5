package speech

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"time"

	"github.com/gordonklaus/portaudio"
)

// How long the sound system may take to do what it is asked, and how long a
// device may be silent after its start and later. Silence is counted in looks,
// so that a program that itself stood still for a while finds only one.
const (
	openingLimit = 10 * time.Second
	closingLimit = 3 * time.Second
	firstSound   = 5 * time.Second
	soundLimit   = 2 * time.Second
	look         = 100 * time.Millisecond
)

// What a device is asked to keep: enough to get over the pauses of a busy
// machine, and for the loudspeaker no more than lets a cut be silence at once.
const (
	micBuffer     = 100 * time.Millisecond
	speakerBuffer = 40 * time.Millisecond
)

// ErrStuck says that the sound system hangs in a call made of it: a sound
// server that was stopped, or a driver that waits for ever. Later calls work
// again if it comes back; otherwise only a restart of the program helps.
var ErrStuck = errors.New("the sound system hangs")

// Host is the machine's sound system. It opens the microphone and the
// loudspeaker, at most one of each at a time, and looks afresh at what devices
// there are whenever neither is open. A process has one Host, since PortAudio
// is one in a process. Any goroutine may call it.
type Host struct {
	log *slog.Logger
	use chan struct{} // holds a token while nobody calls the sound system

	// Guarded by the token.
	hush    *hush // nil before the first call and after Close
	mic     *Microphone
	speaker *Speaker
}

// NewHost returns the sound system, nothing open. What C code, such as ALSA's
// and JACK's, has to say on stderr goes to log at debug level until Close.
func NewHost(log *slog.Logger) *Host {
	h := &Host{log: log, use: make(chan struct{}, 1)}
	h.use <- struct{}{}
	return h
}

// Devices lists the devices that can record or play. With the microphone or
// the loudspeaker open it is the list of when the first of them was opened.
func (h *Host) Devices() (devices []Device, err error) {
	err = h.call("list the sound devices", openingLimit, func(context.Context) error {
		if err := h.initialize(); err != nil {
			return err
		}
		defer func() { _ = portaudio.Terminate() }()
		found, err := listDevices()
		devices = found
		return err
	})
	if err != nil {
		return nil, err
	}
	return devices, nil
}

// OpenMicrophone opens a microphone and starts it.
func (h *Host) OpenMicrophone(c DeviceConfig) (*Microphone, error) {
	var m *Microphone
	err := h.call("open the microphone", openingLimit, func(ctx context.Context) (err error) {
		if h.mic != nil {
			return errors.New("one is open already: close it first")
		}
		h.mic, err = openDevice(ctx, h, recording(), c, func(p portaudio.StreamParameters, d *portaudio.DeviceInfo) (*Microphone, error) {
			p.Input = portaudio.StreamDeviceParameters{Device: d, Channels: 1, Latency: max(d.DefaultLowInputLatency, micBuffer)}
			return startMicrophone(h, d.Name, p)
		})
		m = h.mic
		return err
	})
	if err != nil {
		return nil, err
	}
	return m, nil
}

// OpenSpeaker opens a loudspeaker and starts to play feed through it.
func (h *Host) OpenSpeaker(c DeviceConfig, feed Feed) (*Speaker, error) {
	var s *Speaker
	err := h.call("open the loudspeaker", openingLimit, func(ctx context.Context) (err error) {
		if h.speaker != nil {
			return errors.New("one is open already: close it first")
		}
		h.speaker, err = openDevice(ctx, h, playing(), c, func(p portaudio.StreamParameters, d *portaudio.DeviceInfo) (*Speaker, error) {
			buffer := speakerBuffer
			if p.SampleRate != Rate {
				buffer -= speakerAhead
			}
			p.Output = portaudio.StreamDeviceParameters{Device: d, Channels: 1, Latency: max(d.DefaultLowOutputLatency, buffer)}
			return startSpeaker(h, d.Name, p, feed)
		})
		s = h.speaker
		return err
	})
	if err != nil {
		return nil, err
	}
	return s, nil
}

// Reopen closes what is open and looks at the sound system afresh, as has to be
// done after a device was lost or plugged in. It returns nil when there are
// devices to open; the microphone and the loudspeaker are then opened anew.
func (h *Host) Reopen() error {
	if err := h.closeDevices(); err != nil {
		return err
	}
	_, err := h.Devices()
	return err
}

// Close closes what is open. The host can be used again.
func (h *Host) Close() error {
	if err := h.closeDevices(); err != nil {
		return err
	}
	return h.call("close the sound system", closingLimit, func(context.Context) error {
		h.hush.end()
		h.hush = nil
		return nil
	})
}

func (h *Host) closeDevices() error {
	var mic *Microphone
	var speaker *Speaker
	err := h.call("close the sound devices", closingLimit, func(context.Context) error {
		mic, speaker = h.mic, h.speaker
		return nil
	})
	if err != nil {
		return err
	}
	var closing []error
	if mic != nil {
		closing = append(closing, mic.Close())
	}
	if speaker != nil {
		closing = append(closing, speaker.Close())
	}
	return errors.Join(closing...)
}

// openDevice chooses a device and its rate and has it opened by the function
// given. It holds on to PortAudio until the device's shut. An opening that
// comes too late for its caller is undone. It runs with the token.
func openDevice[D interface {
	*Microphone | *Speaker
	shut() error
}](ctx context.Context, h *Host, d direction, c DeviceConfig, open func(portaudio.StreamParameters, *portaudio.DeviceInfo) (D, error)) (D, error) {
	if err := h.initialize(); err != nil {
		return nil, err
	}
	device, err := d.choose(c.Name)
	if err != nil {
		_ = portaudio.Terminate()
		return nil, err
	}
	rate := c.Rate
	if rate == 0 {
		rate = d.rate(device)
	}
	opened, err := open(portaudio.StreamParameters{SampleRate: float64(rate), FramesPerBuffer: rate / 100}, device)
	if err != nil {
		_ = portaudio.Terminate()
		return nil, fmt.Errorf("%s %q at %d Hz: %w: is another program using it?", d.noun, device.Name, rate, err)
	}
	if ctx.Err() != nil {
		return nil, opened.shut()
	}
	return opened, nil
}

// startStream opens a stream and starts it.
func startStream(p portaudio.StreamParameters, callback any) (*portaudio.Stream, error) {
	stream, err := portaudio.OpenStream(p, callback)
	if err != nil {
		return nil, err
	}
	if err := stream.Start(); err != nil {
		stream.Close()
		return nil, err
	}
	return stream, nil
}

// stop ends a stream, whatever the state of its device, and lets go of
// PortAudio, which forgets its devices once nothing is open.
func (h *Host) stop(stream *portaudio.Stream) error {
	// A lost device fails to stop; that is no news.
	stopping := stream.Abort()
	closing := stream.Close()
	h.log.Debug("sound device closed", "stop", stopping, "close", closing)
	return portaudio.Terminate()
}

func (h *Host) initialize() error {
	// With a latency forced upon it, PulseAudio's plugin waits for ever for a
	// buffer that it never fills. Streams ask for a low latency themselves.
	if os.Getenv("PULSE_LATENCY_MSEC") != "" {
		h.log.Debug("PULSE_LATENCY_MSEC is ignored")
		os.Unsetenv("PULSE_LATENCY_MSEC")
	}
	if err := portaudio.Initialize(); err != nil {
		return fmt.Errorf("start PortAudio: %w", err)
	}
	return nil
}

// call runs f with the sound system to itself. When f takes longer than limit
// it goes on alone, its context ended, and call returns ErrStuck; until f is
// back every other call does too.
func (h *Host) call(what string, limit time.Duration, f func(context.Context) error) error {
	ctx, cancel := context.WithTimeout(context.Background(), limit)
	defer cancel()
	stuck := fmt.Errorf("%s: %w: restart the sound server, or this program", what, ErrStuck)
	select {
	case <-h.use:
	case <-ctx.Done():
		return stuck
	}
	done := make(chan error, 1)
	go func() {
		err := h.hushed()
		if err == nil {
			err = f(ctx)
		}
		done <- err
		h.use <- struct{}{}
	}()
	select {
	case err := <-done:
		if err != nil {
			return fmt.Errorf("%s: %w", what, err)
		}
		return nil
	case <-ctx.Done():
		return stuck
	}
}

func (h *Host) hushed() (err error) {
	if h.hush == nil {
		h.hush, err = newHush(h.log)
	}
	return err
}
