package speech_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
	"pgregory.net/rapid"

	"stepcaller/speech"
	"stepcaller/speech/soundtest"
)

// mains is n samples of a 440 Hz tone at rate.
func mains(n, rate int) []int16 {
	pcm := make([]int16, n)
	for i := range pcm {
		pcm[i] = int16(8000 * math.Sin(2*math.Pi*440*float64(i)/float64(rate)))
	}
	return pcm
}

// writeWAV has an independent library write the file.
func writeWAV(t *testing.T, pcm []int16, rate, bits, channels int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "in.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	buffer := &audio.IntBuffer{Format: &audio.Format{NumChannels: channels, SampleRate: rate}, SourceBitDepth: bits}
	for _, v := range pcm {
		for range channels {
			switch bits {
			case 8:
				buffer.Data = append(buffer.Data, int(v)>>8+128)
			default:
				buffer.Data = append(buffer.Data, int(v)<<(bits-16))
			}
		}
	}
	e := wav.NewEncoder(f, rate, bits, channels, 1)
	if err := errors.Join(e.Write(buffer), e.Close()); err != nil {
		t.Fatal(err)
	}
	return path
}

// readWAV has an independent library read the file.
func readWAV(t *testing.T, path string) []int16 {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d := wav.NewDecoder(f)
	b, err := d.FullPCMBuffer()
	if err != nil {
		t.Fatal(err)
	}
	if d.SampleRate != speech.Rate || d.NumChans != 1 || d.BitDepth != 16 {
		t.Fatalf("%s: %d Hz, %d channels, %d bits", path, d.SampleRate, d.NumChans, d.BitDepth)
	}
	pcm := make([]int16, len(b.Data))
	for i, v := range b.Data {
		pcm[i] = int16(v)
	}
	return pcm
}

func farthest(a, b []int16) int {
	most := 0
	for i := range a {
		most = max(most, int(a[i])-int(b[i]), int(b[i])-int(a[i]))
	}
	return most
}

func TestDecodeWAVReadsDepthsAndChannels(t *testing.T) {
	pcm := mains(2000, speech.Rate)
	for _, bits := range []int{8, 16, 24, 32} {
		for _, channels := range []int{1, 2} {
			f, err := os.Open(writeWAV(t, pcm, speech.Rate, bits, channels))
			if err != nil {
				t.Fatal(err)
			}
			got, err := speech.DecodeWAV(f)
			f.Close()
			if err != nil {
				t.Fatalf("%d bits, %d channels: %v", bits, channels, err)
			}
			allowed := 0
			if bits == 8 {
				allowed = 255
			}
			if len(got) != len(pcm) || farthest(got, pcm) > allowed {
				t.Errorf("%d bits, %d channels: %d samples, off by up to %d", bits, channels, len(got), farthest(got, pcm))
			}
		}
	}
}

func TestDecodeWAVReadsToTheRealEnd(t *testing.T) {
	pcm := mains(1234, speech.Rate)
	data, err := os.ReadFile(writeWAV(t, pcm, speech.Rate, 16, 1))
	if err != nil {
		t.Fatal(err)
	}
	check := func(length uint32, want int) {
		t.Helper()
		binary.LittleEndian.PutUint32(data[40:], length)
		r, w := io.Pipe()
		go func() {
			w.Write(data)
			w.Close()
		}()
		got, err := speech.DecodeWAV(r)
		if err != nil || len(got) != want {
			t.Errorf("length field %#x: %d samples and %v, want %d", length, len(got), err, want)
		}
	}
	check(0, 1234)
	check(0x7ffff000, 1234)
	check(0x80000000, 1234)
	check(0xffffffff, 1234)
	check(2*5000, 1234) // longer than the stream
	check(2*1234, 1234)
	check(2*1000, 1000) // what follows is no sound
}

func TestDecodeWAVRefuses(t *testing.T) {
	good, err := os.ReadFile(writeWAV(t, mains(10, speech.Rate), speech.Rate, 16, 1))
	if err != nil {
		t.Fatal(err)
	}
	refused := func(what string, change func(b []byte) []byte) {
		t.Helper()
		if pcm, err := speech.DecodeWAV(bytes.NewReader(change(bytes.Clone(good)))); err == nil {
			t.Errorf("%s gives %d samples and no error", what, len(pcm))
		}
	}
	refused("nothing", func(b []byte) []byte { return nil })
	refused("a header cut short", func(b []byte) []byte { return b[:30] })
	refused("no data chunk", func(b []byte) []byte { return b[:36] })
	refused("text", func(b []byte) []byte {
		return []byte("espeak-ng: unknown voice: parrot, and more words than a header has")
	})
	refused("an unknown coding", func(b []byte) []byte { b[20] = 7; return b })
	refused("12 bits", func(b []byte) []byte { b[34] = 12; return b })
	refused("no channel", func(b []byte) []byte { b[22] = 0; return b })
	refused("no rate", func(b []byte) []byte { clear(b[24:28]); return b })
	refused("a format of 4 GB", func(b []byte) []byte { copy(b[16:20], "\xff\xff\xff\xff"); return b })
}

