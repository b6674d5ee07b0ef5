package speech_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// room is what a loudspeaker's sound becomes on the way to the microphone:
// delay, then a direct sound and an exponential tail of the decay given in
// samples. Its gain is 1.
func room(delay, decay int, seed uint64) []float64 {
	r := rand.New(rand.NewPCG(seed, 5))
	h := make([]float64, delay+4*decay)
	h[delay] = 1
	for i := 8; i < 4*decay; i++ {
		h[delay+i] = 0.08 * r.NormFloat64() * math.Exp(-float64(i)/float64(decay))
	}
	var sum float64
	for _, v := range h {
		sum += v * v
	}
	for i := range h {
		h[i] /= math.Sqrt(sum)
	}
	return h
}

// through adds pcm as heard through h, gain in dB, to the track.
func (t *track) through(pcm []int16, h []float64, gain float64) {
	n := 1
	for n < len(pcm)+len(h) {
		n *= 2
	}
	k := math.Pow(10, gain/20) / 32768 / float64(n)
	x, y := make([]float64, n), make([]float64, n)
	for i, v := range pcm {
		x[i] = k * float64(v)
	}
	copy(y, h)
	fft := fourier.NewFFT(n)
	a, b := fft.Coefficients(nil, x), fft.Coefficients(nil, y)
	for i := range a {
		a[i] *= b[i]
	}
	for i, v := range fft.Sequence(x, a)[:len(t.pcm)] {
		t.pcm[i] += v
	}
}

// ownVoice is a loudspeaker track of sentences 0.7 s apart, as loud as the
// player lets a voice be.
func ownVoice(t testing.TB, seconds float64, sentences ...string) []int16 {
	return ownVoiceOf(t, "kal16", seconds, sentences...)
}

func ownVoiceOf(t testing.TB, voice string, seconds float64, sentences ...string) []int16 {
	out := newTrack(seconds, 1)
	clear(out.pcm)
	at := 8000
	for _, s := range sentences {
		at = out.put(at, spoken(t, voice, s), -20) + 11200
	}
	return out.samples()
}

var ownSentences = []string{
	"Say next, repeat or torque.", "Next.", "Torque.", "Stop.", "Step four. Tighten the eight bolts in a cross, to twenty five.",
	"Torque.", "Say yes or no.", "Yes.", "Undo that.", "Next.", "Hold the job.", "What can I say.",
}

func TestOwnVoiceIsNeverObeyed(t *testing.T) {
	played := ownVoice(t, 32, ownSentences...)
	// The voice leaves at -20 dBFS; a technician is at -25.
	for i, at := range []struct {
		gain  float64
		delay int
	}{{-25, 320}, {-15, 4000}, {-5, 1600}, {5, 320}, {5, 4000}} {
		mic := newTrack(32, 9)
		mic.noise(-60)
		mic.through(played, room(at.delay, 400+200*i, uint64(i)), at.gain)
		for _, h := range listen(newEars(t), mic.samples(), played) {
			where := fmt.Sprintf("echo %+.0f dB to a technician, %d ms late", at.gain+5, at.delay/16)
			if h.Label != "" {
				t.Errorf("%s: %q heard at %.2f s, score %.2f", where, h.Label, h.From.Duration().Seconds(), h.Score)
			} else {
				t.Logf("%s: other speech from %.2f to %.2f s", where, h.From.Duration().Seconds(), h.To.Duration().Seconds())
			}
		}
	}
}

// interrupted counts how many of the words said over our own voice are heard.
func interrupted(t testing.TB, gain float64) (said, heard, other int) {
	long := "Step seven. Fit the new gasket with the printed side up, then set the cover down over the two dowels and start all bolts by hand."
	played := ownVoice(t, 34, "Ready when you are. This is the bench job from this morning.", long, long, long)
	for _, voice := range []string{"en-us+f3", "en-gb+m5"} {
		mic := newTrack(34, 4)
		mic.noise(-60)
		mic.through(played, room(1600, 500, 3), gain)
		var at []int
		words := []string{"next", "stop", "repeat", "torque", "hold the job", "next", "stop", "louder"}
		for i, w := range words {
			at = append(at, 16000*7+i*48000)
			mic.put(at[i], spoken(t, voice, w), -25)
		}
		got := listen(newEars(t), mic.samples(), played)
		for i, w := range words {
			said++
			for _, h := range got {
				if h.Label == w && int(h.From) > at[i]-3200 && int(h.From) < at[i]+16000 {
					heard++
					break
				}
			}
		}
		t.Log(voice, labels(got))
		for _, h := range got {
			if h.Label == "" {
				other++
			}
		}
	}
	return said, heard, other
}

func TestTechnicianInterruptsOurVoice(t *testing.T) {
	said, heard, _ := interrupted(t, -5) // as loud as the technician
	if heard*3 < said*2 {
		t.Errorf("%d of %d words over our own voice were heard, two thirds are asked for", heard, said)
	}
}

func BenchmarkInterrupting(b *testing.B) {
	for _, gain := range []float64{-25, -15, -5, 0, 5} {
		b.Run(fmt.Sprintf("echo%+.0fdB", gain+5), func(b *testing.B) {
			for b.Loop() {
				said, heard, other := interrupted(b, gain)
				b.Logf("%d of %d words over our own voice heard; other speech %d times", heard, said, other)
			}
		})
	}
}
