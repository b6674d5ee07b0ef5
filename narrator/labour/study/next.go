package study

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Basis says what an interval stands on.
type Basis string

// The bases.
const (
	Ranked Basis = "ranked" // the times themselves in order: nothing is assumed of their shape
	Logs   Basis = "logs"   // a t distribution of the logarithms: assumes times that lean to the right
)

// Interval is where the next time will lie, in minutes, with a chance of Level.
type Interval struct {
	Low   float64 `json:"low_min"`
	High  float64 `json:"high_min"`
	Level float64 `json:"level"` // as asked for; Ranked intervals hold at least so much
	Basis Basis   `json:"basis"`
	Count int     `json:"count"` // times that it stands on
}

// Least is how many times an interval needs. Below, one odd job decides everything.
const Least = 3

// Prior is how much times usually spread, gathered from other steps of the procedure: it steadies the spread of a few
// times. The zero Prior knows nothing.
type Prior struct {
	Spread  float64 // standard deviation of the logarithms
	Freedom float64 // degrees of freedom that it counts for
}

// Next is the prediction interval for the next time: a share of level, such as 0.8, of next times lies in it. There is
// none below Least times, or where one is not positive.
//
// With enough times it is the span between two of them by rank: of n times in random order the next one falls
// below the k-th smallest with a chance of k/(n+1), whatever their distribution (Wilks 1941). Else it is Student's interval for one further value,
// m ± t·s·√(1+1/n), on logarithms (any statistics handbook), its spread moderated by the prior (Smyth 2004).
func Next(times []float64, level float64, prior Prior) (Interval, bool) {
	n := len(times)
	if n < Least || slices.Min(times) <= 0 {
		return Interval{}, false
	}
	tail := (1 - level) / 2
	if k := int(tail*float64(n+1) + 1e-9); k >= 1 {
		sorted := ascending(times)
		return Interval{sorted[k-1], sorted[n-k], level, Ranked, n}, true
	}
	p := predict(times, prior)
	return Interval{p.quantile(tail), p.quantile(1 - tail), level, Logs, n}, true
}

// Beat is the chance that the next time is shorter than limit, in minutes. There is none below Least times.
func Beat(times []float64, limit float64, prior Prior) (float64, bool) {
	if len(times) < Least || slices.Min(times) <= 0 {
		return 0, false
	}
	if limit <= 0 {
		return 0, true
	}
	p := predict(times, prior)
	return p.t.CDF((math.Log(limit) - p.mean) / p.scale), true
}

// Quote is the time that the next one beats with this chance, in minutes. There is none below Least times.
func Quote(times []float64, chance float64, prior Prior) (float64, bool) {
	if len(times) < Least || slices.Min(times) <= 0 {
		return 0, false
	}
	return predict(times, prior).quantile(chance), true
}

// prediction is the distribution of the next time's logarithm.
type prediction struct {
	mean, scale float64
	t           distuv.StudentsT
}

func predict(times []float64, prior Prior) prediction {
	logs := make([]float64, len(times))
	for i, m := range times {
		logs[i] = math.Log(m)
	}
	n := float64(len(times))
	mean, variance := stat.MeanVariance(logs, nil)
	free := n - 1 + prior.Freedom
	variance = ((n-1)*variance + prior.Freedom*prior.Spread*prior.Spread) / free
	scale := max(math.Sqrt(variance*(1+1/n)), math.SmallestNonzeroFloat64)
	return prediction{mean, scale, distuv.StudentsT{Mu: 0, Sigma: 1, Nu: free}}
}

func (p prediction) quantile(q float64) float64 { return math.Exp(p.mean + p.scale*p.t.Quantile(q)) }

// Pool is the usual spread of several groups of times, such as the steps of a procedure: the median of their spreads,
// counted as four degrees of freedom, so that a step's own times outweigh it from the fifth on. Groups of fewer than Least
// times are passed over; without any the Prior is zero.
func Pool(groups [][]float64) Prior {
	var spreads []float64
	for _, times := range groups {
		if len(times) < Least || slices.Min(times) <= 0 {
			continue
		}
		logs := make([]float64, len(times))
		for i, m := range times {
			logs[i] = math.Log(m)
		}
		spreads = append(spreads, stat.StdDev(logs, nil))
	}
	if len(spreads) == 0 {
		return Prior{}
	}
	return Prior{Spread: Median(spreads), Freedom: 4}
}

// ascending is a sorted copy, or the times themselves where they are sorted.
func ascending(times []float64) []float64 {
	if slices.IsSorted(times) {
		return times
	}
	times = slices.Clone(times)
	slices.Sort(times)
	return times
}

// Median is the middle value, the mean of the two middle ones where their number is even; NaN of none.
func Median(values []float64) float64 {
	n := len(values)
	if n == 0 {
		return math.NaN()
	}
	sorted := ascending(values)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// Quartiles are the values below which a quarter and three quarters lie, by linear interpolation between ranks (Hyndman and Fan 1996,
// type 7); NaN of none.
func Quartiles(values []float64) (low, high float64) {
	if len(values) == 0 {
		return math.NaN(), math.NaN()
	}
	sorted := ascending(values)
	at := func(q float64) float64 {
		whole, part := math.Modf(q * float64(len(sorted)-1))
		i := int(whole)
		return sorted[i] + part*(sorted[min(i+1, len(sorted)-1)]-sorted[i])
	}
	return at(0.25), at(0.75)
}
