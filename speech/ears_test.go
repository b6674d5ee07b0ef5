package speech_test

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"testing"

	"stepcaller/speech"
)

// spoken is text from a synthetic voice that took no part in training, at
// Rate, without the silence around it.
func spoken(t testing.TB, voice, text string) []int16 {
	t.Helper()
	program := "espeak-ng"
	args := []string{"--stdout", "-v", voice, "-s", "160", text}
	if voice == "awb" || voice == "kal16" || voice == "rms" {
		program, args = "flite", []string{"-voice", voice, "-t", text, "-o", "/dev/stdout"}
	}
	if _, err := exec.LookPath(program); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is missing: install it (Debian: apt-get install espeak-ng flite)", program)
		}
		t.Skipf("%s is not installed", program)
	}
	out, err := exec.Command(program, args...).Output()
	if err != nil {
		t.Fatalf("%s %q: %v", program, args, err)
	}
	pcm, err := speech.DecodeWAV(bytes.NewReader(out))
	if err != nil {
		t.Fatalf("%s %q: %v", program, args, err)
	}
	top := int16(0)
	for _, v := range pcm {
		top = max(top, v)
	}
	loud := func(v int16) bool { return v > top/50 }
	first := slices.IndexFunc(pcm, loud)
	last := len(pcm)
	for last > first && !loud(pcm[last-1]) {
		last--
	}
	return pcm[first:last]
}

// track is sound being put together.
type track struct {
	pcm []float64
	r   *rand.Rand
}

// newTrack is seconds of a quiet room: noise of -70 dBFS.
func newTrack(seconds float64, seed uint64) *track {
	t := &track{pcm: make([]float64, int(seconds*speech.Rate)), r: rand.New(rand.NewPCG(seed, 7))}
	t.noise(-70)
	return t
}

// noise adds white noise of the level in dBFS.
func (t *track) noise(db float64) {
	k := math.Pow(10, db/20)
	for i := range t.pcm {
		t.pcm[i] += k * t.r.NormFloat64()
	}
}

// put adds pcm at sample at, its active level brought to db dBFS, and returns
// the sample after it.
func (t *track) put(at int, pcm []int16, db float64) int {
	k := math.Pow(10, db/20) / activeLevel(pcm)
	for i, v := range pcm {
		if at+i < len(t.pcm) {
			t.pcm[at+i] += k * float64(v) / 32768
		}
	}
	return at + len(pcm)
}

// activeLevel is the root mean square of the louder frames.
func activeLevel(pcm []int16) float64 {
	var top, sum float64
	var frames []float64
	for i := 0; i+speech.Frame <= len(pcm); i += speech.Frame {
		var e float64
		for _, v := range pcm[i : i+speech.Frame] {
			e += float64(v) * float64(v) / (32768 * 32768)
		}
		frames = append(frames, e/speech.Frame)
		top = max(top, e/speech.Frame)
	}
	n := 0.0
	for _, e := range frames {
		if e > top/1600 {
			sum, n = sum+e, n+1
		}
	}
	return math.Sqrt(sum / max(1, n))
}

func (t *track) samples() []int16 {
	out := make([]int16, len(t.pcm))
	for i, v := range t.pcm {
		out[i] = int16(max(-32768, min(32767, math.Round(v*32768))))
	}
	return out
}

// listen gives the ears everything and collects what they heard. played may be
// nil.
func listen(e *speech.Ears, pcm, played []int16) (heard []speech.Heard) {
	for at := 0; at+speech.Frame <= len(pcm); at += speech.Frame {
		var ref []int16
		if at+speech.Frame <= len(played) {
			ref = played[at : at+speech.Frame]
		}
		heard = append(heard, e.Hear(speech.Block{At: speech.Samples(at), PCM: pcm[at : at+speech.Frame]}, ref)...)
	}
	return heard
}

func newEars(t testing.TB) *speech.Ears {
	t.Helper()
	e, err := speech.NewEars(speech.DefaultEarsConfig())
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func labels(heard []speech.Heard) (out []string) {
	for _, h := range heard {
		l := h.Label
		if l != "" && !h.Sure {
			l += "?"
		}
		out = append(out, strconv.Quote(l))
	}
	return out
}
