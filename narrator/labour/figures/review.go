package figures

import (
	"cmp"
	"slices"

	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/study"
)

// Review holds one job against all others of its procedure.
type Review struct {
	Job       string          `json:"job"`
	Procedure string          `json:"procedure"`  // id
	Why       Why             `json:"why"`        // it is no sample, "" for a sample
	Worked    float64         `json:"worked_min"` //
	BookHours float64         `json:"book_hours"`
	Count     int             `json:"count"` // other jobs that it is held against
	Next      *study.Interval `json:"next"`  // of those; null below study.Least
	Long      bool            `json:"long"`
	Beyond    float64         `json:"beyond_min"`    // the interval's upper end, 0 within
	Comebacks float64         `json:"comebacks_min"` // of everybody, in jobs that came back from this one
	Steps     []Reviewed      `json:"steps"`         // as on the sheet
}

// Reviewed is one step of a job.
type Reviewed struct {
	ID        string          `json:"id"`
	Number    int             `json:"number"`
	Title     string          `json:"title"`
	Worked    float64         `json:"worked_min"`
	Expected  Expected        `json:"expected"`
	Count     int             `json:"count"` // other times that it is held against
	Next      *study.Interval `json:"next"`  // of those; null below study.Least
	Long      bool            `json:"long"`
	Beyond    float64         `json:"beyond_min"` // the interval's upper end, 0 within
	Share     float64         `json:"share"`      // of the job's worked time, 0..1
	Cumulated float64         `json:"cumulated"`  // share of this step and of all that took more
	Happened  []Happening     `json:"happened"`   // in order of time
}

// Review holds a job's sheet against the figures of its procedure. The job's own times are left out of what it is held against. Nil
// figures, of a procedure of which no job is finished, give a review without intervals.
func (f *Figures) Review(s labour.Sheet) Review {
	r := Review{Job: s.Job, Procedure: s.Procedure, Worked: minutes(s.Worked), BookHours: s.BookHours, Steps: []Reviewed{}}
	for _, step := range s.Steps {
		r.Steps = append(r.Steps, reviewed(s, step))
	}
	r.shares()
	if f == nil {
		return r
	}
	own := f.run(s.Job)
	var others []float64
	for i, run := range f.Runs {
		switch {
		case i == own:
			r.Why, r.Comebacks = run.Why, run.Comebacks
		case run.Why == IsSample:
			others = append(others, run.Worked)
		}
	}
	r.Count, r.Next = len(others), next(others, study.Prior{})
	r.Beyond, r.Long = f.beyond(r.Next, r.Worked)
	for i := range r.Steps {
		step := &r.Steps[i]
		at := slices.IndexFunc(f.Steps, func(k Step) bool { return k.ID == step.ID })
		if at < 0 {
			continue
		}
		others := f.Steps[at].without(own)
		step.Count, step.Next = len(others), next(others, f.prior)
		step.Beyond, step.Long = f.beyond(step.Next, step.Worked)
		if step.Expected.Basis != FromFile {
			step.Expected = f.Steps[at].Expected
		}
	}
	return r
}

// run is the index of a job in Runs, -1 where it is not looked at.
func (f *Figures) run(job string) int {
	if i, ok := f.runs[job]; ok {
		return i
	}
	return -1
}

// without gives the times of a step but that of one run, ascending.
func (s *Step) without(run int) []float64 {
	i := slices.IndexFunc(s.Times, func(t Time) bool { return t.Run == run })
	if i < 0 {
		return s.ascending
	}
	at, _ := slices.BinarySearch(s.ascending, s.Times[i].Minutes)
	return slices.Delete(slices.Clone(s.ascending), at, at+1)
}

// beyond is by how many minutes a time lies beyond an interval, and whether that is to have run long.
func (f *Figures) beyond(i *study.Interval, minutes float64) (float64, bool) {
	if i == nil || minutes <= i.High {
		return 0, false
	}
	return minutes - i.High, minutes-i.High > f.Floor
}

func reviewed(s labour.Sheet, step labour.Step) Reviewed {
	r := Reviewed{ID: step.ID, Number: step.Number, Title: step.Title, Worked: minutes(step.Worked), Expected: Expected{Basis: NoBasis},
		Happened: Happenings(s, step.Number)}
	if step.Expected != nil {
		r.Expected = Expected{Minutes: minutes(*step.Expected), Basis: Basis(step.ExpectedFrom)}
	}
	if s.Worked > 0 {
		r.Share = float64(step.Worked / s.Worked)
	}
	return r
}

// shares adds up the steps' shares, the largest first.
func (r *Review) shares() {
	order := make([]int, len(r.Steps))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(r.Steps[b].Share, r.Steps[a].Share) })
	cumulated := 0.0
	for _, i := range order {
		cumulated += r.Steps[i].Share
		r.Steps[i].Cumulated = min(1, cumulated)
	}
}
