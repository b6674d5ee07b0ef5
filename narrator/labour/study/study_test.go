package study_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"stepcaller/narrator/labour/study"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// The time-study formula of the International Labour Office's Introduction to Work Study: readings 8, 7, 8, 9, 7 at 95 % and ±10 % give 3.68, so 4.
func TestILO(t *testing.T) {
	if n := study.ILO([]float64{8, 7, 8, 9, 7}, 0.1); n != 4 {
		t.Errorf("%d readings, want 4", n)
	}
	if n := study.ILO([]float64{5, 5, 5}, 0.1); n != 0 {
		t.Errorf("equal readings want %d more", n)
	}
	if n := study.ILO([]float64{5}, 0.1); n != 0 {
		t.Errorf("one reading gives %d", n)
	}
}

// Niebel, Methods, Standards and Work Design, worked example: n' = 10, mean 0.30, s = 0.03, t = 2.262, k = 0.05 give 20.47, so 21.
func TestNiebel(t *testing.T) {
	if n := study.Niebel(0.30, 0.03, 10, 0.95, 0.05); n != 21 {
		t.Errorf("%d readings, want 21", n)
	}
}

// An 80 % learning curve (T. P. Wright, 1936): 100 for the first unit, 80 for the second, 64 for the fourth, 51.2 for the eighth.
func TestLearnFindsWrightsCurve(t *testing.T) {
	var runs []float64
	for x := 1; x <= 8; x++ {
		runs = append(runs, 100*math.Pow(float64(x), math.Log2(0.8)))
	}
	near(t, "the second unit", runs[1], 80, 1e-9)
	c, ok := study.Learn(runs)
	if !ok || c.Doubt() != "" {
		t.Fatalf("no curve: %+v %s", c, c.Doubt())
	}
	near(t, "rate", c.Rate, 0.8, 1e-12)
	near(t, "fourth", c.At(4), 64, 1e-9)
	near(t, "eighth", c.At(8), 51.2, 1e-9)
	near(t, "R2", c.R2, 1, 1e-9)
}

func TestACurveIsDoubted(t *testing.T) {
	for _, c := range []struct {
		why  string
		runs []float64
	}{
		{"5 runs are too few for a learning curve; it takes 6", []float64{50, 45, 44, 40, 39}},
		{"the runs spread too much to tell learning from chance", []float64{50, 30, 60, 35, 55, 40, 52}},
		{"the runs get longer, not shorter: that is no learning", []float64{30, 36, 40, 43, 46, 48, 50}},
	} {
		got, ok := study.Learn(c.runs)
		if !ok || got.Doubt() != c.why {
			t.Errorf("%v: %v, %q", c.runs, ok, got.Doubt())
		}
	}
	if _, ok := study.Learn([]float64{3, 2}); ok {
		t.Error("two runs make a curve")
	}
	if c, ok := study.Learn([]float64{3, 3, 3, 3, 3, 3}); !ok || math.IsNaN(c.R2) || math.IsNaN(c.Low) {
		t.Errorf("equal runs give %+v", c)
	}
}

// NIST StRD NumAcc1: 10000001, 10000003, 10000002 have a mean of 10000002 and a standard deviation of exactly 1.
func TestTheLibraryIsExactEnough(t *testing.T) {
	mean, sd := stat.MeanStdDev([]float64{10000001, 10000003, 10000002}, nil)
	near(t, "mean", mean, 10000002, 0)
	near(t, "standard deviation", sd, 1, 1e-12)
}

// Student's interval on logarithms, worked by hand: logs 0, 1, 2 have mean 1 and s 1; t(0.9; 2) = 1.8856 (Student's tables), times
// the root of 1 + 1/3 is 2.1773.
func TestNextOfThree(t *testing.T) {
	i, ok := study.Next([]float64{1, math.E, math.E * math.E}, 0.8, study.Prior{})
	if !ok || i.Basis != study.Logs || i.Count != 3 {
		t.Fatalf("%+v %v", i, ok)
	}
	near(t, "log low", math.Log(i.Low), 1-2.1773, 1e-3)
	near(t, "log high", math.Log(i.High), 1+2.1773, 1e-3)
}

