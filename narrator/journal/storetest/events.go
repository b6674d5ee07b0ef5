package storetest

import (
	"fmt"

	"stepcaller/narrator"
)

// Dawn is when the first job of a test begins: 2000-01-01T08:00:00Z.
const Dawn = narrator.Moment(946_713_600 * narrator.Rate)

// Procedure is the text of an invented job of three steps.
const Procedure = `
id: fan-belt
title: Fan belt
machine: Ostwick Pony
book:
  - {code: "0410", title: Fan belt, hours: 0.6}
steps:
  - {id: cover, say: Take the cover off., minutes: 5, off: [cover]}
  - {id: belt, say: Swap the belt., minutes: 10}
  - {id: close, say: Put the cover back., minutes: 6, back: [cover]}
`

// Script makes the log of a job or of the bay, event after event.
type Script struct {
	Job    string
	Events []narrator.Event
	now    narrator.Moment
	act    int64
}

// NewJob begins a job's log as the narrator would: opened, and at the first step.
func NewJob(id string, start narrator.Moment) *Script {
	s := &Script{Job: id, now: start}
	s.Then(0, narrator.Opened, narrator.Detail{Procedure: "fan-belt", Text: Procedure, Technician: "Ines"})
	return s.Then(0, narrator.Arrived, narrator.Detail{Step: "cover"})
}

// NewBay begins the bay's log.
func NewBay(start narrator.Moment) *Script { return &Script{now: start} }

// Then adds an event, an act of its own, some seconds after the one before.
func (s *Script) Then(seconds float64, kind narrator.Kind, d narrator.Detail) *Script {
	s.act++
	s.now = s.now.Add(narrator.Span(seconds * narrator.Rate))
	s.Events = append(s.Events, narrator.Event{Job: s.Job, Seq: int64(len(s.Events)) + 1, Act: s.act, At: s.now,
		Noted: s.now.Add(narrator.Second / 5), Kind: kind, Detail: d})
	return s
}

// Act returns the act of the latest event.
func (s *Script) Act() int64 { return s.act }

// Worked is the log of a job of n events, n at least 3: opened, some notes of words, and finished.
func Worked(id string, start narrator.Moment, n int) []narrator.Event {
	s := NewJob(id, start)
	for i := len(s.Events); i < n-1; i++ {
		s.Then(10, narrator.Word, narrator.Detail{Word: "repeat", Score: 0.75})
	}
	return s.Then(10, narrator.Finished, narrator.Detail{}).Events
}

// ID is the id of the n-th job, n from 0, when a thousand are begun, ten a day.
func ID(n int) string {
	day := Dawn.Add(narrator.Span(n/10) * 24 * narrator.Hour).Time()
	return fmt.Sprintf("%s-%d", day.Format("2006-01-02"), n%10+1)
}
