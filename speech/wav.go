package speech

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Codes of the fmt chunk, from Multimedia Programming Interface and Data
// Specifications 1.0 (IBM and Microsoft, 1991) and its extensible form.
const (
	wavePCM        = 1
	waveFloat      = 3
	waveExtensible = 0xFFFE
)

// wavOpen is the least data length that programs write which do not know the
// length yet: 0x7ffff000, 0x80000000, 0xffffffff. Zero means the same.
const wavOpen = 0x7fff0000

// errCutShort says that a sound file promises more samples than it holds.
var errCutShort = errors.New("the file ends before the length in its header: copy it again, or mend the header")

// decoder reads a sound file sample by sample: read fills out with mono
// samples on the 16-bit scale and returns io.EOF at the end, errCutShort at an
// end that comes too early.
type decoder interface {
	read(out []float64) (n int, err error)
	rate() int
}

type wavDecoder struct {
	r        *bufio.Reader
	format   wavFormat
	left     int64 // bytes of data left, below 0 when the header does not say
	frame    []byte
	sampleAt func(b []byte) float64
}

type wavFormat struct {
	Code     uint16
	Channels uint16
	Rate     uint32
	Bytes    uint32 // a second
	Align    uint16 // bytes in a frame
	Bits     uint16
}

func newWAVDecoder(r io.Reader) (*wavDecoder, error) {
	d := &wavDecoder{r: bufio.NewReader(r)}
	var head struct {
		RIFF [4]byte
		Size uint32
		WAVE [4]byte
	}
	if err := binary.Read(d.r, binary.LittleEndian, &head); err != nil {
		return nil, fmt.Errorf("wav: no header: %w", err)
	}
	if string(head.RIFF[:]) != "RIFF" || string(head.WAVE[:]) != "WAVE" {
		return nil, fmt.Errorf("wav: not a WAV file: it begins with %q", head.RIFF[:])
	}
	for {
		var chunk struct {
			ID   [4]byte
			Size uint32
		}
		if err := binary.Read(d.r, binary.LittleEndian, &chunk); err != nil {
			return nil, fmt.Errorf("wav: no sound in it: %w", err)
		}
		size := int64(chunk.Size) + int64(chunk.Size&1)
		switch string(chunk.ID[:]) {
		case "fmt ":
			if err := d.readFormat(size); err != nil {
				return nil, err
			}
		case "data":
			if d.sampleAt == nil {
				return nil, errors.New("wav: sound comes before its format")
			}
			d.left = int64(chunk.Size)
			if chunk.Size == 0 || chunk.Size >= wavOpen {
				d.left = -1
			}
			return d, nil
		default:
			if _, err := io.CopyN(io.Discard, d.r, size); err != nil {
				return nil, fmt.Errorf("wav: no sound in it: %w", err)
			}
		}
	}
}

func (d *wavDecoder) readFormat(size int64) error {
	body := io.LimitReader(d.r, size)
	f := &d.format
	if err := binary.Read(body, binary.LittleEndian, f); err != nil {
		return fmt.Errorf("wav: format: %w", err)
	}
	var extension struct {
		Size, Valid uint16
		Speakers    uint32
		Code        uint16
	}
	if f.Code == waveExtensible {
		if err := binary.Read(body, binary.LittleEndian, &extension); err != nil {
			return fmt.Errorf("wav: format: %w", err)
		}
		f.Code = extension.Code
	}
	if _, err := io.Copy(io.Discard, body); err != nil {
		return fmt.Errorf("wav: format: %w", err)
	}
	d.sampleAt = wavSample(f.Code, f.Bits)
	switch {
	case d.sampleAt == nil:
		return fmt.Errorf("wav: samples of %d bits in coding %d are not read: convert it to 16-bit PCM", f.Bits, f.Code)
	case f.Channels < 1 || f.Channels > maxChannels:
		return fmt.Errorf("wav: %d channels: 1 to %d are read", f.Channels, maxChannels)
	case !rateRead(int(f.Rate)):
		return fmt.Errorf("wav: %d samples a second: %d to %d are read", f.Rate, minRate, maxRate)
	}
	d.frame = make([]byte, int(f.Channels)*int(f.Bits)/8)
	return nil
}

// Limits of what a sound file may hold.
const (
	minRate     = 4000
	maxRate     = 384000
	maxChannels = 8
)

func rateRead(rate int) bool { return rate >= minRate && rate <= maxRate }

// wavSample returns how a sample of that coding is read onto the 16-bit scale,
// nil for a coding that is not read.
func wavSample(code, bits uint16) func([]byte) float64 {
	le := binary.LittleEndian
	switch {
	case code == wavePCM && bits == 8:
		return func(b []byte) float64 { return (float64(b[0]) - 128) * 256 }
	case code == wavePCM && bits == 16:
		return func(b []byte) float64 { return float64(int16(le.Uint16(b))) }
	case code == wavePCM && bits == 24:
		return func(b []byte) float64 {
			return float64(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)) / (1 << 16)
		}
	case code == wavePCM && bits == 32:
		return func(b []byte) float64 { return float64(int32(le.Uint32(b))) / (1 << 16) }
	case code == waveFloat && bits == 32:
		return func(b []byte) float64 {
			v := float64(math.Float32frombits(le.Uint32(b))) * fullScale
			return max(-fullScale, min(fullScale, v)) // also tames infinities
		}
	}
	return nil
}

func (d *wavDecoder) rate() int { return int(d.format.Rate) }

func (d *wavDecoder) read(out []float64) (int, error) {
	width := len(d.frame) / int(d.format.Channels)
	for i := range out {
		if d.left >= 0 && d.left < int64(len(d.frame)) {
			return i, io.EOF
		}
		if _, err := io.ReadFull(d.r, d.frame); err != nil {
			ended := err == io.EOF || err == io.ErrUnexpectedEOF
			switch {
			case ended && d.left < 0:
				return i, io.EOF
			case ended:
				return i, errCutShort
			}
			return i, err
		}
		if d.left >= 0 {
			d.left -= int64(len(d.frame))
		}
		sum := 0.0
		for at := 0; at < len(d.frame); at += width {
			sum += d.sampleAt(d.frame[at : at+width])
		}
		out[i] = sum / float64(d.format.Channels)
	}
	return len(out), nil
}

// DecodeWAV reads a whole WAV stream and returns it mono at [Rate]. The length
// field of a stream that comes through a pipe is often wrong: zero, a
// placeholder or too long. The samples then reach to the stream's real end.
// PCM of 8, 16, 24 or 32 bits and 32-bit floats are read, 1 to 8 channels,
// 4 to 384 kHz.
func DecodeWAV(r io.Reader) ([]int16, error) {
	d, err := newWAVDecoder(r)
	if err != nil {
		return nil, err
	}
	var pcm []int16
	s := newStretch(d)
	for {
		part, err := s.next()
		pcm = toInt16(pcm, part)
		switch {
		case err == io.EOF || errors.Is(err, errCutShort):
			return pcm, nil
		case err != nil:
			return nil, fmt.Errorf("wav: %w", err)
		}
	}
}
