package speech

import (
	"math"
	"math/rand/v2"
)

// din is noise of a shop by formula, one kind after another, endless and at 0 dB
// in the mean: coloured noise, a compressor's hum and strokes, a grinder's
// whine, blows of an impact wrench, clicks of a ratchet. The training
// (speech/training/mix.py) mixes in the like.
type din struct {
	r     *rand.Rand
	left  int // samples of the kind at hand
	next  func() float64
	power float64 // of the kind, followed
}

const dinKinds = 5

func newDin(seed uint64) *din { return &din{r: rand.New(rand.NewPCG(seed, 3))} }

// change begins another kind of noise.
func (d *din) change() {
	kind := []func() func() float64{d.coloured, d.compressor, d.grinder, d.blows, d.coloured}
	d.next = kind[d.r.IntN(dinKinds)]()
	d.left = Rate + d.r.IntN(2*Rate)
	d.power = 0
	for range Rate / 2 { // measured before it is heard
		v := d.next()
		d.power += v * v / (Rate / 2)
	}
}

// sample is the next sample, of an effective value of 1.
func (d *din) sample() float64 {
	if d.left == 0 {
		d.change()
	}
	d.left--
	return d.next() / math.Sqrt(d.power+1e-12)
}

// coloured is noise that falls by 0 to 12 dB an octave above a corner.
func (d *din) coloured() func() float64 {
	one, two := d.pole(), d.pole()
	var a, b float64
	return func() float64 {
		a += (d.r.NormFloat64() - a) * one
		b += (a - b) * two
		return b
	}
}

// pole is the coefficient of a low pass of 150 to 9000 Hz, evenly in octaves;
// one in three lets everything through.
func (d *din) pole() float64 {
	if d.r.IntN(3) == 0 {
		return 1
	}
	return 1 - math.Exp(-2*math.Pi*150*math.Pow(60, d.r.Float64())/Rate)
}

// compressor is a hum with harmonics and hiss that swell with every stroke.
func (d *din) compressor() func() float64 {
	base := (24 + 35*d.r.Float64()) / Rate
	hiss := 0.1 + 0.9*d.r.Float64()
	var level, phase [24]float64
	for h := range level {
		level[h], phase[h] = d.r.Float64()/math.Pow(float64(h+1), 0.7), d.r.Float64()
	}
	t := 0.0
	return func() float64 {
		t += base
		stroke := math.Sin(math.Pi * t)
		sum := 0.0
		for h, v := range level {
			sum += v * math.Sin(2*math.Pi*(t*float64(h+1)+phase[h]))
		}
		return sum*(1+0.5*stroke) + d.r.NormFloat64()*hiss*(1+0.7*stroke)
	}
}

// grinder is a whine that bends, and a hiss of high notes.
func (d *din) grinder() func() float64 {
	whine, bend, hiss := 180+700*d.r.Float64(), 0.2+d.r.Float64(), 0.3+d.r.Float64()
	var level [8]float64
	for h := range level {
		level[h] = d.r.Float64()
	}
	var t, phase, before float64
	return func() float64 {
		t += 1.0 / Rate
		phase += whine * (1 + 0.1*math.Sin(2*math.Pi*bend*t)) / Rate
		sum := 0.0
		for h, v := range level {
			sum += v * math.Sin(2*math.Pi*phase*float64(h+1))
		}
		white := d.r.NormFloat64()
		high := white - before
		before = white
		return sum + high*hiss
	}
}

// blows are an impact wrench's or, short and few, a ratchet's.
func (d *din) blows() func() float64 {
	rate, decay := 14+18*d.r.Float64(), 0.004+0.02*d.r.Float64()
	if d.r.IntN(2) == 0 {
		rate, decay = 6+16*d.r.Float64(), 0.001+0.004*d.r.Float64()
	}
	var pitch, level [4]float64
	for i := range pitch {
		pitch[i], level[i] = 300+5000*d.r.Float64(), d.r.Float64()
	}
	t := 0.0
	return func() float64 {
		t += 1.0 / Rate
		_, part := math.Modf(t * rate)
		since := part / rate
		ring := 0.6 * d.r.NormFloat64()
		for i, f := range pitch {
			ring += level[i] * math.Sin(2*math.Pi*f*since)
		}
		return math.Exp(-since/decay)*ring + 0.02*d.r.NormFloat64()
	}
}
