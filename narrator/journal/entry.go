package journal

import (
	"cmp"
	"slices"

	"stepcaller/narrator"
)

// Entry is one job in a list of jobs.
type Entry struct {
	ID         string
	Procedure  string          // as named when the job began
	Order      string          // work-order number, "" when none was given
	Odometer   string          // as read, "" when none was given
	Technician string          // who began it, "" when nobody was named
	Start      narrator.Moment //
	End        narrator.Moment // zero while the job is open
	Events     int64           // how many it has
	Gone       bool            // it was handed to another bay, or taken by one, and has not come back
	To         string          // that bay, "" for any
}

// Open reports whether the job is not finished.
func (e Entry) Open() bool { return e.End == 0 }

// State narrows a list of jobs.
type State int

// The states to list.
const (
	AllJobs State = iota
	OpenJobs
	FinishedJobs
	JobsHere // open, and not handed to another bay
)

// Filter says which jobs to list. The zero Filter lists all.
type Filter struct {
	State State
	Order string // exactly this work order, "" for any
}

func (f Filter) passes(e Entry) bool {
	switch {
	case f.State == OpenJobs && !e.Open(), f.State == JobsHere && (!e.Open() || e.Gone), f.State == FinishedJobs && e.Open():
		return false
	}
	return f.Order == "" || f.Order == e.Order
}

// entry tells a job in brief from those of its events that open it, finish it, take acts back and bring it to another bay. A job is finished by the
// last Finished event whose act was not taken back.
func entry(job string, events []narrator.Event, last int64) Entry {
	undone := map[int64]bool{}
	for _, e := range events {
		if e.Kind == narrator.Undone {
			undone[e.Ref] = true
		}
	}
	entry := Entry{ID: job, Events: last}
	for _, e := range events {
		switch {
		case e.Kind == narrator.Opened:
			entry.Procedure, entry.Order, entry.Odometer, entry.Technician = e.Procedure, e.Order, e.Odometer, e.Technician
			entry.Start = e.At
		case e.Kind == narrator.Handed:
			entry.Gone, entry.To = true, e.To
		case e.Kind == narrator.TakenOver:
			entry.Gone, entry.To = false, ""
		case e.Kind == narrator.Finished && !undone[e.Act]:
			entry.End = e.At
		}
	}
	return entry
}

// List keeps the entries that pass a filter and puts the newest first; of those that began together the later id.
func List(entries []Entry, f Filter) []Entry {
	entries = slices.DeleteFunc(entries, func(e Entry) bool { return !f.passes(e) })
	slices.SortFunc(entries, func(a, b Entry) int {
		return cmp.Or(cmp.Compare(b.Start, a.Start), cmp.Compare(len(b.ID), len(a.ID)), cmp.Compare(b.ID, a.ID))
	})
	return entries
}
