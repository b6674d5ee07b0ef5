package figures

import (
	"stepcaller/narrator/labour"
	"stepcaller/procedures"
)

// Edition is what figures need to know of a procedure file as it stood at one time.
type Edition struct {
	Procedure  string             `json:"procedure"` // id
	Title      string             `json:"title"`
	Machine    string             `json:"machine"`
	BookHours  float64            `json:"book_hours"` // the operations' sum less the overlap
	Overlap    float64            `json:"overlap_hours"`
	Operations []labour.Operation `json:"operations"` // as booked; without times
	Outline    []Outline          `json:"outline"`    // the steps, in order
}

// Outline is a step as the file has it.
type Outline struct {
	ID      string  `json:"id"`
	Number  int     `json:"number"` // from 1
	Title   string  `json:"title"`
	Minutes float64 `json:"minutes"` // given by the file, 0 for none
	Choice  bool    `json:"choice"`  // a choice may shut it, so not every job has it
}

// EditionOf reads what figures need off a procedure.
func EditionOf(p *procedures.Procedure) Edition {
	e := Edition{Procedure: p.ID, Title: p.Title, Machine: p.Machine, BookHours: hours(p.BookHours()), Overlap: hours(p.Overlap),
		Operations: []labour.Operation{}, Outline: []Outline{}}
	for _, o := range p.Book {
		e.Operations = append(e.Operations, labour.Operation{Code: o.Code, Title: o.Title, Hours: hours(o.Hours), Diagnosis: o.Diagnosis})
	}
	for i := range p.Steps {
		step := &p.Steps[i]
		e.Outline = append(e.Outline, Outline{ID: step.ID, Number: i + 1, Title: step.Heading(), Minutes: step.Minutes, Choice: len(step.OnlyIf) > 0})
	}
	return e
}

func hours(h procedures.Hours) float64 { return float64(h) / 100 }

// Basis says where an expected time is from.
type Basis string

// The bases, best first.
const (
	FromFile Basis = "file"   // the procedure gives the step's minutes
	Learnt   Basis = "learnt" // the median of earlier jobs
	FromBook Basis = "book"   // an equal share of the book hours that file and earlier jobs leave
	NoBasis  Basis = "none"   // nothing is left to share
)

// Expected is what a step should take.
type Expected struct {
	Minutes float64 `json:"minutes"` // 0 without a basis
	Basis   Basis   `json:"basis"`
}

// expect says what each step of an edition should take. learnt gives a step's median minutes, and false where too few jobs tell.
func expect(e Edition, learnt func(id string) (float64, bool)) []Expected {
	all := make([]Expected, len(e.Outline))
	left, without := 60*e.BookHours, 0
	for i, step := range e.Outline {
		all[i] = Expected{step.Minutes, FromFile}
		if step.Minutes <= 0 {
			all[i] = Expected{0, NoBasis}
			if minutes, ok := learnt(step.ID); ok {
				all[i] = Expected{minutes, Learnt}
			}
		}
		left -= all[i].Minutes
		if all[i].Basis == NoBasis {
			without++
		}
	}
	for i := range all {
		if all[i].Basis == NoBasis && left > 0 {
			all[i] = Expected{left / float64(without), FromBook}
		}
	}
	return all
}
