package speech

import "time"

// Source is where sound comes from: a file or a microphone. One goroutine
// reads it.
type Source interface {
	// Read returns the next block. Blocks follow each other without a gap:
	// each At is the one before plus Frame, the first is 0. It returns
	//   - a block and nil;
	//   - io.EOF after the last block of a file, which is padded with silence;
	//   - an error that wraps ErrDeviceLost when the device is gone or Close
	//     was called, and again on every later call;
	//   - another error for a file that cannot be decoded further.
	// A Block that comes with an error is empty. Read waits for a device at
	// its pace and never longer than the device may stay silent; a file is
	// read as fast as it is asked.
	Read() (Block, error)

	// Anchor is the CLOCK_BOOTTIME at sample 0, which counts through
	// standby. For a file it is the value given at opening. For a device it
	// is known from the first block on.
	Anchor() time.Duration

	// Close ends the source. It may be called from any goroutine, and again.
	Close() error
}
