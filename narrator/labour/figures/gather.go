package figures

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"stepcaller/narrator/labour/study"
)

// longest is how many steps that ran long are listed.
const longest = 100

// The margin and confidence of [Enough]: the mean of further jobs lies within ±10 % with 95 %.
const (
	margin     = 0.1
	confidence = 0.95
)

// Gathering takes samples in, oldest first, and works out the figures.
type Gathering struct {
	out   Figures
	index map[string]int // of steps by id
	whole []float64      // of the samples
	sums  Sums
}

// Gather begins the figures of a procedure, whose newest edition is e and which has so many editions, from about so many jobs to be looked
// at one by one.
func Gather(e Edition, editions, jobs int) *Gathering {
	g := &Gathering{out: Figures{Edition: e, Editions: editions, Floor: Floor, Passed: []Passed{}, Learners: []Learner{}, Long: []Long{}, Runs: make([]Run, 0, jobs)},
		index: map[string]int{}, sums: Sums{}}
	g.out.Steps = make([]Step, len(e.Outline))
	for i, o := range e.Outline {
		g.out.Steps[i] = Step{Outline: o, Why: []Tally{}, Times: make([]Time, 0, jobs)}
		g.index[o.ID] = i
	}
	return g
}

// Add takes a job in. The sample's steps are not kept.
func (g *Gathering) Add(s Sample) {
	run := len(g.out.Runs)
	g.sums.Add(s)
	g.out.Runs = append(g.out.Runs, Run{Job: s.Job, Started: s.Started, Technician: s.Technician, Worked: minutes(s.Worked),
		Comebacks: minutes(s.Comebacks), Corrected: s.Corrected, Why: s.Why})
	if s.Why == IsSample {
		g.whole = append(g.whole, minutes(s.Worked))
	}
	if !s.Why.Steps() {
		return
	}
	next := 0 // steps mostly follow each other
	for _, step := range s.Steps {
		i, ok := next, next < len(g.out.Steps) && g.out.Steps[next].ID == step.ID
		if !ok {
			i, ok = g.index[step.ID]
		}
		next = i + 1
		if ok && step.Clean {
			g.out.Steps[i].Times = append(g.out.Steps[i].Times, Time{Run: run, Minutes: minutes(step.Worked), What: step.Happened})
		}
	}
}

// Among says of how many more jobs those that were taken in are the latest: the sums of all of them together.
func (g *Gathering) Among(all Sums) { g.sums = all }

// Figures works out what the samples tell. The gathering takes no more samples.
func (g *Gathering) Figures() *Figures {
	f := &g.out
	f.Latest, f.runs = len(f.Runs), make(map[string]int, len(f.Runs))
	for i, r := range f.Runs {
		f.runs[r.Job] = i
	}
	f.Jobs, f.Passed, f.Cost = g.sums.jobs(), g.sums.passed(), g.sums.cost()
	sorted := make([][]float64, len(f.Steps))
	for i := range f.Steps {
		sorted[i] = f.Steps[i].sorted()
	}
	f.prior = study.Pool(sorted)
	for i := range f.Steps {
		f.Steps[i].ascending, f.Steps[i].Spread = sorted[i], spreadOf(sorted[i], f.prior)
		f.long(i)
	}
	slices.SortStableFunc(f.Long, func(a, b Long) int { return cmp.Or(cmp.Compare(b.Run, a.Run), cmp.Compare(a.Step, b.Step)) })
	f.Long = slices.Clone(f.Long[:min(len(f.Long), longest)])
	for i, want := range expect(f.Edition, f.learnt) {
		f.Steps[i].Expected = want
	}
	f.shares()
	f.Whole = wholeOf(g.whole, f.BookHours)
	f.Whole.Efficiency = g.sums.efficiency()
	f.learners()
	return f
}

func (s *Step) sorted() []float64 {
	all := make([]float64, len(s.Times))
	for i, t := range s.Times {
		all[i] = t.Minutes
	}
	slices.Sort(all)
	return all
}

// learnt is a step's median, where there are enough times to go by.
func (f *Figures) learnt(id string) (float64, bool) {
	i := slices.IndexFunc(f.Steps, func(s Step) bool { return s.ID == id })
	return f.Steps[i].Median, f.Steps[i].Count >= study.Least
}

// spreadOf tells how sorted times lie.
func spreadOf(sorted []float64, prior study.Prior) Spread {
	s := Spread{Count: len(sorted)}
	if s.Count == 0 {
		return s
	}
	s.Median, s.Shortest, s.Longest, s.Mean = study.Median(sorted), sorted[0], sorted[s.Count-1], stat.Mean(sorted, nil)
	s.Lower, s.Upper = study.Quartiles(sorted)
	s.Next = next(sorted, prior)
	return s
}

func next(times []float64, prior study.Prior) *study.Interval {
	if i, ok := study.Next(times, Level, prior); ok {
		return &i
	}
	return nil
}

// shares ranks the steps by the time that they took.
func (f *Figures) shares() {
	var all float64
	order := make([]int, len(f.Steps))
	for i := range f.Steps {
		order[i] = i
		all += f.Steps[i].total()
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(f.Steps[b].total(), f.Steps[a].total()) })
	cumulated := 0.0
	for rank, i := range order {
		s := &f.Steps[i]
		if all > 0 {
			s.Share = s.total() / all
		}
		cumulated += s.Share
		s.Rank, s.Cumulated = rank+1, min(1, cumulated)
	}
}

func (s *Step) total() float64 { return s.Mean * float64(s.Count) }

// wholeOf tells how the samples of the whole job lie, oldest first.
func wholeOf(times []float64, bookHours float64) Whole {
	none := study.Prior{}
	w := Whole{Spread: spreadOf(slices.Sorted(slices.Values(times)), none)}
	if w.Count < study.Least {
		return w
	}
	mean, deviation := stat.MeanStdDev(times, nil)
	e := &Enough{Margin: margin, Confidence: confidence, ILO: study.ILO(times, margin), Niebel: study.Niebel(mean, deviation, w.Count, confidence, margin)}
	e.More = max(0, max(e.ILO, e.Niebel)-w.Count)
	w.Enough = e
	if quote, ok := study.Quote(times, Chance, none); ok {
		w.Quote = &Quote{Hours: math.Ceil(quote/6-1e-9) / 10, Chance: Chance}
	}
	if chance, ok := study.Beat(times, 60*bookHours, none); ok && bookHours > 0 {
		w.BeatBook = &chance
	}
	return w
}

// learners gathers each technician's own runs, by name.
func (f *Figures) learners() {
	for i, r := range f.Runs {
		if r.Why != IsSample || r.Technician == "" {
			continue
		}
		at := slices.IndexFunc(f.Learners, func(l Learner) bool { return l.Technician == r.Technician })
		if at < 0 {
			at, f.Learners = len(f.Learners), append(f.Learners, Learner{Technician: r.Technician})
		}
		f.Learners[at].Runs = append(f.Learners[at].Runs, i)
	}
	slices.SortFunc(f.Learners, func(a, b Learner) int { return cmp.Compare(a.Technician, b.Technician) })
	for i := range f.Learners {
		l := &f.Learners[i]
		var runs []float64
		for _, r := range l.Runs {
			runs = append(runs, f.Runs[r].Worked)
		}
		if c, ok := study.Learn(runs); ok {
			l.Curve, l.Doubt = &c, c.Doubt()
		}
	}
}
