package figures

import (
	"time"

	"stepcaller/narrator/labour/study"
)

// Level is the chance with which the next time lies in a prediction interval.
const Level = 0.8

// Chance is the chance with which a quote is beaten.
const Chance = 0.8

// Floor is by how many minutes a time must lie beyond its interval to have run long.
const Floor = 3.0

// Figures are what all finished jobs of a procedure tell together.
type Figures struct {
	Edition            // the newest
	Editions int       `json:"editions"`  // of the file that jobs were done by
	Jobs     int       `json:"jobs"`      // finished, all of them
	Latest   int       `json:"latest"`    // how many of them, the latest, are looked at one by one; passed, cost and efficiency tell of all
	Passed   []Passed  `json:"passed"`    // jobs that are no samples, by why
	Floor    float64   `json:"floor_min"` // as the rule for running long has it
	Whole    Whole     `json:"whole"`     // the job
	Steps    []Step    `json:"steps"`     // of the newest edition, in its order
	Learners []Learner `json:"learners"`  // by name: nobody is ranked
	Long     []Long    `json:"ran_long"`  // newest first
	Cost     Cost      `json:"cost"`      //
	Runs     []Run     `json:"runs"`      // every job that is looked at, oldest first

	prior study.Prior    // how much the times of the steps usually spread
	runs  map[string]int // indexes in Runs by job
}

// Run is one job in the order of time.
type Run struct {
	Job        string    `json:"job"`
	Started    time.Time `json:"started_at"`
	Technician string    `json:"technician"` // who did it alone, else ""
	Worked     float64   `json:"worked_min"`
	Comebacks  float64   `json:"comebacks_min"` // of everybody
	Corrected  bool      `json:"corrected"`
	Why        Why       `json:"why"` // it is no sample, "" for a sample
}

// Passed is how many jobs are no samples for one reason.
type Passed struct {
	Why  Why `json:"why"`
	Jobs int `json:"jobs"`
}

// Spread is how times lie, in minutes. Without times all is zero.
type Spread struct {
	Count    int             `json:"count"`
	Median   float64         `json:"median_min"`
	Lower    float64         `json:"lower_quartile_min"`
	Upper    float64         `json:"upper_quartile_min"`
	Shortest float64         `json:"shortest_min"`
	Longest  float64         `json:"longest_min"`
	Mean     float64         `json:"mean_min"`
	Next     *study.Interval `json:"next"` // where the next time will lie; null below study.Least times
}

// Step is what the jobs tell of one step.
type Step struct {
	Outline
	Spread
	Expected  Expected `json:"expected"`
	Share     float64  `json:"share"`     // of the procedure's time, 0..1
	Cumulated float64  `json:"cumulated"` // share of this step and of all that take more, 0..1
	Rank      int      `json:"rank"`      // by share, from 1
	RanLong   int      `json:"ran_long"`  // how many of its times
	Why       []Tally  `json:"why"`       // what took place in those that ran long, the most frequent first
	Times     []Time   `json:"times"`     // its samples, oldest first

	ascending []float64 // the same minutes
}

// Time is one sample of a step.
type Time struct {
	Run     int      `json:"run"` // index in Runs
	Minutes float64  `json:"min"`
	Long    bool     `json:"long"`
	What    Happened `json:"happened"`
}

// Tally is in how many times that ran long something took place.
type Tally struct {
	What  What `json:"what"`
	Times int  `json:"times"`
}

// Long is a step that ran long in one job.
type Long struct {
	Run     int      `json:"run"`  // index in Runs
	Step    int      `json:"step"` // index in Steps
	Minutes float64  `json:"min"`
	Beyond  float64  `json:"beyond_min"` // the interval's upper end
	What    Happened `json:"happened"`
}

// Whole is what the jobs tell of the job as a whole.
type Whole struct {
	Spread
	Enough     *Enough  `json:"enough"`     // null below study.Least times
	Quote      *Quote   `json:"quote"`      // likewise
	BeatBook   *float64 `json:"beat_book"`  // chance that the next job takes less than the book; likewise, or without book hours
	Efficiency *float64 `json:"efficiency"` // book hours over hours worked, of all samples; null without
}

// Enough is how many jobs a figure needs to be worth trusting.
type Enough struct {
	Margin     float64 `json:"margin"`     // of the mean, 0.1 for ±10 %
	Confidence float64 `json:"confidence"` //
	ILO        int     `json:"ilo"`        // jobs in all
	Niebel     int     `json:"niebel"`     // likewise
	More       int     `json:"more"`       // jobs still to time, by the form that asks for more
}

// Quote is what to quote next time.
type Quote struct {
	Hours  float64 `json:"hours"`  // whole tenths, rounded up
	Chance float64 `json:"chance"` // of taking less
}

// Learner is one technician's own runs.
type Learner struct {
	Technician string       `json:"technician"`
	Runs       []int        `json:"runs"`  // indexes in Runs, oldest first; samples alone
	Curve      *study.Curve `json:"curve"` // null below study.Least runs
	Doubt      string       `json:"doubt"` // why the curve is not to be believed, "" where nothing speaks against it
}

// Cost is what the jobs cost in the end: hours of everybody, with those of the jobs that came back from them.
type Cost struct {
	Jobs      int     `json:"jobs"`      // without comebacks
	Hours     float64 `json:"hours"`     // of those jobs
	CameBack  int     `json:"came_back"` // how many of them
	Comebacks float64 `json:"comeback_hours"`
	PerJob    float64 `json:"hours_per_job"` // both together; 0 without jobs
}
