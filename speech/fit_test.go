package speech

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The derivative of the loss, by finite differences.
func TestSlopeIsTheDerivative(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	f := fitting{labels: 4, rest: 0.12}
	for class := asBefore; class < 6; class++ {
		z := make([]float64, 6)
		var before []float64
		for i := range z {
			z[i] = r.NormFloat64()
		}
		if class == asBefore {
			before = make([]float64, 6)
			for i := range before {
				before[i] = r.NormFloat64()
			}
			f.chances(before)
		}
		slope := slices.Clone(z)
		f.slope(slope, class, before)
		for i := range z {
			const h = 1e-6
			up, down := slices.Clone(z), slices.Clone(z)
			up[i] += h
			down[i] -= h
			if want := (f.slope(up, class, before) - f.slope(down, class, before)) / (2 * h); math.Abs(slope[i]-want) > 1e-5 {
				t.Errorf("class %d, row %d: %.6f, by differences %.6f", class, i, slope[i], want)
			}
		}
	}
}

// With one feature, no rest and examples split p to 1-p, the fitted chance is p
// and the scores differ by log(p/(1-p)): logistic regression's own solution.
func TestFitFindsTheShareOfExamples(t *testing.T) {
	start := layer{w: make([]float32, 3), b: make([]float32, 3), rows: 3, cols: 1}
	start.b[2] = -40 // the rest, out of the way
	var examples []example
	for i := range 10 {
		class := 0
		if i < 3 {
			class = 1
		}
		examples = append(examples, example{[]float32{0}, class, 1})
	}
	got, err := fitting{start: start, labels: 2, rest: 1, hold: 1e-9}.fit(examples, 200)
	if err != nil {
		t.Fatal(err)
	}
	if d, want := float64(got.b[0]-got.b[1]), math.Log(7.0/3); math.Abs(d-want) > 1e-3 {
		t.Errorf("scores differ by %.4f, want %.4f", d, want)
	}
}

func TestWhatIsAsBeforeMovesNothing(t *testing.T) {
	k, err := trained()
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 1))
	var examples []example
	for range 20 {
		x := make([]float32, k.phrase.cols)
		for i := range x {
			x[i] = float32(max(0, r.NormFloat64()))
		}
		examples = append(examples, example{x, asBefore, 1})
	}
	got, err := fitting{start: k.phrase, labels: k.labels, rest: 0.12, hold: 0.1}.fit(examples, 20)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range got.w {
		if math.Abs(float64(v-k.phrase.w[i])) > 1e-6 {
			t.Fatalf("weight %d moved from %v to %v", i, k.phrase.w[i], v)
		}
	}
}

// The holder's weight decides how far rows move: the more, the less.
func TestHoldHolds(t *testing.T) {
	k, err := trained()
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float32, k.phrase.cols)
	for i := range x {
		x[i] = float32(i % 3)
	}
	last := math.Inf(1)
	for _, hold := range []float64{0.01, 0.1, 1, 10} {
		got, err := fitting{start: k.phrase, labels: k.labels, rest: 0.12, hold: hold}.fit([]example{{x, 3, 1}}, 100)
		if err != nil {
			t.Fatal(err)
		}
		far := 0.0
		for i, v := range got.w {
			far += math.Pow(float64(v-k.phrase.w[i]), 2)
		}
		if far >= last {
			t.Errorf("hold %g moves by %g, a looser one by %g", hold, far, last)
		}
		last = far
	}
}
