package main

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"stepcaller/speech"
)

// technician is a synthetic person at the microphone.
type technician struct {
	command string // text-to-speech command
	voice   string
	pace    int
}

// Three synthetic technicians that no test's program voice is: two of espeak-ng's variants and one of flite's.
var technicians = []technician{
	{command: speech.DefaultCommand, voice: "en-us+m3", pace: 150},
	{command: speech.DefaultCommand, voice: "en-gb+f2", pace: 160},
	{command: "flite -voice {voice} -t {text} -o {wav}", voice: "rms", pace: 160},
}

// said is a word on a track.
type said struct {
	at   float64 // second at which its speech begins
	word string
}

// needVoice skips at a desk without a text-to-speech program, and fails in CI.
func needVoice(t testing.TB, command string) speech.CommandVoice {
	t.Helper()
	c, err := speech.ParseCommand(command)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Find(); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip(err)
	}
	return speech.CommandVoice{Command: c}
}

// speak makes a word; its speech begins with the first sample.
func (p technician) speak(t testing.TB, word string) []int16 {
	t.Helper()
	voice := needVoice(t, p.command).At(speech.Settings{Voice: p.voice, WordsPerMinute: p.pace})
	pcm, err := voice.Speak(t.Context(), word)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range pcm {
		if v > 150 || v < -150 {
			return pcm[i:]
		}
	}
	t.Fatalf("%q is silent", word)
	return nil
}

// track is a track of so many seconds with words on it, over a faint hiss: -66 dBFS, seeded.
func (p technician) track(t testing.TB, seconds float64, words ...said) []int16 {
	t.Helper()
	noise := rand.New(rand.NewPCG(1, 2))
	pcm := make([]int16, int(seconds*speech.Rate))
	for i := range pcm {
		pcm[i] = int16(noise.NormFloat64() * 16)
	}
	for _, w := range words {
		from := int(w.at * speech.Rate)
		for i, v := range p.speak(t, w.word) {
			if from+i < len(pcm) {
				pcm[from+i] += v
			}
		}
	}
	return pcm
}

// writeTrack writes a WAV file for --hear.
func writeTrack(t testing.TB, pcm []int16) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "track.wav")
	w, err := speech.NewWAVWriter(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Append(pcm); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}
