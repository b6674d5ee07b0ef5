package study

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Curve is a learning curve: the x-th run takes First·x^Slope minutes (T. P. Wright, 1936).
type Curve struct {
	First float64 `json:"first_min"` // minutes of the first run
	Slope float64 `json:"slope"`     // of logarithm on logarithm; below 0 where runs get shorter
	Rate  float64 `json:"rate"`      // what remains of the time with each doubling of the runs: 0.8 is an 80 % curve
	Low   float64 `json:"low"`       // 95 % limits of Rate
	High  float64 `json:"high"`
	R2    float64 `json:"r2"` // share of the spread that the curve explains
	Runs  int     `json:"runs"`
}

// enoughRuns is how many runs a curve needs to be shown as one.
const enoughRuns = 6

// Learn fits a curve to a technician's own runs in their order, by least squares on logarithms. There is none below Least runs, or where
// a time is not positive.
func Learn(runs []float64) (Curve, bool) {
	n := len(runs)
	if n < Least || slices.Min(runs) <= 0 {
		return Curve{}, false
	}
	x, y := make([]float64, n), make([]float64, n)
	for i, minutes := range runs {
		x[i], y[i] = math.Log(float64(i+1)), math.Log(minutes)
	}
	l := fit(x, y)
	off := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 2)}.Quantile(0.975) * l.slopeError
	return Curve{First: math.Exp(l.intercept), Slope: l.slope, Rate: math.Exp2(l.slope), Low: math.Exp2(l.slope - off), High: math.Exp2(l.slope + off),
		R2: l.r2, Runs: n}, true
}

// line is a straight line by least squares.
type line struct {
	intercept, slope float64
	slopeError       float64 // standard error
	r2               float64 // share of the spread that the line explains, 0 where there is none
}

// fit lays a line through at least three points of which not all x are equal.
func fit(x, y []float64) line {
	var l line
	l.intercept, l.slope = stat.LinearRegression(x, y, nil, false)
	var left, apart float64
	mean := stat.Mean(x, nil)
	for i := range x {
		left += math.Pow(y[i]-l.intercept-l.slope*x[i], 2)
		apart += math.Pow(x[i]-mean, 2)
	}
	l.slopeError = math.Sqrt(left / float64(len(x)-2) / apart)
	if stat.Variance(y, nil) > 0 {
		l.r2 = stat.RSquared(x, y, nil, l.intercept, l.slope)
	}
	return l
}

// At is what the curve says of the x-th run, in minutes.
func (c Curve) At(run int) float64 { return c.First * math.Pow(float64(run), c.Slope) }

// Doubt says why the curve is not to be believed, "" where nothing speaks against it.
func (c Curve) Doubt() string {
	format, args := c.DoubtText()
	return fmt.Sprintf(format, args...)
}

// DoubtText is [Curve.Doubt] as a format and its arguments, so that it can be translated.
func (c Curve) DoubtText() (format string, args []any) {
	switch {
	case c.Runs < enoughRuns:
		return "%d runs are too few for a learning curve; it takes %d", []any{c.Runs, enoughRuns}
	case c.Low < 1 && c.High > 1:
		return "the runs spread too much to tell learning from chance", nil
	case c.Slope > 0:
		return "the runs get longer, not shorter: that is no learning", nil
	default:
		return "", nil
	}
}
