package speech_test

import (
	"math"
	"testing"

	"stepcaller/speech"
)

// share is how much of the power of pcm that lies at hertz, by the discrete
// Fourier transform at that one frequency.
func share(pcm []int16, hertz float64) float64 {
	var re, im, power float64
	for i, v := range pcm {
		x := float64(v)
		re += x * math.Cos(2*math.Pi*hertz*float64(i)/speech.Rate)
		im += x * math.Sin(2*math.Pi*hertz*float64(i)/speech.Rate)
		power += x * x
	}
	return 2 * (re*re + im*im) / (power * float64(len(pcm)))
}

func TestTonesAreSoftAndToldApart(t *testing.T) {
	check := func(name string, pcm []int16, ms int, hertz float64) {
		t.Helper()
		if len(pcm) != ms*speech.Rate/1000 {
			t.Errorf("%s lasts %v", name, speech.Samples(len(pcm)).Duration())
		}
		if s := share(pcm, hertz); s < 0.7 {
			t.Errorf("%s has %.2f of its power at %.0f Hz", name, s, hertz)
		}
		before := 0
		for i, v := range append(pcm, 0) {
			if v > 8192 || v < -8192 {
				t.Fatalf("%s reaches %d at %d, above -12 dBFS", name, v, i)
			}
			// The steepest rightful step: the slope of both partials at level.
			if step := int(v) - before; step > 3200 || step < -3200 {
				t.Fatalf("%s clicks at %d: a step of %d", name, i, step)
			}
			before = int(v)
		}
		if pcm[0] != 0 || pcm[len(pcm)-1] != 0 {
			t.Errorf("%s does not begin and end in silence", name)
		}
	}
	check("heard", speech.HeardTone(), 60, 660)
	check("failed", speech.FailedTone(), 140, 330)
	unsure := speech.UnsureTone()
	check("unsure, first note", unsure[:1120], 70, 523)
	check("unsure, second note", unsure[1120:], 90, 784)
}
