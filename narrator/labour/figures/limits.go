package figures

import (
	"slices"
	"time"

	"stepcaller/narrator/labour/study"
)

// Limits are beyond what the steps of a procedure run long: as much of its figures as many jobs can be held against at little cost.
type Limits struct {
	since time.Time // when the oldest job that they are drawn from began; such a job is held against the others
	floor float64
	prior study.Prior
	steps map[string]limit // by id
}

// limit is that of one step. Of many times a few numbers tell all, of few the times themselves.
type limit struct {
	Outline
	usual   float64   // the median
	count   int       // times
	end     float64   // of the interval of all times
	without float64   // of all but one that lies beyond
	other   float64   // of all but one that does not
	few     []float64 // all of them, ascending, where they are few
}

// Limits draws them from the figures.
func (f *Figures) Limits() Limits {
	l := Limits{floor: f.Floor, prior: f.prior, steps: map[string]limit{}}
	if len(f.Runs) > 0 {
		l.since = f.Runs[0].Started
	}
	for i := range f.Steps {
		s := &f.Steps[i]
		of := limit{Outline: s.Outline, usual: s.Median, count: s.Count}
		if s.Next != nil {
			of.end = s.Next.High
		}
		if n := s.Count; n > manyTimes {
			upper := n - 1 - rankOfMany(n-1)
			of.without, of.other = s.ascending[upper], s.ascending[upper+1]
		} else {
			of.few = s.ascending
		}
		l.steps[s.ID] = of
	}
	return l
}

// Late is a step of a job that ran long.
type Late struct {
	Outline         // of the step
	Minutes float64 // that it took
	Usual   float64 // the median
	Beyond  float64 // the interval's upper end, in minutes
	What    Happened
}

// RanLong lists the steps of a finished job that ran long, in their order. Of the sample it takes when it began, its steps and why it is none. A job that is older than
// those that the limits are drawn from is held against all of them.
func (l Limits) RanLong(s Sample) []Late {
	var all []Late
	if !s.Why.Steps() {
		return nil
	}
	for _, step := range s.Steps {
		of, there := l.steps[step.ID]
		took := minutes(step.Worked)
		if !there || !step.Clean || of.count < study.Least || took <= of.usual {
			continue
		}
		if beyond := took - l.upper(of, took, s.Started); beyond > l.floor {
			all = append(all, Late{of.Outline, took, of.usual, beyond, step.Happened})
		}
	}
	return all
}

// upper is the end beyond which a step of a job ran long.
func (l Limits) upper(of limit, took float64, began time.Time) float64 {
	_, there := slices.BinarySearch(of.few, took)
	switch {
	case began.Before(l.since), of.few != nil && !there:
		return of.end
	case of.few != nil:
		return upperWithout(of.few, took, l.prior)
	case took <= of.without:
		return of.other
	}
	return of.without
}
