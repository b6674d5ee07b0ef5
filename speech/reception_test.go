package speech_test

import (
	"math"
	"slices"
	"testing"

	"stepcaller/speech"
)

// overNoise puts the words on a new track, 2 s apart, at level over white noise of
// floor dBFS.
func overNoise(t *testing.T, level, floor float64, words ...string) *track {
	t.Helper()
	const lead = 2 * speech.Rate
	sounds, total := make([][]int16, len(words)), lead
	for i, w := range words {
		sounds[i] = spoken(t, "en-us+f3", w)
		total += len(sounds[i]) + lead
	}
	sound := newTrack(float64(total)/speech.Rate, 1)
	sound.noise(floor)
	at := lead
	for _, s := range sounds {
		at = sound.put(at, s, level) + lead
	}
	return sound
}

func TestReceptionOfSpeech(t *testing.T) {
	words := []string{"repeat", "tool list", "hold the job", "caution"}
	for name, c := range map[string]struct {
		level, floor, gain float64
		verdict            speech.Verdict
		cause              speech.Cause
	}{
		"quiet":                       {-25, -65, 0, speech.Good, speech.NoCause},
		"20 dB":                       {-25, -45, 0, speech.Good, speech.NoCause},
		"10 dB":                       {-25, -35, 0, speech.Good, speech.NoCause},
		"3 dB":                        {-25, -28, 0, speech.Poor, speech.TooNoisy},
		"soft, but not too soft":      {-45, -75, 0, speech.Good, speech.NoCause},
		"hardly reaches":              {-62, -90, 0, speech.Poor, speech.TooWeak},
		"driven 25 dB over the range": {-15, -60, 25, speech.Poor, speech.TooLoud},
	} {
		t.Run(name, func(t *testing.T) {
			sound := overNoise(t, c.level, c.floor, words...)
			for i := range sound.pcm {
				sound.pcm[i] *= math.Pow(10, c.gain/20)
			}
			e := newEars(t)
			listen(e, sound.samples(), nil)
			r := e.Reception()
			if r.Verdict != c.verdict || r.Cause != c.cause {
				t.Errorf("%q %q, want %q %q: %+v", r.Verdict, r.Cause, c.verdict, c.cause, r)
			}
			floor := math.Max(c.floor, -70) + c.gain
			if want := c.level + c.gain - floor; c.gain == 0 && math.Abs(r.SNR-want) > 4 {
				t.Errorf("SNR %.1f dB, mixed %.1f", r.SNR, want)
			}
		})
	}
}

// Noise that rises in the middle turns the verdict while words are still
// obeyed.
func TestRisingNoiseIsPoorBeforeWordsAreMissed(t *testing.T) {
	words := slices.Repeat([]string{"repeat", "tool list", "part list", "caution"}, 6)
	sound := overNoise(t, -25, -65, words...)
	for i := range sound.pcm { // a steady rise, to 10 dB above the speech
		db := -65 + 50*float64(i)/float64(len(sound.pcm))
		sound.pcm[i] += math.Pow(10, db/20) * sound.r.NormFloat64()
	}
	e := newEars(t)
	warned, last, obeyed := speech.Samples(0), speech.Samples(0), 0
	pcm := sound.samples()
	for at := 0; at+speech.Frame <= len(pcm); at += speech.Frame {
		for _, h := range e.Hear(speech.Block{At: speech.Samples(at), PCM: pcm[at : at+speech.Frame]}, nil) {
			if h.Label != "" && h.Sure {
				last, obeyed = h.From, obeyed+1
			}
		}
		if v := e.Reception().Verdict; warned == 0 && (v == speech.Poor || v == speech.Deaf) {
			warned = speech.Samples(at)
			t.Logf("poor at %s, %d words obeyed until then; %+v", warned.Duration(), obeyed, e.Reception())
		}
	}
	t.Logf("%d of %d obeyed, the last at %s", obeyed, len(words), last.Duration())
	if warned == 0 || warned >= last {
		t.Errorf("poor at %s, the last word was obeyed at %s", warned.Duration(), last.Duration())
	}
}

func TestReceptionIsForgottenWithTheStream(t *testing.T) {
	e := newEars(t)
	listen(e, overNoise(t, -25, -28, "repeat", "caution", "tool list").samples(), nil)
	if e.Reception().Words == 0 {
		t.Fatal("no word was measured")
	}
	e.Reset()
	if r := e.Reception(); r.Words != 0 || r.Verdict != speech.Unknown {
		t.Errorf("after Reset %+v", r)
	}
}
