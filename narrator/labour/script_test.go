package labour_test

import (
	"testing"

	"stepcaller/narrator"
)

// pump is an invented job: three steps with minutes, two that share what the book leaves, 36 - 21 = 15 minutes.
const pump = `
id: water-pump
title: Water pump
machine: Ostwick Pony
book:
  - {code: "0410", title: Water pump, hours: 0.5}
  - {code: "0415", title: Drain and fill, hours: 0.2}
overlap: 0.1
steps:
  - {id: drain, title: Drain the coolant, say: Open the cock., minutes: 5}
  - {id: belt, say: Take the belt off., minutes: 10}
  - {id: pump, title: 'Swap "the" pump, and its seal', say: Swap the pump.}
  - {id: fill, say: Fill it up., minutes: 6}
  - {id: run, say: Run it warm.}
`

// dawn is when every job begins: 2000-01-01T08:00:00Z.
const dawn = narrator.Moment(946_713_600 * narrator.Rate)

func at(seconds float64) narrator.Moment { return dawn.Add(narrator.Span(seconds * narrator.Rate)) }

// script is a job's log in the making. Times are seconds from its start; every event is an act of its own, numbered like
// its Seq.
type script struct {
	procedure string
	log       []narrator.Event
}

// opened begins a job at its first step, with a technician unless that is "".
func opened(procedure, technician string) *script {
	s := &script{procedure: procedure}
	s.then(0, narrator.Opened, narrator.Detail{Procedure: "water-pump.yaml", Text: procedure, Order: "R 4711", Odometer: "84 210 km",
		Technician: technician})
	return s.arrived(0, "drain")
}

func (s *script) then(seconds float64, kind narrator.Kind, d narrator.Detail) *script {
	seq := int64(len(s.log)) + 1
	s.log = append(s.log, narrator.Event{Job: "2000-01-01-1", Seq: seq, Act: seq, At: at(seconds), Noted: at(seconds), Kind: kind, Detail: d})
	return s
}

func (s *script) arrived(seconds float64, step string) *script {
	return s.then(seconds, narrator.Arrived, narrator.Detail{Step: step})
}

func (s *script) held(from float64, reason string, to float64) *script {
	return s.then(from, narrator.Held, narrator.Detail{Reason: reason}).then(to, narrator.Resumed, narrator.Detail{})
}

func (s *script) away(from, to float64, reason string) *script {
	return s.then(to, narrator.Away, narrator.Detail{From: at(from), Reason: reason})
}

func (s *script) undo() *script {
	last := s.log[len(s.log)-1]
	return s.then(last.At.Since(dawn).Seconds(), narrator.Undone, narrator.Detail{Ref: last.Act})
}

func (s *script) finished(seconds float64) *script {
	return s.then(seconds, narrator.Finished, narrator.Detail{})
}

func (s *script) job(t testing.TB) *narrator.Job {
	t.Helper()
	j, err := narrator.NewJob(s.log)
	if err != nil {
		t.Fatal(err)
	}
	return j
}
