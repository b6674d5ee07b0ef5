package speech

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
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

// wavDecoder reads the chunks up to the sound itself, since lengths in a header
// are not to be trusted, and leaves the samples to the library.
type wavDecoder struct {
	r      *bufio.Reader
	format wavFormat
	sound  soundData
	pcm    *wav.Decoder // nil for floats, which the library does not read
	ints   audio.IntBuffer
	ready  []float64 // mono, not yet read
	err    error
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
			if d.format.Channels == 0 {
				return nil, errors.New("wav: sound comes before its format")
			}
			d.open(chunk.Size)
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
	switch {
	case !wavRead(f.Code, f.Bits):
		return fmt.Errorf("wav: samples of %d bits in coding %d are not read: convert it to 16-bit PCM", f.Bits, f.Code)
	case f.Channels < 1 || f.Channels > maxChannels:
		return fmt.Errorf("wav: %d channels: 1 to %d are read", f.Channels, maxChannels)
	case !rateRead(int(f.Rate)):
		return fmt.Errorf("wav: %d samples a second: %d to %d are read", f.Rate, minRate, maxRate)
	}
	return nil
}

// Limits of what a sound file may hold.
const (
	minRate     = 4000
	maxRate     = 384000
	maxChannels = 8
)

func rateRead(rate int) bool { return rate >= minRate && rate <= maxRate }

func wavRead(code, bits uint16) bool {
	return code == wavePCM && (bits == 8 || bits == 16 || bits == 24 || bits == 32) || code == waveFloat && bits == 32
}

// open begins the sound, size bytes by its header.
func (d *wavDecoder) open(size uint32) {
	channels := int(d.format.Channels)
	d.sound = soundData{r: d.r, frame: channels * int(d.format.Bits) / 8, left: int64(size)}
	if size == 0 || size >= wavOpen {
		d.sound.left = -1
	}
	if d.format.Code == wavePCM {
		d.format.Align, d.format.Bytes = uint16(d.sound.frame), d.format.Rate*uint32(d.sound.frame)
		d.pcm = wav.NewDecoder(&mendedWAV{Reader: io.MultiReader(bytes.NewReader(wavHeadOf(d.format, math.MaxUint32-wavHead)), &d.sound)})
		d.ints.Data = make([]int, 4096*channels)
	}
}

// mendedWAV is a stream under a header that is right. The library seeks only to
// start again, which nobody asks for.
type mendedWAV struct{ io.Reader }

func (mendedWAV) Seek(int64, int) (int64, error) { return 0, errors.ErrUnsupported }

// soundData reads whole frames up to the end that the header gives, or to the
// real one. It ends with io.EOF, whichever end came first; err tells which.
type soundData struct {
	r     io.Reader
	frame int   // bytes of one sample of all channels
	left  int64 // bytes, below 0 when the header does not say
	err   error // errCutShort, or of the reader
}

func (s *soundData) Read(p []byte) (int, error) {
	n := len(p) / s.frame * s.frame
	if s.left >= 0 {
		n = int(min(int64(n), s.left/int64(s.frame)*int64(s.frame)))
	}
	if n == 0 {
		return 0, io.EOF
	}
	got, err := io.ReadFull(s.r, p[:n])
	switch {
	case err == nil:
	case err != io.EOF && err != io.ErrUnexpectedEOF:
		s.err = err
	case s.left >= 0:
		s.err = errCutShort
	}
	if s.left >= 0 {
		s.left -= int64(got)
	}
	if got = got / s.frame * s.frame; got == 0 {
		return 0, io.EOF
	}
	return got, nil
}

func (d *wavDecoder) rate() int { return int(d.format.Rate) }

func (d *wavDecoder) read(out []float64) (int, error) {
	n := 0
	for n < len(out) {
		if len(d.ready) == 0 {
			if d.err == nil {
				d.err = d.more()
			}
			if len(d.ready) == 0 {
				return n, d.err
			}
		}
		k := copy(out[n:], d.ready)
		n, d.ready = n+k, d.ready[k:]
	}
	return n, nil
}

// more decodes the next samples of all channels and mixes them.
func (d *wavDecoder) more() error {
	channels := int(d.format.Channels)
	var value func(i int) float64
	var n int
	if d.pcm != nil {
		got, err := d.pcm.PCMBuffer(&d.ints)
		if err != nil {
			return err
		}
		n = got
		scale, zero := math.Exp2(float64(16-int(d.format.Bits))), 0
		if d.format.Bits == 8 {
			zero = 128 // samples of 8 bits have no sign
		}
		value = func(i int) float64 { return float64(d.ints.Data[i]-zero) * scale }
	} else {
		floats := make([]byte, 4096*channels*4)
		got, _ := d.sound.Read(floats)
		n = got / 4
		value = func(i int) float64 {
			v := float64(math.Float32frombits(binary.LittleEndian.Uint32(floats[4*i:]))) * fullScale
			return max(-fullScale, min(fullScale, v)) // also tames infinities
		}
	}
	if n == 0 {
		if d.sound.err != nil {
			return d.sound.err
		}
		return io.EOF
	}
	mono := make([]float64, n/channels)
	for i := range mono {
		for c := range channels {
			mono[i] += value(i*channels+c) / float64(channels)
		}
	}
	d.ready = mono
	return nil
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
