package hearing

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is the lower and the upper limit of what a figure may be.
type Interval [2]float64

// Wilson is the 95 % score interval of a proportion of k in n (E. B. Wilson,
// Journal of the American Statistical Association 22, 1927). With n = 0 it is
// everything from 0 to 1.
func Wilson(k, n int) Interval {
	if n == 0 {
		return Interval{0, 1}
	}
	z := distuv.UnitNormal.Quantile(0.975)
	p, m := float64(k)/float64(n), float64(n)
	centre := p + z*z/(2*m)
	reach := z * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	i := Interval{(centre - reach) / (1 + z*z/m), (centre + reach) / (1 + z*z/m)}
	if k == 0 {
		i[0] = 0 // exactly, as rounding may not have it
	}
	if k == n {
		i[1] = 1
	}
	return i
}

// Poisson is the exact 95 % interval of the expected number of events where k
// were counted (F. Garwood, Biometrika 28, 1936).
func Poisson(k int) (i Interval) {
	if k > 0 {
		i[0] = chiSquared(0.025, 2*k) / 2
	}
	i[1] = chiSquared(0.975, 2*k+2) / 2
	return i
}

// PoissonUpper is the one-sided 95 % upper limit of the expected number of
// events where k were counted (Garwood, 1936).
func PoissonUpper(k int) float64 { return chiSquared(0.95, 2*k+2) / 2 }

func chiSquared(p float64, degrees int) float64 {
	return distuv.ChiSquared{K: float64(degrees)}.Quantile(p)
}

// quantile is the least value that at least a share p of the values reach not
// above; nil where there are none.
func quantile(p float64, values []float64) *float64 {
	if len(values) == 0 {
		return nil
	}
	sorted := slices.Sorted(slices.Values(values))
	q := stat.Quantile(p, stat.Empirical, sorted, nil)
	return &q
}
