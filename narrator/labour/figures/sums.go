package figures

import (
	"stepcaller/narrator/labour"
	"stepcaller/procedures"
)

// Sums are what jobs add up to, by why they are no samples.
type Sums map[Why]Sum

// Sum is what some jobs add up to. Times are milliseconds, so that it is the same in whatever order they are added.
type Sum struct {
	Jobs      int
	Worked    int64
	Person    int64            // by everybody together
	Book      procedures.Hours // as the file had it when each job began
	CameBack  int              // how many of the jobs came back
	Comebacks int64            // person time of the jobs that came back from them
}

// Add takes a job in.
func (s Sums) Add(of Sample) {
	sum := s[of.Why]
	sum.Jobs++
	sum.Worked, sum.Person, sum.Book = sum.Worked+millis(of.Worked), sum.Person+millis(of.Person), sum.Book+of.Book
	if of.Comebacks > 0 {
		sum.CameBack++
		sum.Comebacks += millis(of.Comebacks)
	}
	s[of.Why] = sum
}

func millis(s labour.Seconds) int64 { return int64(s*1000 + 0.5) }

func inHours(millis int64) float64 { return float64(millis) / 3_600_000 }

func (s Sums) jobs() int {
	all := 0
	for _, sum := range s {
		all += sum.Jobs
	}
	return all
}

func (s Sums) passed() []Passed {
	all := []Passed{}
	for _, w := range Whys() {
		if s[w].Jobs > 0 {
			all = append(all, Passed{w, s[w].Jobs})
		}
	}
	return all
}

func (s Sums) cost() Cost {
	var c Cost
	var person, comebacks int64
	for why, sum := range s {
		if why != Comeback {
			c.Jobs, c.CameBack = c.Jobs+sum.Jobs, c.CameBack+sum.CameBack
			person, comebacks = person+sum.Person, comebacks+sum.Comebacks
		}
	}
	c.Hours, c.Comebacks = inHours(person), inHours(comebacks)
	if c.Jobs > 0 {
		c.PerJob = (c.Hours + c.Comebacks) / float64(c.Jobs)
	}
	return c
}

// efficiency is that of the samples together, nil without times or book hours.
func (s Sums) efficiency() *float64 {
	sum := s[IsSample]
	if sum.Worked <= 0 || sum.Book <= 0 {
		return nil
	}
	e := hours(sum.Book) / inHours(sum.Worked)
	return &e
}