func TestDecodeWAVReadsAVoiceThroughAPipe(t *testing.T) {
	soundtest.Need(t, "espeak-ng")
	c := exec.Command("espeak-ng", "--stdout", "drain the oil")
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	pcm, err := speech.DecodeWAV(out)
	if err := errors.Join(err, c.Wait()); err != nil {
		t.Fatal(err)
	}
	if d := speech.Samples(len(pcm)).Duration().Seconds(); d < 0.4 || d > 4 {
		t.Errorf("three words last %.1f s", d)
	}
}

func FuzzDecodeWAV(f *testing.F) {
	f.Add([]byte("RIFF\x24\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x80\x3e\x00\x00\x00\x7d\x00\x00\x02\x00\x10\x00data\x04\x00\x00\x00\x01\x00\x02\x00"))
	f.Add([]byte("RIFF\x24\x00\x00\x00WAVEfmt \x28\x00\x00\x00\xfe\xff\x02\x00\x22\x56\x00\x00\x00\x7d\x00\x00\x06\x00\x18\x00\x16\x00\x18\x00\x00\x00\x00\x00\x01\x00"))
	f.Fuzz(func(t *testing.T, data []byte) {
		pcm, _ := speech.DecodeWAV(bytes.NewReader(data))
		if most := (len(data)+1)*speech.Rate/4000 + 1; len(pcm) > most {
			t.Errorf("%d bytes give %d samples", len(data), len(pcm))
		}
	})
}

func readAll(t *testing.T, s speech.Source) (pcm []int16, err error) {
	t.Helper()
	for {
		b, err := s.Read()
		if err != nil {
			return pcm, err
		}
		pcm = append(pcm, b.PCM...)
	}
}

func TestTrackReadsAnyRate(t *testing.T) {
	for _, rate := range []int{8000, 16000, 22050, 44100, 48000} {
		track, err := speech.OpenTrack(writeWAV(t, mains(rate, rate), rate, 16, 2), 0)
		if err != nil {
			t.Fatal(err)
		}
		defer track.Close()
		got, err := readAll(t, track)
		want := mains(speech.Rate, speech.Rate)
		if err != io.EOF || len(got) != speech.Rate {
			t.Fatalf("%d Hz: a second gives %d samples, then %v", rate, len(got), err)
		}
		if off := farthest(got[320:15680], want[320:15680]); off > 2 {
			t.Errorf("%d Hz: off by up to %d of 8000", rate, off)
		}
	}
}

func TestTrackReadsFLAC(t *testing.T) {
	pcm := mains(5000, speech.Rate)
	data := encodeFLAC(t, pcm)
	path := filepath.Join(t.TempDir(), "in.flac")
	open := func(data []byte) *speech.Track {
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		track, err := speech.OpenTrack(path, 0)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { track.Close() })
		return track
	}
	got, err := readAll(t, open(data))
	if err != io.EOF || len(got) != 5120 || farthest(pcm, got) != 0 {
		t.Errorf("%d samples, off by %d, then %v", len(got), farthest(pcm, got), err)
	}
	if got, err := readAll(t, open(data[:len(data)*3/4])); err == io.EOF || len(got) == 0 {
		t.Errorf("a file cut short gives %d samples, then %v", len(got), err)
	}
	rapid.Check(t, func(r *rapid.T) {
		bad := bytes.Clone(data)
		for range rapid.IntRange(1, 5).Draw(r, "errors") {
			bad[rapid.IntRange(4, len(bad)-1).Draw(r, "at")] ^= byte(rapid.IntRange(1, 255).Draw(r, "bits"))
		}
		if err := os.WriteFile(path, bad, 0o644); err != nil {
			r.Fatal(err)
		}
		if track, err := speech.OpenTrack(path, 0); err == nil {
			readAll(t, track)
			track.Close()
		}
	})
}

func encodeFLAC(t *testing.T, pcm []int16) []byte {
	t.Helper()
	const block = 1000
	var out bytes.Buffer
	e, err := flac.NewEncoder(&out, &meta.StreamInfo{BlockSizeMin: block, BlockSizeMax: block,
		SampleRate: speech.Rate, NChannels: 1, BitsPerSample: 16, NSamples: uint64(len(pcm))})
	if err != nil {
		t.Fatal(err)
	}
	for n := 0; n < len(pcm); n += block {
		sub := &frame.Subframe{SubHeader: frame.SubHeader{Pred: frame.PredVerbatim}, NSamples: block}
		for _, v := range pcm[n : n+block] {
			sub.Samples = append(sub.Samples, int32(v))
		}
		err := e.WriteFrame(&frame.Frame{Header: frame.Header{HasFixedBlockSize: true, BlockSize: block,
			SampleRate: speech.Rate, Channels: frame.ChannelsMono, BitsPerSample: 16, Num: uint64(n / block)},
			Subframes: []*frame.Subframe{sub}})
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := e.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestTrackSaysThatItWasCutShort(t *testing.T) {
	path := writeWAV(t, mains(1000, speech.Rate), speech.Rate, 16, 1)
	if err := os.Truncate(path, 44+2*700); err != nil {
		t.Fatal(err)
	}
	track, err := speech.OpenTrack(path, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer track.Close()
	got, err := readAll(t, track)
	if len(got) != 800 || err == io.EOF {
		t.Errorf("%d samples, then %v; want 700 padded to 800, then what is wrong", len(got), err)
	}
	if _, again := track.Read(); again == nil || again.Error() != err.Error() {
		t.Errorf("reading on gives %v", again)
	}
}
