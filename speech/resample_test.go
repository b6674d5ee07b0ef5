package speech

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// sine returns n samples of a sine of the given frequency and peak, sampled at
// rate, from time zero.
func sine(n, rate int, hertz, peak float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = peak * math.Sin(2*math.Pi*hertz*float64(i)/float64(rate))
	}
	return out
}

func resampleAll(r *resampler, in []float64, piece int) []float64 {
	var out []float64
	for len(in) > 0 {
		n := min(piece, len(in))
		out = append(out, r.push(in[:n])...)
		in = in[n:]
	}
	return append(out, r.flush()...)
}

// decibels is 20 log10 of the ratio of the power of want to that of its
// difference from got.
func signalToError(got, want []float64) float64 {
	var signal, err float64
	for i, w := range want {
		signal += w * w
		err += (got[i] - w) * (got[i] - w)
	}
	return 10 * math.Log10(signal/err)
}

// A band-limited signal has one right value at every time, so the result is
// held against the sine itself (the sampling theorem).
func TestResamplerIsFaithfulToASine(t *testing.T) {
	for _, from := range []int{8000, 11025, 22050, 22255, 32000, 44100, 48000, 96000} {
		for _, hertz := range []float64{100, 1000, 3000, 6000} {
			if hertz > 0.8*float64(from)/2 {
				continue
			}
			t.Run(fmt.Sprintf("%d at %.0f Hz", from, hertz), func(t *testing.T) {
				got := resampleAll(newResampler(from, Rate), sine(from, from, hertz, 10000), 1000)
				if len(got) != Rate {
					t.Fatalf("a second gives %d samples", len(got))
				}
				edge := Rate / 50
				snr := signalToError(got[edge:Rate-edge], sine(Rate, Rate, hertz, 10000)[edge:Rate-edge])
				t.Logf("signal to error %.0f dB", snr)
				if snr < 75 {
					t.Errorf("signal to error %.1f dB, want 75 or more", snr)
				}
			})
		}
	}
}

func TestResamplerKeepsOutWhatWouldFold(t *testing.T) {
	for _, from := range []int{32000, 44100, 48000} {
		for _, hertz := range []float64{8300, 9000, 12000} {
			got := resampleAll(newResampler(from, Rate), sine(from, from, hertz, 10000), 1000)
			edge := Rate / 50
			power := 0.0
			for _, v := range got[edge : Rate-edge] {
				power += v * v
			}
			down := 10 * math.Log10(power/float64(Rate-2*edge)/(10000*10000/2))
			t.Logf("%d: %.0f Hz is %.0f dB down", from, hertz, -down)
			if down > -70 {
				t.Errorf("%d: %.0f Hz is only %.1f dB down", from, hertz, -down)
			}
		}
	}
}

// However the stream is cut into pieces, the result is the same, and as long
// as the time of the input.
func TestResamplerDoesNotDependOnThePieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.SampledFrom([]int{4000, 8000, 11025, 16000, 22050, 44100, 48000}).Draw(t, "from")
		in := make([]float64, rapid.IntRange(0, 3000).Draw(t, "length"))
		for i := range in {
			in[i] = float64((i*7919)%20001 - 10000)
		}
		whole := resampleAll(newResampler(from, Rate), in, len(in)+1)
		parts := resampleAll(newResampler(from, Rate), in, rapid.IntRange(1, 700).Draw(t, "piece"))
		if want := (len(in)*Rate + from - 1) / from; len(whole) != want || len(parts) != want {
			t.Fatalf("%d samples at %d give %d and %d, want %d", len(in), from, len(whole), len(parts), want)
		}
		for i := range whole {
			if whole[i] != parts[i] {
				t.Fatalf("sample %d differs", i)
			}
		}
	})
}

func BenchmarkResampler(b *testing.B) {
	for _, from := range []int{44100, 48000} {
		b.Run(fmt.Sprint(from), func(b *testing.B) {
			r, in := newResampler(from, Rate), sine(from/100, from, 1000, 10000)
			for b.Loop() {
				r.push(in)
			}
			b.ReportMetric(float64(b.N)/100/b.Elapsed().Seconds(), "x-real-time")
		})
	}
}
