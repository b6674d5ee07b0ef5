package speech

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"time"
)

// wavHead is the size of the header that this package writes.
const wavHead = 44

// wavMost is the largest data length that the format's 32 bits hold with room
// for the header: 37 hours at Rate.
const wavMost = (0xffffffff - wavHead) &^ 1

// WAVWriter writes a memo or a rehearsal: mono, 16 bits, at [Rate]. Until Sync
// or Close the header says that the length is unknown, so that what a crash
// leaves is still read to its end; [MendWAV] makes it right. One goroutine
// uses it.
type WAVWriter struct {
	file    *os.File
	buffer  *bufio.Writer
	samples Samples
	err     error // the first failure; every later call returns it
}

// NewWAVWriter creates the file at path, or empties it.
func NewWAVWriter(path string) (*WAVWriter, error) {
	f, err := os.Create(path)
	if err != nil {
		return nil, fmt.Errorf("create WAV file: %w", err)
	}
	if err := writeWAVHead(f, wavMost); err != nil {
		f.Close()
		return nil, fmt.Errorf("create WAV file: %w", err)
	}
	return &WAVWriter{file: f, buffer: bufio.NewWriterSize(f, 1<<14)}, nil
}

// Append writes samples after the last ones.
func (w *WAVWriter) Append(pcm []int16) error {
	if w.err == nil && int64(w.samples)*2+int64(len(pcm))*2 > wavMost {
		w.err = fmt.Errorf("write %s: a WAV file holds no more than %s: begin another", w.file.Name(), Samples(wavMost/2).Duration().Round(time.Hour))
	}
	if w.err != nil {
		return w.err
	}
	var pair [2]byte
	for _, v := range pcm {
		binary.LittleEndian.PutUint16(pair[:], uint16(v))
		if _, err := w.buffer.Write(pair[:]); err != nil {
			return w.fail("write", err)
		}
	}
	w.samples += Samples(len(pcm))
	return nil
}

// Len is the number of samples written.
func (w *WAVWriter) Len() Samples { return w.samples }

// Cut drops every sample behind the first n.
func (w *WAVWriter) Cut(n Samples) error {
	if n >= w.samples {
		return w.err
	}
	if err := w.Sync(); err != nil {
		return err
	}
	if err := w.file.Truncate(wavHead + 2*int64(n)); err != nil {
		return w.fail("cut", err)
	}
	if _, err := w.file.Seek(0, io.SeekEnd); err != nil {
		return w.fail("cut", err)
	}
	w.samples = n
	return nil
}

// Sync brings what was written so far to the disk, under a header that says
// so.
func (w *WAVWriter) Sync() error {
	if w.err != nil {
		return w.err
	}
	if err := w.buffer.Flush(); err != nil {
		return w.fail("write", err)
	}
	if err := writeWAVHead(io.NewOffsetWriter(w.file, 0), uint32(w.samples)*2); err != nil {
		return w.fail("write header of", err)
	}
	if err := w.file.Sync(); err != nil {
		return w.fail("sync", err)
	}
	return nil
}

// Close syncs and closes the file. The file is closed even where that fails.
// Closing again does nothing.
func (w *WAVWriter) Close() error {
	if errors.Is(w.err, os.ErrClosed) {
		return nil
	}
	err := w.Sync()
	if closing := w.file.Close(); err == nil && closing != nil {
		err = fmt.Errorf("close %s: %w", w.file.Name(), closing)
	}
	w.err = fmt.Errorf("write %s: %w", w.file.Name(), os.ErrClosed)
	return err
}

func (w *WAVWriter) fail(what string, err error) error {
	w.err = fmt.Errorf("%s %s: %w", what, w.file.Name(), err)
	return w.err
}

func writeWAVHead(to io.Writer, data uint32) error {
	return binary.Write(to, binary.LittleEndian, struct {
		RIFF     [4]byte
		Size     uint32
		WAVE     [4]byte
		Fmt      [4]byte
		FmtSize  uint32
		Format   wavFormat
		Data     [4]byte
		DataSize uint32
	}{
		[4]byte{'R', 'I', 'F', 'F'}, data + wavHead - 8,
		[4]byte{'W', 'A', 'V', 'E'},
		[4]byte{'f', 'm', 't', ' '}, 16, wavFormat{wavePCM, 1, Rate, Rate * 2, 2, 16},
		[4]byte{'d', 'a', 't', 'a'}, data,
	})
}

// MendWAV makes right the header of a file that a [WAVWriter] left unfinished,
// so that any program plays it to its last whole sample, and returns its
// length. Half a sample at the end is cut off. A file that is right already
// is left as it is; one that a WAVWriter did not write is too, with an error.
func MendWAV(path string) (Samples, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return 0, fmt.Errorf("mend WAV file: %w", err)
	}
	defer f.Close()
	n, err := mendWAV(f)
	if err != nil {
		return 0, fmt.Errorf("mend WAV file %s: %w", path, err)
	}
	return n, nil
}

func mendWAV(f *os.File) (Samples, error) {
	info, err := f.Stat()
	if err != nil {
		return 0, err
	}
	var head [wavHead]byte
	if _, err := io.ReadFull(f, head[:]); err != nil {
		return 0, errors.New("it is shorter than a header: there is no sound to save")
	}
	size := binary.LittleEndian.Uint32(head[4:])
	length := binary.LittleEndian.Uint32(head[40:])
	var ours bytes.Buffer
	writeWAVHead(&ours, length)
	copy(ours.Bytes()[4:8], head[4:8])
	if !bytes.Equal(ours.Bytes(), head[:]) {
		return 0, errors.New("its header is not one that this program writes")
	}
	if int64(size)+8 == info.Size() {
		return Samples(length / 2), nil
	}
	data := min(info.Size()-wavHead, wavMost) &^ 1
	if err := f.Truncate(wavHead + data); err != nil {
		return 0, err
	}
	if err := writeWAVHead(io.NewOffsetWriter(f, 0), uint32(data)); err != nil {
		return 0, err
	}
	return Samples(data / 2), f.Sync()
}

// wavSink plays a feed into a file.
type wavSink struct {
	*WAVWriter
	feed  Feed
	frame [Frame]int16
}

// CreateWAV returns a [Sink] that writes what it pulls from feed into a WAV
// file at path.
func CreateWAV(path string, feed Feed) (Sink, error) {
	w, err := NewWAVWriter(path)
	if err != nil {
		return nil, err
	}
	return &wavSink{WAVWriter: w, feed: feed}, nil
}

// Advance pulls n samples, a Frame at a time and the rest last.
func (s *wavSink) Advance(n Samples) error {
	for n > 0 && s.err == nil {
		part := s.frame[:min(n, Frame)]
		s.feed.Pull(part)
		if err := s.Append(part); err != nil {
			return err
		}
		n -= Samples(len(part))
	}
	return s.err
}

// Latency is 0: a file hears at once.
func (s *wavSink) Latency() time.Duration { return 0 }
