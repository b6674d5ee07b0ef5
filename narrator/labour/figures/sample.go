package figures

import (
	"slices"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/procedures"
)

// Why says why a job is no sample of how long the work takes.
type Why string

// The reasons. Of several the first in this order counts.
const (
	IsSample Why = ""
	Dictated Why = "dictated"  // there was no procedure, so no steps to compare
	Comeback Why = "comeback"  // its hours count to the job that it comes back from
	Draft    Why = "draft"     // nobody had reviewed the procedure
	Helped   Why = "helped"    // more than one technician worked on it
	CutShort Why = "cut short" // it ended before steps that every job has; the steps that were done are samples
	Unsure   Why = "unsure"    // more than a tenth of it is unaccounted for; the steps that are not are samples
)

// Whys are all reasons that a job is no sample, in their order.
func Whys() []Why { return []Why{Dictated, Comeback, Draft, Helped, CutShort, Unsure} }

// Steps reports whether the steps of such a job are samples.
func (w Why) Steps() bool { return w == IsSample || w == CutShort || w == Unsure }

// unaccounted is the share of unsure and gap time beyond which worked time tells nothing.
const unaccounted = 0.1

// Sample is what one finished job tells.
type Sample struct {
	Job        string
	Started    time.Time
	Technician string           // who did all of it alone, "" for nobody named, or for several
	Worked     labour.Seconds   //
	Person     labour.Seconds   // of all technicians together; as Worked where nobody is named
	Book       procedures.Hours // as the file had it when the job began
	Comebacks  labour.Seconds   // person time of the later jobs that came back from it
	Corrected  bool             // its times are as corrected afterwards
	Why        Why
	Steps      []StepSample // in the order of first visits
}

// StepSample is what one job tells of one step.
type StepSample struct {
	ID       string
	Worked   labour.Seconds
	Clean    bool // next to nothing of it is unaccounted for
	Happened Happened
}

// SampleOf takes what a finished job's sheet tells. Comebacks are not known to the job itself.
func SampleOf(j *narrator.Job, s labour.Sheet) Sample {
	sample := Sample{Job: s.Job, Started: s.StartedAt, Worked: s.Worked, Person: max(s.Worked, s.PersonWorked), Book: j.Procedure.BookHours(), Why: why(j, s)}
	sample.Corrected = slices.ContainsFunc(s.Corrections, func(c labour.Correction) bool { return !c.Undone })
	if who := workers(s); len(who) == 1 && s.PersonWorked == s.Worked {
		sample.Technician = who[0]
	}
	for _, step := range s.Steps {
		var whats []What
		for _, h := range Happenings(s, step.Number) {
			whats = append(whats, h.What)
		}
		sample.Steps = append(sample.Steps, StepSample{ID: step.ID, Worked: step.Worked, Clean: clean(step.Worked, step.Unsure+step.Gap), Happened: SetOf(whats...)})
	}
	return sample
}

func clean(worked, lost labour.Seconds) bool {
	return worked > 0 && float64(lost) <= unaccounted*float64(worked+lost)
}

// workers are the technicians who worked on a job, in the order of joining.
func workers(s labour.Sheet) []string {
	var who []string
	for _, t := range s.Technicians {
		if t.Worked > 0 {
			who = append(who, t.Name)
		}
	}
	return who
}

func why(j *narrator.Job, s labour.Sheet) Why {
	switch {
	case j.Dictation != nil:
		return Dictated
	case s.Kind == "comeback":
		return Comeback
	case s.Draft:
		return Draft
	case len(workers(s)) > 1:
		return Helped
	case cutShort(j.Procedure, s):
		return CutShort
	case !clean(s.Worked, s.Unsure+s.Gap):
		return Unsure
	}
	return IsSample
}

// cutShort reports whether a step that every job has lies behind the furthest that was reached.
func cutShort(p *procedures.Procedure, s labour.Sheet) bool {
	furthest := 0
	for _, step := range s.Steps {
		furthest = max(furthest, step.Number)
	}
	for _, step := range p.Steps[furthest:] {
		if len(step.OnlyIf) == 0 {
			return true
		}
	}
	return false
}
