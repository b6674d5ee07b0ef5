package speech

import (
	"errors"
	"time"
)

// Rate is the number of samples a second inside the program, whatever the
// device or the file uses.
const Rate = 16000

// Frame is the number of samples in a [Block]: 10 ms.
const Frame = 160

// Samples counts samples at [Rate]. As a point in time it counts from the
// first sample of the source or the sink it belongs to.
type Samples int64

// Duration is the time that s samples last. It is exact: one sample lasts
// 62 500 ns.
func (s Samples) Duration() time.Duration { return time.Duration(s) * (time.Second / Rate) }

// SamplesIn is the number of samples in d, the nearest where d falls between
// two, away from zero at the half.
func SamplesIn(d time.Duration) Samples {
	const one = time.Second / Rate
	if d < 0 {
		return -SamplesIn(-d)
	}
	n := d / one
	if d%one >= one/2 {
		n++
	}
	return Samples(n)
}

// Block is one [Frame] of sound.
type Block struct {
	At      Samples // index of its first sample since the source was opened
	PCM     []int16 // Frame samples; valid until the next Read
	Missing int     // samples in it that the device lost and the source filled with silence
}

// ErrDeviceLost says that a microphone or a loudspeaker is gone: unplugged,
// its sound server ended, or silent for longer than a living device is. The
// stream that returned it stays dead; [Host.Reopen] finds what is there now.
var ErrDeviceLost = errors.New("sound device lost")

// ErrNoDevice says that the machine has no microphone or no loudspeaker at
// all, or none that carries the name asked for.
var ErrNoDevice = errors.New("no sound device")
