package procedures

import (
	"fmt"
	"strings"
)

// FormatVersion is the newest procedure file format this package reads. A file
// names its own with `stepcaller: 2`; one that names none is the newest.
const FormatVersion = 2

// Procedure is one job as the file gives it: what to do, in order, with what,
// and how long the book allows.
type Procedure struct {
	Format  int    // file format, at least 1
	Draft   bool   // written by a program or in a hurry, and not yet reviewed by a technician
	ID      string // short name used on the command line and in the journal
	Title   string // what the job is called on the repair order
	Machine string // make, model and engine

	Book    []Operation // labour operations the job is booked under, at least one
	Overlap Hours       // hours saved by doing the operations together, 0 or more

	Tools    []string  // taken to the vehicle for the whole job, and counted back
	Parts    []Part    // for the whole job
	Fluids   []Fluid   // drained, filled or topped up
	Cautions []Caution // spoken before the first step

	Choices []Choice // what only the vehicle decides: yes or no, each asked once
	Covers  []Cover  // what must be right before something goes back over it

	Steps []Step // in order, groups that are repeated written out, at least one

	name   string           // as given to Load
	text   string           // likewise
	places map[string]place // where in the file each value stands, by path
	masks  masks            // of the groups that were written out
}

// Operation is one line of the labour time guide.
type Operation struct {
	Code      string // the guide's operation number
	Title     string
	Hours     Hours // book time
	Diagnosis bool  // the work of finding the fault, not of mending it
}

// Step is one spoken instruction and what it leaves behind.
//
// The lists from Off to ByHand name what the step leaves in a state that
// somebody must undo, those from Back to Clear name what it puts right again.
// ItemKinds pairs them.
type Step struct {
	ID      string  // unique in the procedure
	Say     string  // what is read aloud, as written
	Title   string  // short form for lists; may be empty
	Minutes float64 // expected by the file, 0 when it gives none

	Operations []string  // codes of the operations that need the step; nil where all of them do
	OnlyIf     []Premise // what must hold for the step to be done; none: it always is
	Figures    []Figure
	Starts     bool     // it starts the engine: everybody stands clear first
	Drives     bool     // a road test: silent, and its time stands apart
	Await      []string // names of timers that must have run out before the step

	Tools     []string
	Parts     []Part
	Cautions  []Caution // spoken before Say
	Torque    []Tightening
	Loosening []Loosening
	Timers    []Timer
	Readings  []Reading
	Level     []string // names of fluids whose level is rechecked here

	Off        []string // taken off
	Disconnect []string // connectors, hoses and pipes pulled apart
	Loosen     []string // slackened but still on
	ByHand     []string // started by hand, not yet torqued
	Open       []string // valves, clamps, caps, windows
	Plug       []string // ports closed with a plug
	Stuff      []string // ports closed with a rag
	Drain      []string // fluids let out
	Support    []string // stands, hooks and props holding something up

	Back    []string // put back on
	Connect []string // joined again
	Tight   []string // tightened to the end
	Shut    []string // closed again
	Out     []string // plugs and rags taken out
	Fill    []string // fluids put back
	Clear   []string // stands, hooks and props taken away
}

// Heading is the step's title, or what it says where it has none.
func (s *Step) Heading() string {
	if s.Title != "" {
		return s.Title
	}
	return s.Say
}

// Name is what the procedure was loaded under: a path, or "bundled/" and a file name.
func (p *Procedure) Name() string { return p.name }

// Text is the whole file that the procedure was loaded from.
func (p *Procedure) Text() string { return p.text }

// BookHours is the book time of the whole job: the operations' sum less the
// overlap, never below zero. It is exact.
func (p *Procedure) BookHours() Hours {
	var sum Hours
	for _, op := range p.Book {
		sum += op.Hours
	}
	return max(0, sum-p.Overlap)
}

// Index is the position of the step with this id, and false where there is none.
func (p *Procedure) Index(id string) (int, bool) {
	for i := range p.Steps {
		if p.Steps[i].ID == id {
			return i, true
		}
	}
	return 0, false
}

// Basis says where a step's expected minutes come from.
type Basis int

// The sources of expected minutes.
const (
	NoBasis  Basis = iota // nothing to go by: the file's minutes use up the book time
	FromFile              // the step's own `minutes`
	FromBook              // book time left over, shared equally by the steps without minutes
)

// String names the basis in a few words.
func (b Basis) String() string {
	switch b {
	case FromFile:
		return "the procedure file"
	case FromBook:
		return "a share of the book time"
	default:
		return "no figure"
	}
}

// ExpectedMinutes is how long the step at index i should take and where the
// figure comes from. A step without minutes gets an equal share of the book time
// that the other steps leave; where they leave none the result is 0, NoBasis.
// It panics like a slice where i is out of range.
func (p *Procedure) ExpectedMinutes(i int) (float64, Basis) {
	if m := p.Steps[i].Minutes; m > 0 {
		return m, FromFile
	}
	left, without := p.BookHours().Duration().Minutes(), 0
	for j := range p.Steps {
		if m := p.Steps[j].Minutes; m > 0 {
			left -= m
		} else {
			without++
		}
	}
	if left <= 0 {
		return 0, NoBasis
	}
	return left / float64(without), FromBook
}

// Severity tells a mistake from a question.
type Severity int

// The severities. A file with an Error is not loaded; a Question is put to the
// author and stops nothing.
const (
	Error Severity = iota
	Question
)

// Mistake is one thing wrong or doubtful in a procedure file.
type Mistake struct {
	File         string
	Line, Column int // from 1; 0 where the mistake is about the whole file
	Severity     Severity
	What         string // what is wrong, without a full stop
	Mend         string // what to do about it, without a full stop
}

// String is the mistake on one line: place, what, mend.
func (m Mistake) String() string {
	at := m.File
	if m.Line > 0 {
		at = fmt.Sprintf("%s:%d:%d", m.File, m.Line, m.Column)
	}
	what := m.What
	if m.Severity == Question {
		what = "question: " + what
	}
	if strings.HasSuffix(m.Mend, "?") {
		return fmt.Sprintf("%s: %s. %s", at, what, m.Mend)
	}
	return fmt.Sprintf("%s: %s. %s.", at, what, m.Mend)
}

// Refused reports whether any of the mistakes is an Error.
func Refused(mistakes []Mistake) bool {
	for _, m := range mistakes {
		if m.Severity == Error {
			return true
		}
	}
	return false
}

// place is a position in a file, both numbers from 1.
type place struct{ line, column int }
