package speech

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The direct transform of the definition, term by term, is the reference.
func TestMelAgreesWithDirectTransform(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	pcm := make([]float32, 8*Frame)
	for i := range pcm {
		pcm[i] = float32(0.3*math.Sin(2*math.Pi*440*float64(i)/Rate) + 0.02*r.NormFloat64())
	}
	m := newMel(0)
	var out [melBands]float32
	var mean [melBands]float64
	for f := range 8 {
		m.frame(pcm[f*Frame:(f+1)*Frame], out[:])
		for b := range melBands {
			e := math.Log(melFloor + directBand(pcm, (f+1)*Frame-melWindow, b))
			mean[b] += (e - mean[b]) / float64(f+1)
			if want := (e - mean[b]) * melScale; math.Abs(want-float64(out[b])) > 1e-5 {
				t.Fatalf("frame %d band %d: %v, by the definition %v", f, b, out[b], want)
			}
		}
	}
}

// directBand is the energy of band b in the window that begins at sample at.
func directBand(pcm []float32, at, b int) (energy float64) {
	mel := func(f float64) float64 { return 2595 * math.Log10(1+f/700) }
	hz := func(i int) float64 {
		return 700 * (math.Pow(10, (mel(60)+(mel(7600)-mel(60))*float64(i)/41)/2595) - 1)
	}
	for k := range 257 {
		f := float64(k) * 16000 / 512
		w := min((f-hz(b))/(hz(b+1)-hz(b)), (hz(b+2)-f)/(hz(b+2)-hz(b+1)))
		if w <= 0 {
			continue
		}
		var re, im float64
		for n := range melWindow {
			if at+n < 0 {
				continue
			}
			v := float64(pcm[at+n]) * (0.5 - 0.5*math.Cos(2*math.Pi*float64(n)/399))
			re += v * math.Cos(2*math.Pi*float64(k*n)/512)
			im -= v * math.Sin(2*math.Pi*float64(k*n)/512)
		}
		energy += w * (re*re + im*im)
	}
	return energy
}

func TestDitherKeepsSilenceFinite(t *testing.T) {
	m := newMel(1)
	var out [melBands]float32
	var silence [Frame]float32
	for range 500 {
		m.frame(silence[:], out[:])
		for b, v := range out {
			if math.Abs(float64(v)) > 2 {
				t.Fatalf("band %d of digital silence is %v", b, v)
			}
		}
	}
}

func TestMelAllocatesNothing(t *testing.T) {
	m := newMel(1)
	var out [melBands]float32
	var pcm [Frame]float32
	if n := testing.AllocsPerRun(100, func() { m.frame(pcm[:], out[:]) }); n != 0 {
		t.Fatalf("%v allocations a frame", n)
	}
}
