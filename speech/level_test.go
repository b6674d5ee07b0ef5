package speech_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/speech"
)

// TestChildIsTrimmedAndLevelled gives a voice program's sound any level and any silence around it: what
// comes out is the same. The levels follow from the definition of dBFS, 20 log10 of the ratio to 32768.
func TestChildIsTrimmedAndLevelled(t *testing.T) {
	path := filepath.Join(t.TempDir(), "sound.wav")
	voice := speech.CommandVoice{Command: parsed(t, "cat '"+path+"'"), Settings: speech.DefaultSettings()}
	rapid.Check(t, func(t *rapid.T) {
		before := rapid.IntRange(0, speech.Rate).Draw(t, "before")
		after := rapid.IntRange(0, speech.Rate).Draw(t, "after")
		length := rapid.IntRange(speech.Rate/10, speech.Rate).Draw(t, "length")
		amplitude := rapid.Float64Range(300, 32767).Draw(t, "amplitude")
		noise := rapid.IntRange(0, int(amplitude/1000)).Draw(t, "noise") // 60 dB below
		sound := make([]int16, before+length+after)
		for i := range sound {
			sound[i] = int16(i % 2 * noise)
			if i >= before && i < before+length {
				sound[i] = int16(math.Round(amplitude * math.Sin(2*math.Pi*440*float64(i-before)/speech.Rate)))
			}
		}
		if err := os.WriteFile(path, childWAV(sound, uint32(2*len(sound))), 0o600); err != nil {
			t.Fatal(err)
		}
		pcm, err := voice.Speak(t.Context(), "one")
		if err != nil {
			t.Fatal(err)
		}
		const around = 2 * (speech.Rate/100 + speech.Rate/200) // 10 ms and at most a window of 5 ms
		if len(pcm) < length || len(pcm) > length+around {
			t.Errorf("%d samples of %d, with %d before and %d after", len(pcm), length, before, after)
		}
		power, peak := 0.0, 0.0
		for _, s := range pcm {
			power += float64(s) * float64(s) / float64(length)
			peak = max(peak, math.Abs(float64(s)))
		}
		// The tone's crest factor is 3 dB, so that the RMS decides. The windows at the edges are partly
		// silent, which the shortest tone shows most.
		if level := 10*math.Log10(power) - 20*math.Log10(32768); math.Abs(level+25) > 0.5 {
			t.Errorf("RMS of the tone %.2f dBFS, want -25", level)
		}
	})
}

func TestChildIsNeverLouderThanTheCap(t *testing.T) {
	click := make([]int16, speech.Rate) // a crest factor of 42 dB: here the peak decides
	click[speech.Rate/2] = math.MinInt16
	click[speech.Rate/2+1] = math.MaxInt16
	for i := range click[1000:2000] {
		click[1000+i] = int16(1000 * math.Sin(float64(i)))
	}
	path := filepath.Join(t.TempDir(), "click.wav")
	if err := os.WriteFile(path, childWAV(click, 2*speech.Rate), 0o600); err != nil {
		t.Fatal(err)
	}
	peak := 0
	for _, s := range said(t, speech.CommandVoice{Command: parsed(t, "cat '"+path+"'"), Settings: speech.DefaultSettings()}, "one") {
		peak = max(peak, int(s), -int(s))
	}
	if peak != 16384 {
		t.Errorf("peak %d, want 16384, which is -6.02 dBFS", peak)
	}
}
