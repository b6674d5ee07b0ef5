package speech

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// example is an impression with what it should be taken for.
type example struct {
	feature []float32
	class   int     // row of the phrase layer; from labels on: none of the phrases; asBefore: whatever it was taken for
	weight  float64 // how much it counts
}

// asBefore is the class of an example that should be taken for what it was
// taken for by the layer that the fitting starts from: other people's speech.
const asBefore = -1

// fitting moves a phrase layer towards examples: it minimises the mean of
// -log(chance of the right class), the chances weighed as the ears weigh them,
// plus half of hold times the squared distance that the rows move.
type fitting struct {
	start  layer
	labels int     // rows below are phrases, the others the rest
	rest   float64 // EarsConfig.Rest
	hold   float64
	fresh  int     // so many labels, the last, are new words: they start from nothing and are held
	loose  float64 // by so much
}

// fit returns the layer at the minimum, or where the steps ran out on the way
// to it.
func (f fitting) fit(examples []example, steps int) (layer, error) {
	rows, cols := f.start.rows, f.start.cols+1 // the bias is a weight of a feature that is always 1
	x := mat.NewDense(len(examples), cols, nil)
	total := 0.0
	for i, e := range examples {
		row := x.RawRowView(i)
		for c, v := range e.feature {
			row[c] = float64(v)
		}
		row[cols-1] = 1
		total += e.weight
	}
	origin := make([]float64, rows*cols)
	for r := range rows {
		for c := range cols - 1 {
			origin[r*cols+c] = float64(f.start.w[r*f.start.cols+c])
		}
		origin[r*cols+cols-1] = float64(f.start.b[r])
	}
	z := mat.NewDense(len(examples), rows, nil)
	z.Mul(x, mat.NewDense(rows, cols, origin).T())
	before := make([][]float64, len(examples)) // chances at the start, of examples that are to stay so
	for i, e := range examples {
		if e.class == asBefore {
			before[i] = slices.Clone(z.RawRowView(i))
			f.chances(before[i])
		}
	}
	grad := mat.NewDense(rows, cols, nil)
	both := func(w []float64) (loss float64) {
		z.Mul(x, mat.NewDense(rows, cols, w).T())
		for i, e := range examples {
			loss += e.weight / total * f.slope(z.RawRowView(i), e.class, before[i])
			for r, v := range z.RawRowView(i) {
				z.RawRowView(i)[r] = v * e.weight / total
			}
		}
		grad.Mul(z.T(), x)
		g := grad.RawMatrix().Data
		for i, v := range w {
			hold := f.hold
			if r := i / cols; r >= f.labels-f.fresh && r < f.labels {
				hold = f.loose
			}
			d := v - origin[i]
			loss += hold / 2 * d * d
			g[i] += hold * d
		}
		return loss
	}
	var at []float64
	var loss float64
	know := func(w []float64) {
		if at == nil || !equal(at, w) {
			loss, at = both(w), append(at[:0], w...)
		}
	}
	result, err := optimize.Minimize(optimize.Problem{
		Func: func(w []float64) float64 { know(w); return loss },
		Grad: func(g, w []float64) { know(w); copy(g, grad.RawMatrix().Data) },
	}, origin, &optimize.Settings{MajorIterations: steps, GradientThreshold: 1e-5}, &optimize.LBFGS{})
	if result == nil {
		return layer{}, fmt.Errorf("fit the last layer: %w", err)
	}
	out := layer{w: make([]float32, rows*f.start.cols), b: make([]float32, rows), rows: rows, cols: f.start.cols}
	for r := range rows {
		for c := range cols - 1 {
			out.w[r*out.cols+c] = float32(result.X[r*cols+c])
		}
		out.b[r] = float32(result.X[r*cols+cols-1])
	}
	return out, nil
}

// chances turns one example's scores into the chances of the rows.
func (f fitting) chances(z []float64) {
	shift := math.Log(f.rest)
	top := math.Inf(-1)
	for r := range z {
		if r >= f.labels {
			z[r] += shift
		}
		top = max(top, z[r])
	}
	sum := 0.0
	for r, v := range z {
		z[r] = math.Exp(v - top)
		sum += z[r]
	}
	for r := range z {
		z[r] /= sum
	}
}

// slope turns one example's scores into the loss's derivatives by them and
// returns the loss. before is its chances at the start, where it is to stay.
func (f fitting) slope(z []float64, class int, before []float64) (loss float64) {
	f.chances(z)
	if before != nil {
		for r, p := range before {
			loss += p * math.Log(max(1e-30, p)/max(1e-30, z[r]))
			z[r] -= p
		}
		return loss
	}
	right := 0.0
	for r, v := range z {
		if f.same(r, class) {
			right += v
		}
	}
	for r, v := range z {
		if f.same(r, class) {
			z[r] -= v / max(1e-30, right)
		}
	}
	return -math.Log(max(1e-30, right))
}

// same reports whether row r stands for class: the rest's rows stand for all of
// the rest.
func (f fitting) same(r, class int) bool {
	return r == class || r >= f.labels && class >= f.labels
}

func equal(a, b []float64) bool {
	for i, v := range a {
		if v != b[i] {
			return false
		}
	}
	return len(a) == len(b)
}
