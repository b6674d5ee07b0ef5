// Package voicetest holds every voice to its contract, and has a voice for tests that need no program.
package voicetest

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"slices"
	"sync"
	"testing"

	"stepcaller/speech"
)

// Need skips the test where a program is not installed, and fails it there when CI is true: set-up
// installs every voice the tests run.
func Need(t testing.TB, program string) {
	t.Helper()
	if _, err := exec.LookPath(program); err == nil {
		return
	}
	if os.Getenv("CI") == "true" {
		t.Fatalf("%s is not installed, and this test must run here: see .ci/setup.sh", program)
	}
	t.Skipf("%s is not installed", program)
}

// Contract runs the suite that every [speech.Voice] passes.
func Contract(t *testing.T, voice speech.Voice) {
	const sentence = "Tighten the drain plug to forty newton metres."
	speak := func(t *testing.T, text string) []int16 {
		t.Helper()
		pcm, err := voice.Speak(t.Context(), text)
		if err != nil {
			t.Fatal(err)
		}
		return pcm
	}

	t.Run("speaks at once, audibly, and stops with the last word", func(t *testing.T) {
		pcm := speak(t, sentence)
		if n := speech.Samples(len(pcm)); n < speech.Rate || n > 10*speech.Rate {
			t.Errorf("%d samples (%v) for %q", n, n.Duration(), sentence)
		}
		peak := loudest(pcm)
		if peak > 1<<14 || peak < 1<<11 {
			t.Errorf("peak %d is not between -24 and -6 dBFS", peak)
		}
		const edge = speech.Rate / 40 // 25 ms: the margin, and the softest of consonants
		if first, last := loudest(pcm[:edge]), loudest(pcm[len(pcm)-edge:]); first < peak/200 || last < peak/200 {
			t.Errorf("peaks of %d and %d at the edges against %d inside: silence was left on", first, last, peak)
		}
	})

	t.Run("says the same the same way", func(t *testing.T) {
		first := speak(t, sentence)
		want := slices.Clone(first)
		clear(first) // it belongs to the caller
		if !slices.Equal(speak(t, sentence), want) {
			t.Error("the second sound differs from the first")
		}
	})

	t.Run("takes longer for a longer text", func(t *testing.T) {
		if short, long := speak(t, "Forty."), speak(t, sentence); len(short) >= len(long) {
			t.Errorf("%d samples for one word, %d for eight", len(short), len(long))
		}
	})

	t.Run("takes line ends and control characters for spaces", func(t *testing.T) {
		if !slices.Equal(speak(t, "\tone\r\ntwo\x00 three\x1b \n"), speak(t, "one two three")) {
			t.Error("they were heard")
		}
	})

	t.Run("takes text for text", func(t *testing.T) {
		for _, text := range []string{"-h", "--help me", "-", "'", `"`, `\`, "{text} {wav} {wpm}", "$(reboot) `reboot`; reboot | reboot", "% d % s", "\xff\xfe"} {
			pcm := speak(t, text+" and then these five words")
			if n := speech.Samples(len(pcm)); n < speech.Rate/2 {
				t.Errorf("%q gave only %v", text, n.Duration())
			}
		}
	})

	t.Run("has nothing to say without a letter or a digit", func(t *testing.T) {
		for _, text := range []string{"", " \n", "...", "-", "\x00"} {
			if pcm, err := voice.Speak(t.Context(), text); !errors.Is(err, speech.ErrVoiceSilent) || pcm != nil {
				t.Errorf("%q: %d samples and %v, want ErrVoiceSilent", text, len(pcm), err)
			}
		}
	})

	t.Run("does nothing once cancelled", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if pcm, err := voice.Speak(ctx, sentence); !errors.Is(err, context.Canceled) || pcm != nil {
			t.Errorf("%d samples and %v, want context.Canceled", len(pcm), err)
		}
	})

	t.Run("serves several at once", func(t *testing.T) {
		texts := []string{"One.", "Two, and some more.", "Three.", "Three."}
		sounds := make([][]int16, len(texts))
		var all sync.WaitGroup
		for i, text := range texts {
			all.Go(func() {
				var err error
				if sounds[i], err = voice.Speak(t.Context(), text); err != nil {
					t.Error(err)
				}
			})
		}
		all.Wait()
		for i, text := range texts {
			if !slices.Equal(sounds[i], speak(t, text)) {
				t.Errorf("%q sounds otherwise in company", text)
			}
		}
	})
}

func loudest(pcm []int16) int {
	peak := 0
	for _, s := range pcm {
		peak = max(peak, int(s), -int(s))
	}
	return peak
}