// Of nine times the next lies between the shortest and the longest with a chance of 8/10, whatever the distribution (Wilks 1941).
func TestNextOfNineIsRanked(t *testing.T) {
	i, ok := study.Next([]float64{9, 1, 8, 2, 7, 3, 6, 4, 50}, 0.8, study.Prior{})
	if !ok || i.Basis != study.Ranked || i.Low != 1 || i.High != 50 {
		t.Errorf("%+v %v", i, ok)
	}
	for _, few := range [][]float64{nil, {4}, {4, 5}, {4, 0, 5}, {4, -1, 5}} {
		if i, ok := study.Next(few, 0.8, study.Prior{}); ok {
			t.Errorf("%v gives %+v", few, i)
		}
	}
}

// A quote and the chance of beating it are each other's inverse, and a longer quote is beaten more often.
func TestQuoteAndBeatAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		times := rapid.SliceOfN(rapid.Float64Range(1, 200), 3, 30).Draw(t, "times")
		p := study.Prior{Spread: rapid.Float64Range(0.05, 1).Draw(t, "spread"), Freedom: 4}
		chance := rapid.Float64Range(0.05, 0.95).Draw(t, "chance")
		quote, ok := study.Quote(times, chance, p)
		if !ok {
			t.Fatal("no quote")
		}
		back, _ := study.Beat(times, quote, p)
		more, _ := study.Beat(times, quote*1.1, p)
		if math.Abs(back-chance) > 1e-6 || more < back {
			t.Fatalf("quoted %v for %v, which is beaten with %v, a longer one with %v", quote, chance, back, more)
		}
	})
}

// Scaling all times scales the interval: minutes or seconds, it is the same statement.
func TestNextScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		times := rapid.SliceOfN(rapid.Float64Range(0.5, 100), 3, 40).Draw(t, "times")
		k := rapid.Float64Range(0.1, 60).Draw(t, "scale")
		scaled := make([]float64, len(times))
		for i := range times {
			scaled[i] = times[i] * k
		}
		a, _ := study.Next(times, 0.8, study.Prior{})
		b, _ := study.Next(scaled, 0.8, study.Prior{})
		if math.Abs(a.Low*k-b.Low) > 1e-6*b.Low || math.Abs(a.High*k-b.High) > 1e-6*b.High || a.Low > a.High {
			t.Fatalf("%+v times %v is not %+v", a, k, b)
		}
	})
}

func TestPoolSteadiesAFewTimes(t *testing.T) {
	prior := study.Pool([][]float64{{10, 12, 11, 14}, {20, 25, 22}, {5, 5.5, 6, 5.2, 5.8}, {3}})
	if prior.Freedom != 4 || prior.Spread < 0.05 || prior.Spread > 0.2 {
		t.Fatalf("%+v", prior)
	}
	alone, _ := study.Next([]float64{10, 10.01, 10.02}, 0.8, study.Prior{})
	steadied, _ := study.Next([]float64{10, 10.01, 10.02}, 0.8, prior)
	if steadied.High-steadied.Low < 10*(alone.High-alone.Low) {
		t.Errorf("three like times give %+v, steadied %+v", alone, steadied)
	}
	if p := study.Pool([][]float64{{3}, {4, 5}}); p != (study.Prior{}) {
		t.Errorf("too few give %+v", p)
	}
}

// Type 7 quantiles of 1, 2, 3, 4 are 1.75 and 3.25 (R's documentation of quantile; from memory).
func TestMedianAndQuartiles(t *testing.T) {
	near(t, "median", study.Median([]float64{4, 1, 3, 2}), 2.5, 0)
	low, high := study.Quartiles([]float64{4, 1, 3, 2})
	near(t, "lower quartile", low, 1.75, 1e-12)
	near(t, "upper quartile", high, 3.25, 1e-12)
	if !math.IsNaN(study.Median(nil)) {
		t.Error("the median of nothing is a number")
	}
}
