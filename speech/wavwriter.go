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

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
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
	encoder *wav.Encoder
	part    audio.IntBuffer
	samples Samples
	err     error // the first failure; every later call returns it
}

// wavFile is what the encoder writes to. It never seeks: the lengths in the
// header are ours to keep, also while the file grows.
type wavFile struct{ *bufio.Writer }

func (wavFile) Seek(int64, int) (int64, error) { return 0, errors.ErrUnsupported }

// NewWAVWriter creates the file at path, or empties it.
func NewWAVWriter(path string) (*WAVWriter, error) {
	f, err := os.Create(path)
	if err != nil {
		return nil, fmt.Errorf("create WAV file: %w", err)
	}
	w := &WAVWriter{file: f, buffer: bufio.NewWriterSize(f, 1<<14)}
	w.encoder = wav.NewEncoder(wavFile{w.buffer}, Rate, 16, 1, wavePCM)
	w.part.Format = &audio.Format{NumChannels: 1, SampleRate: Rate}
	if err := errors.Join(w.encoder.Write(&w.part), w.buffer.Flush(), w.mark(wavMost)); err != nil {
		return nil, errors.Join(fmt.Errorf("create WAV file: %w", err), f.Close())
	}
	return w, nil
}

// mark has the header say that the sound takes so many bytes.
func (w *WAVWriter) mark(size uint32) error {
	_, err := w.file.WriteAt(wavHeadOf(memoFormat(), size), 0)
	return err
}

// memoFormat is what this package writes: 16-bit PCM, mono at [Rate].
func memoFormat() wavFormat { return wavFormat{wavePCM, 1, Rate, Rate * 2, 2, 16} }

// Append writes samples after the last ones.
func (w *WAVWriter) Append(pcm []int16) error {
	if w.err == nil && int64(w.samples)*2+int64(len(pcm))*2 > wavMost {
		w.err = fmt.Errorf("write %s: a WAV file holds no more than %s: begin another", w.file.Name(), Samples(wavMost/2).Duration().Round(time.Hour))
	}
	if w.err != nil {
		return w.err
	}
	w.part.Data = w.part.Data[:0]
	for _, v := range pcm {
		w.part.Data = append(w.part.Data, int(v))
	}
	if err := w.encoder.Write(&w.part); err != nil {
		return w.fail("write", err)
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
	if err := w.mark(uint32(w.samples) * 2); err != nil {
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

// wavHeadOf is the header of a WAV file whose sound takes size bytes.
func wavHeadOf(f wavFormat, size uint32) []byte {
	var head bytes.Buffer
	// A buffer takes every write.
	_ = binary.Write(&head, binary.LittleEndian, struct {
		RIFF     [4]byte
		Size     uint32
		WAVE     [4]byte
		Fmt      [4]byte
		FmtSize  uint32
		Format   wavFormat
		Data     [4]byte
		DataSize uint32
	}{
		[4]byte{'R', 'I', 'F', 'F'}, size + wavHead - 8,
		[4]byte{'W', 'A', 'V', 'E'},
		[4]byte{'f', 'm', 't', ' '}, 16, f,
		[4]byte{'d', 'a', 't', 'a'}, size,
	})
	return head.Bytes()
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
	ours := wavHeadOf(memoFormat(), length)
	copy(ours[4:8], head[4:8])
	if !bytes.Equal(ours, head[:]) {
		return 0, errors.New("its header is not one that this program writes")
	}
	if int64(size)+8 == info.Size() {
		return Samples(length / 2), nil
	}
	data := min(info.Size()-wavHead, wavMost) &^ 1
	if err := f.Truncate(wavHead + data); err != nil {
		return 0, err
	}
	if _, err := f.WriteAt(wavHeadOf(memoFormat(), uint32(data)), 0); err != nil {
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
