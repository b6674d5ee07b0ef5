package speech

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"slices"
	"sync/atomic"
	"time"
)

// stretch hands out a decoder's sound at Rate, a piece at a time.
type stretch struct {
	from decoder
	to   *resampler
	in   []float64
	err  error
}

func newStretch(d decoder) *stretch {
	return &stretch{from: d, to: newResampler(d.rate(), Rate), in: make([]float64, 4096)}
}

// next returns the next piece, valid until the next call. The last piece comes
// with the decoder's error: io.EOF at the end.
func (s *stretch) next() ([]float64, error) {
	if s.err != nil {
		return nil, s.err
	}
	n, err := s.from.read(s.in)
	part := s.to.push(s.in[:n])
	if s.err = err; err != nil {
		part = append(slices.Clone(part), s.to.flush()...)
	}
	return part, err
}

// Track is a sound file as a [Source].
type Track struct {
	name   string
	file   *os.File
	sound  *stretch
	anchor time.Duration
	at     Samples
	length Samples // read, without the padding
	ready  []int16 // decoded, not yet read
	taken  int     // of ready
	frame  [Frame]int16
	err    error
	closed atomic.Bool
}

// OpenTrack opens a WAV or FLAC file, whatever its name ends in, of any rate
// from 4 to 384 kHz and up to 8 channels, which are mixed to one. anchor is the
// CLOCK_BOOTTIME that its first sample is to stand for. A file cut short is
// read to its real end; the error that follows its last block says so. A pipe
// will do for a file.
func OpenTrack(path string, anchor time.Duration) (*Track, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("open sound file: %w", err)
	}
	d, err := newDecoder(f)
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("open sound file %s: %w", path, err)
	}
	return &Track{name: path, file: f, sound: newStretch(d), anchor: anchor}, nil
}

// newDecoder tells the formats apart by their first four bytes.
func newDecoder(r io.Reader) (decoder, error) {
	b := bufio.NewReader(r)
	if mark, err := b.Peek(4); err == nil && string(mark) == "fLaC" {
		return newFLACDecoder(b)
	}
	return newWAVDecoder(b)
}

// Read implements [Source].
func (t *Track) Read() (Block, error) {
	if t.closed.Load() {
		return Block{}, fmt.Errorf("%w: %s was closed", ErrDeviceLost, t.name)
	}
	for t.err == nil && len(t.ready)-t.taken < Frame {
		part, err := t.sound.next()
		t.ready = append(t.ready[:0], t.ready[t.taken:]...)
		t.ready, t.taken = toInt16(t.ready, part), 0
		if t.err = err; err != nil && err != io.EOF {
			t.err = fmt.Errorf("read %s: %w", t.name, err)
		}
	}
	n := copy(t.frame[:], t.ready[t.taken:])
	if n == 0 {
		return Block{}, t.err
	}
	clear(t.frame[n:])
	t.taken += n
	t.length += Samples(n)
	b := Block{At: t.at, PCM: t.frame[:]}
	t.at += Frame
	return b, nil
}

// Length is the number of samples read so far, without the silence that pads
// the last block: after io.EOF the length of the track.
func (t *Track) Length() Samples { return t.length }

// Anchor implements [Source].
func (t *Track) Anchor() time.Duration { return t.anchor }

// Close implements [Source].
func (t *Track) Close() error {
	if t.closed.Swap(true) {
		return nil
	}
	return t.file.Close()
}
