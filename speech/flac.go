package speech

import (
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
)

type flacDecoder struct {
	stream *flac.Stream
	frame  *frame.Frame // nil before the first
	at     int          // next sample of frame
	seen   uint64       // samples read
}

func newFLACDecoder(r io.Reader) (d *flacDecoder, err error) {
	defer flacPanic(&err)
	stream, err := flac.New(r)
	if err != nil {
		return nil, fmt.Errorf("flac: no header: %w", err)
	}
	if !rateRead(int(stream.Info.SampleRate)) {
		return nil, fmt.Errorf("flac: %d samples a second: %d to %d are read", stream.Info.SampleRate, minRate, maxRate)
	}
	return &flacDecoder{stream: stream}, nil
}

// flacPanic turns a panic of the library, which damaged files can bring about,
// into an error.
func flacPanic(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("flac: damaged: %v", p)
	}
}

func (d *flacDecoder) rate() int { return int(d.stream.Info.SampleRate) }

func (d *flacDecoder) read(out []float64) (n int, err error) {
	defer flacPanic(&err)
	for n < len(out) {
		if d.frame == nil || d.at >= len(d.frame.Subframes[0].Samples) {
			if err := d.nextFrame(); err != nil {
				return n, err
			}
			continue
		}
		scale := math.Ldexp(1, 16-int(d.stream.Info.BitsPerSample)) / float64(len(d.frame.Subframes))
		sum := 0.0
		for _, channel := range d.frame.Subframes {
			sum += float64(channel.Samples[d.at])
		}
		out[n] = sum * scale
		n++
		d.at++
		d.seen++
	}
	return n, nil
}

func (d *flacDecoder) nextFrame() error {
	f, err := d.stream.ParseNext()
	short := d.seen < d.stream.Info.NSamples
	switch {
	case err == nil:
		d.frame, d.at = f, 0
		return nil
	case (err == io.EOF || errors.Is(err, io.ErrUnexpectedEOF)) && short:
		return errCutShort
	case err == io.EOF:
		return io.EOF
	}
	return fmt.Errorf("flac: damaged after %d samples: %w", d.seen, err)
}
