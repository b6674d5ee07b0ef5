package speech

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestAPhraseTakesItsTime(t *testing.T) {
	e, err := NewEars(DefaultEarsConfig())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		phrase string
		ms     Samples
		hasty  bool
	}{
		{"where am i", 200, true}, {"where am i", 400, false}, {"no", 50, true}, {"no", 80, false}, {"what's left", 200, true}, {"what's left", 500, false},
	} {
		class := slices.Index(e.k.classes, c.phrase)
		if got := e.hasty(class, utterance{from: 1000, to: 1000 + c.ms*Rate/1000}); got != c.hasty {
			t.Errorf("%q in %d ms: hasty %v", c.phrase, c.ms, got)
		}
	}
}

// The more noise, the better a score must be, and never less than in quiet.
func TestNoiseAsksForABetterScore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cfg := DefaultEarsConfig()
		cfg.Act = rapid.Float64Range(0, 1).Draw(t, "act")
		cfg.Noisy = rapid.Float64Range(0, 1).Draw(t, "noisy")
		asked := func(floor float64) float64 {
			e := &Ears{cfg: cfg}
			var pcm [Frame]float32
			for i := range pcm {
				pcm[i] = 0.1 // -20 dBFS
			}
			for range 20 {
				e.levels.take(pcm[:])
			}
			e.levels.floor = floor
			return e.enough(utterance{from: 0, to: 20 * Frame})
		}
		quiet, some, loud := asked(-60), asked(-30), asked(-20)
		const rounding = 1e-12
		if quiet != cfg.Act || some < quiet-rounding || loud < some-rounding || loud != max(cfg.Act, cfg.Noisy) {
			t.Fatalf("in quiet %g, in some noise %g, in loud noise %g", quiet, some, loud)
		}
	})
}
