package speech

import "time"

// Feed gives sound to a sink.
type Feed interface {
	// Pull fills out wholly, with silence where there is nothing to say. It
	// is called on the audio thread: it does not allocate, lock, log or wait.
	Pull(out []int16)
}

// Sink plays a [Feed] at [Rate], into a file or through a loudspeaker.
type Sink interface {
	// Advance lets n samples of time go by. A file pulls n samples from its
	// feed and writes them. A device pulls at its own pace and returns at
	// once: nil while it is playing, an error that wraps ErrDeviceLost when
	// it no longer is.
	Advance(n Samples) error

	// Latency is the time from Pull to the loudspeaker; 0 for a file.
	Latency() time.Duration

	// Close ends the sink. A file then has a right header and is on the
	// disk. It may be called again.
	Close() error
}
