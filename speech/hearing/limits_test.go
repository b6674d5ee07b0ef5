package hearing_test

import (
	"math"
	"testing"

	"stepcaller/speech/hearing"
)

// R. G. Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3.
func TestWilsonIntervals(t *testing.T) {
	for _, c := range []struct {
		k, n   int
		lo, hi float64
	}{{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}} {
		got := hearing.Wilson(c.k, c.n)
		if math.Abs(got[0]-c.lo) > 5e-5 || math.Abs(got[1]-c.hi) > 5e-5 {
			t.Errorf("%d of %d: %.4f to %.4f, published are %.4f to %.4f", c.k, c.n, got[0], got[1], c.lo, c.hi)
		}
	}
	if got := hearing.Wilson(0, 0); got != (hearing.Interval{0, 1}) {
		t.Errorf("none of none: %v", got)
	}
	if got := hearing.Wilson(20, 20); got[1] != 1 || math.Abs(got[0]-(1-0.1611)) > 5e-5 {
		t.Errorf("20 of 20: %v, the mirror of 0 of 20 is wanted", got)
	}
}

// None and all are limits that rounding does not blur.
func TestWilsonReachesItsEnds(t *testing.T) {
	for n := 1; n < 2000; n++ {
		if lo, hi := hearing.Wilson(0, n)[0], hearing.Wilson(n, n)[1]; lo != 0 || hi != 1 {
			t.Fatalf("of %d: none from %v, all up to %v", n, lo, hi)
		}
	}
}

// F. Garwood, Biometrika 28 (1936); the one-sided limit for none is -ln 0.05.
func TestPoissonLimits(t *testing.T) {
	for _, c := range []struct {
		k      int
		lo, hi float64
	}{{0, 0, 3.689}, {1, 0.025, 5.572}, {2, 0.242, 7.225}, {5, 1.623, 11.668}, {10, 4.795, 18.390}} {
		got := hearing.Poisson(c.k)
		if math.Abs(got[0]-c.lo) > 5e-4 || math.Abs(got[1]-c.hi) > 5e-4 {
			t.Errorf("%d events: %.3f to %.3f, published are %.3f to %.3f", c.k, got[0], got[1], c.lo, c.hi)
		}
	}
	if got, want := hearing.PoissonUpper(0), -math.Log(0.05); math.Abs(got-want) > 1e-9 {
		t.Errorf("no event: one-sided below %v, want %v", got, want)
	}
	// Directly: so few events have a chance of 2.5 % at the upper limit.
	hi, sum := hearing.Poisson(7)[1], 0.0
	for i := range 8 {
		term := math.Exp(-hi)
		for j := 1; j <= i; j++ {
			term *= hi / float64(j)
		}
		sum += term
	}
	if math.Abs(sum-0.025) > 1e-9 {
		t.Errorf("7 events or fewer have a chance of %v at the upper limit", sum)
	}
}
