package figures

import (
	"cmp"
	"math"
	"slices"

	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/study"
)

func minutes(s labour.Seconds) float64 { return float64(s) / 60 }

// long finds the times of a step that ran long, each held against all the others, and what took place in them.
func (f *Figures) long(step int) {
	s := &f.Steps[step]
	sorted := s.ascending
	times := map[What]int{}
	least := 0.0 // no end that a time is held against lies lower
	if n := len(sorted); n-1 >= manyTimes {
		least = sorted[n-1-rankOfMany(n-1)]
	}
	for i := range s.Times {
		t := &s.Times[i]
		if t.Minutes <= least+f.Floor {
			continue
		}
		beyond := t.Minutes - upperWithout(sorted, t.Minutes, f.prior)
		if !(beyond > f.Floor) {
			continue
		}
		t.Long = true
		s.RanLong++
		for _, w := range t.What.Each() {
			times[w]++
		}
		f.Long = append(f.Long, Long{Run: t.Run, Step: step, Minutes: t.Minutes, Beyond: beyond, What: t.What})
	}
	for _, w := range Whats() {
		if times[w] > 0 {
			s.Why = append(s.Why, Tally{w, times[w]})
		}
	}
	slices.SortStableFunc(s.Why, func(a, b Tally) int { return cmp.Compare(b.Times, a.Times) })
}

// manyTimes is from how many times on an interval of Level is ranked.
const manyTimes = 9

// rankOfMany is how many of so many times lie at or beyond each end of their interval, as study.Next ranks them.
func rankOfMany(n int) int { return int((1-Level)/2*float64(n+1) + 1e-9) }

// upperWithout is the upper end of the interval of all times but one of this length, which is among them; that length itself where the others are too few.
func upperWithout(sorted []float64, minutes float64, prior study.Prior) float64 {
	n := len(sorted)
	at, _ := slices.BinarySearch(sorted, minutes)
	if n-1 >= manyTimes {
		upper := n - 1 - rankOfMany(n-1)
		if at <= upper {
			upper++
		}
		return sorted[upper]
	}
	if i, ok := study.Next(slices.Delete(slices.Clone(sorted), at, at+1), Level, prior); ok {
		return i.High
	}
	return minutes
}

// Efficiency is book hours over hours worked, to 3 decimals (common practice); nil without either.
func Efficiency(bookHours float64, worked labour.Seconds) *float64 {
	if bookHours <= 0 || worked <= 0 {
		return nil
	}
	e := math.Round(1000*bookHours*3600/float64(worked)) / 1000
	return &e
}
