// Package storetest is the contract of journal.Store as tests. Every store passes it.
package storetest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"sync"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// Run tests the stores that open returns, each of them empty. What has to be closed at the end of a test is open's affair.
func Run(t *testing.T, open func(t *testing.T) journal.Store) {
	cases := []struct {
		name string
		test func(t *testing.T, s journal.Store)
	}{
		{"an empty store holds nothing", testEmpty},
		{"events read back as they were", testReadsBack},
		{"no events are no error", testNothing},
		{"an event that is there already is refused", testDuplicate},
		{"an event that leaves a hole is refused", testHole},
		{"a refused append leaves nothing, of other jobs neither", testAllOrNothing},
		{"an event that cannot be stored is refused", testUnstorable},
		{"a cancelled append leaves nothing", testCancelled},
		{"jobs are listed newest first", testNewestFirst},
		{"jobs are filtered", testFilter},
		{"a finish that was taken back leaves a job open", testFinishUndone},
		{"what changed is told since a mark", testChanged},
		{"events are told in the order in which they became durable", testSince},
		{"jobs are numbered by day", testNextJob},
		{"the latest beat and session count", testLatest},
		{"slices are not shared", testNotShared},
		{"many may use it at once", testConcurrent},
		{"a closed store refuses everything", testClosed},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { c.test(t, open(t)) })
	}
	t.Run("any appends read back equal", func(t *testing.T) { testProperty(t, open) })
}

func testEmpty(t *testing.T, s journal.Store) {
	ctx := t.Context()
	if jobs, err := s.Jobs(ctx, journal.Filter{}); err != nil || len(jobs) != 0 {
		t.Errorf("Jobs = %v, %v", jobs, err)
	}
	if log, err := s.Log(ctx, ""); err != nil || len(log) != 0 {
		t.Errorf("Log of the bay = %v, %v", log, err)
	}
	if _, err := s.Log(ctx, "2000-01-01-1"); !errors.Is(err, journal.ErrNoJob) {
		t.Errorf("Log of an unknown job: %v", err)
	}
	if at, err := s.LastBeat(ctx); err != nil || at != 0 {
		t.Errorf("LastBeat = %v, %v", at, err)
	}
	if n, err := s.LastSession(ctx); err != nil || n != (journal.Session{}) {
		t.Errorf("LastSession = %v, %v", n, err)
	}
	if found := journal.Verify(ctx, s); len(found) != 0 {
		t.Errorf("Verify = %v", found)
	}
}

// full has every detail set, so that none is lost unnoticed.
var full = narrator.Detail{
	Procedure: "fan-belt", Text: "say: \"24 N·m\"\r\n<&>\u2028\x00", Order: "R 4711", Odometer: "84 210 km", Technician: "Inés",
	Word: "next", Score: 0.1 + 0.2, Step: "belt", Back: true, Reason: "parts", From: math.MaxInt64, Length: -1,
	Ref: math.MinInt64, Worked: true, Fastener: "cover bolts", Value: "7 lbf·ft", NewtonMetres: 9.4907256383198,
	File: "memos/2000-01-01-1-1.wav", Work: "2000-01-01-1", On: true, Volume: 70, Pace: 165,
}

func testReadsBack(t *testing.T, s journal.Store) {
	job := NewJob("2000-01-01-1", Dawn).Then(1, narrator.Word, full).Events
	bay := NewBay(Dawn).Then(1, narrator.Switched, full).Events
	mustAppend(t, s, append(append([]narrator.Event{}, job...), bay...)...)
	wantLog(t, s, "2000-01-01-1", job)
	wantLog(t, s, "", bay)
}

func testChanged(t *testing.T, s journal.Store) {
	changed := func(after journal.Mark, want ...string) (last journal.Mark) {
		t.Helper()
		changes, err := s.Changed(t.Context(), after)
		var jobs []string
		for _, c := range changes {
			if c.Mark <= last || c.Mark <= after {
				t.Errorf("mark %d after %d, asked after %d", c.Mark, last, after)
			}
			jobs, last = append(jobs, c.Job), c.Mark
		}
		if err != nil || !slices.Equal(jobs, want) {
			t.Errorf("changed after %d: %q, %v, want %q", after, jobs, err, want)
		}
		return last
	}
	changed(0)
	a, b := NewJob("2000-01-01-1", Dawn), NewJob("2000-01-01-2", Dawn)
	mustAppend(t, s, a.Events...)
	mustAppend(t, s, b.Events...)
	mustAppend(t, s, NewBay(Dawn).Then(1, narrator.Listening, narrator.Detail{}).Events...)
	both := changed(0, "2000-01-01-1", "2000-01-01-2")
	changed(both)
	mustAppend(t, s, a.Then(1, narrator.Finished, narrator.Detail{}).Events[2:]...)
	last := changed(both, "2000-01-01-1")
	changed(last)
	changed(0, "2000-01-01-2", "2000-01-01-1")
}

func testSince(t *testing.T, s journal.Store) {
	a, b, bay := NewJob("2000-01-01-1", Dawn), NewJob("2000-01-01-2", Dawn), NewBay(Dawn).Then(1, narrator.Voiced, full)
	a.Then(1, narrator.Word, full)
	var want []narrator.Event
	for _, part := range [][]narrator.Event{a.Events[:1], append(slices.Clone(b.Events), bay.Events...), a.Events[1:]} {
		mustAppend(t, s, part...)
		want = append(want, part...)
	}
	var got []narrator.Event
	var mark journal.Mark
	for range want {
		next, err := s.Since(t.Context(), mark, 2)
		if err != nil || len(next) > 2 {
			t.Fatalf("since %d, at most 2: %d events, %v", mark, len(next), err)
		}
		for _, m := range next {
			raw, err := json.Marshal(m.Detail)
			if err != nil || m.Raw != string(raw) || m.Mark <= mark {
				t.Errorf("event at mark %d after %d is stored as %s, is %s, %v", m.Mark, mark, m.Raw, raw, err)
			}
			got, mark = append(got, m.Event), m.Mark
		}
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("events in order:\n%+v\nwant\n%+v", got, want)
	}
	if next, err := s.Since(t.Context(), mark, 2); err != nil || len(next) != 0 {
		t.Errorf("since the last: %v, %v", next, err)
	}
}

func testNothing(t *testing.T, s journal.Store) {
	if err := s.Append(t.Context(), nil); err != nil {
		t.Error(err)
	}
}

func testDuplicate(t *testing.T, s journal.Store) {
	job := NewJob("2000-01-01-1", Dawn).Events
	mustAppend(t, s, job...)
	wantSequence(t, s.Append(t.Context(), job[1:]), journal.SequenceError{Job: "2000-01-01-1", Seq: 2, Want: 3})
	wantLog(t, s, "2000-01-01-1", job)
}

func testHole(t *testing.T, s journal.Store) {
	bay := NewBay(Dawn).Then(1, narrator.Listening, narrator.Detail{}).Then(1, narrator.Listening, narrator.Detail{On: true}).Events
	wantSequence(t, s.Append(t.Context(), bay[1:]), journal.SequenceError{Seq: 2, Want: 1})
	wantLog(t, s, "", nil)
}

func testAllOrNothing(t *testing.T, s journal.Store) {
	one, two := NewJob("2000-01-01-1", Dawn).Events, NewJob("2000-01-01-2", Dawn).Events
	batch := append(append([]narrator.Event{}, one...), two[0], two[0])
	wantSequence(t, s.Append(t.Context(), batch), journal.SequenceError{Job: "2000-01-01-2", Seq: 1, Want: 2})
	for _, job := range []string{"2000-01-01-1", "2000-01-01-2"} {
		if _, err := s.Log(t.Context(), job); !errors.Is(err, journal.ErrNoJob) {
			t.Errorf("job %s is there: %v", job, err)
		}
	}
	mustAppend(t, s, one...)
	wantLog(t, s, "2000-01-01-1", one)
}

func testUnstorable(t *testing.T, s journal.Store) {
	job := NewJob("2000-01-01-1", Dawn).Then(1, narrator.Word, narrator.Detail{Score: math.NaN()}).Events
	if err := s.Append(t.Context(), job); err == nil {
		t.Error("a score that is no number was stored")
	}
	if _, err := s.Log(t.Context(), "2000-01-01-1"); !errors.Is(err, journal.ErrNoJob) {
		t.Errorf("something was left: %v", err)
	}
}

func testCancelled(t *testing.T, s journal.Store) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := s.Append(ctx, NewJob("2000-01-01-1", Dawn).Events); !errors.Is(err, context.Canceled) {
		t.Errorf("Append = %v", err)
	}
	if _, err := s.Log(t.Context(), "2000-01-01-1"); !errors.Is(err, journal.ErrNoJob) {
		t.Errorf("something was left: %v", err)
	}
}

func testNewestFirst(t *testing.T, s journal.Store) {
	mustAppend(t, s, NewJob("2000-01-01-9", Dawn).Events...)
	mustAppend(t, s, NewJob("2000-01-02-1", Dawn.Add(24*narrator.Hour)).Events...)
	mustAppend(t, s, NewJob("2000-01-01-10", Dawn).Events...)
	wantJobs(t, s, journal.Filter{}, "2000-01-02-1", "2000-01-01-10", "2000-01-01-9")
}

func testFilter(t *testing.T, s journal.Store) {
	opened := NewJob("2000-01-01-1", Dawn)
	opened.Events[0].Order, opened.Events[0].Odometer = "R 4711", "84 210 km"
	finished := NewJob("2000-01-01-2", Dawn.Add(narrator.Hour)).Then(60, narrator.Finished, narrator.Detail{})
	finished.Events[0].Order = "R 4712"
	mustAppend(t, s, opened.Events...)
	mustAppend(t, s, finished.Events...)
	mustAppend(t, s, NewBay(Dawn).Then(1, narrator.Switched, narrator.Detail{Work: "2000-01-01-1"}).Events...)

	wantJobs(t, s, journal.Filter{}, "2000-01-01-2", "2000-01-01-1")
	wantJobs(t, s, journal.Filter{State: journal.OpenJobs}, "2000-01-01-1")
	wantJobs(t, s, journal.Filter{State: journal.FinishedJobs}, "2000-01-01-2")
	wantJobs(t, s, journal.Filter{Order: "R 4712"}, "2000-01-01-2")
	wantJobs(t, s, journal.Filter{Order: "R 4712", State: journal.OpenJobs})

	opened.Then(5, narrator.Handed, narrator.Detail{To: "lift-3"})
	mustAppend(t, s, opened.Events[2:]...)
	wantJobs(t, s, journal.Filter{State: journal.OpenJobs}, "2000-01-01-1")
	wantJobs(t, s, journal.Filter{State: journal.JobsHere})
	opened.Then(5, narrator.TakenOver, narrator.Detail{Bay: "lift-3"})
	mustAppend(t, s, opened.Events[3:]...)
	wantJobs(t, s, journal.Filter{State: journal.JobsHere}, "2000-01-01-1")
	opened.Then(5, narrator.Handed, narrator.Detail{To: "pit"})
	mustAppend(t, s, opened.Events[4:]...)

	jobs, err := s.Jobs(t.Context(), journal.Filter{})
	want := []journal.Entry{
		{ID: "2000-01-01-2", Procedure: "fan-belt", Order: "R 4712", Technician: "Ines", Start: Dawn.Add(narrator.Hour),
			End: Dawn.Add(narrator.Hour + narrator.Minute), Events: 3},
		{ID: "2000-01-01-1", Procedure: "fan-belt", Order: "R 4711", Odometer: "84 210 km", Technician: "Ines", Start: Dawn, Events: 5, Gone: true, To: "pit"},
	}
	if err != nil || fmt.Sprint(jobs) != fmt.Sprint(want) {
		t.Errorf("Jobs = %v, %v\nwant %v", jobs, err, want)
	}
}

func testFinishUndone(t *testing.T, s journal.Store) {
	job := NewJob("2000-01-01-1", Dawn).Then(60, narrator.Finished, narrator.Detail{})
	job.Then(5, narrator.Undone, narrator.Detail{Ref: job.Act()})
	mustAppend(t, s, job.Events...)
	wantJobs(t, s, journal.Filter{State: journal.OpenJobs}, "2000-01-01-1")
}

func testNextJob(t *testing.T, s journal.Store) {
	day := Dawn.Time()
	want := func(day time.Time, id string) {
		t.Helper()
		if got, err := s.NextJob(t.Context(), day); err != nil || got != id {
			t.Errorf("NextJob(%s) = %q, %v, want %q", day, got, err, id)
		}
	}
	want(day, "2000-01-01-1")
	for _, id := range []string{"2000-01-01-1", "2000-01-01-9", "2000-01-01-10", "2000-01-01-x", "2000-01-02-3", "1999-12-31-77"} {
		mustAppend(t, s, NewJob(id, Dawn).Events...)
	}
	want(day, "2000-01-01-11")
	want(day.AddDate(0, 0, 1), "2000-01-02-4")
	want(day.AddDate(0, 0, 2), "2000-01-03-1")
	want(day.In(time.FixedZone("late", -9*3600)), "1999-12-31-78")
}

func testLatest(t *testing.T, s journal.Store) {
	ctx := t.Context()
	for _, at := range []narrator.Moment{Dawn, Dawn + 16000, Dawn + 8000} {
		if err := s.Beat(ctx, at); err != nil {
			t.Fatal(err)
		}
	}
	if at, err := s.LastBeat(ctx); err != nil || at != Dawn+8000 {
		t.Errorf("LastBeat = %v, %v", at, err)
	}
	first := journal.Session{Boot: "5a61", SinceBoot: time.Hour + 1, Opened: Dawn}
	second := journal.Session{Boot: "5a61", SinceBoot: time.Minute, Opened: Dawn - 5}
	for _, n := range []journal.Session{first, second} {
		if err := s.Begin(ctx, n); err != nil {
			t.Fatal(err)
		}
	}
	if n, err := s.LastSession(ctx); err != nil || n != second {
		t.Errorf("LastSession = %v, %v", n, err)
	}
}

func testNotShared(t *testing.T, s journal.Store) {
	job := NewJob("2000-01-01-1", Dawn).Events
	want := append([]narrator.Event{}, job...)
	mustAppend(t, s, job...)
	job[0].At = 1
	log, err := s.Log(t.Context(), "2000-01-01-1")
	if err != nil {
		t.Fatal(err)
	}
	log[1].At = 2
	wantLog(t, s, "2000-01-01-1", want)
}

func testConcurrent(t *testing.T, s journal.Store) {
	const jobs, events = 4, 12
	var all sync.WaitGroup
	for n := range jobs {
		all.Go(func() {
			for _, e := range Worked(ID(n), Dawn, events) {
				if err := s.Append(t.Context(), []narrator.Event{e}); err != nil {
					t.Error(err)
				}
				if err := s.Beat(t.Context(), e.At); err != nil {
					t.Error(err)
				}
				if _, err := s.Jobs(t.Context(), journal.Filter{}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	for n := range jobs {
		wantLog(t, s, ID(n), Worked(ID(n), Dawn, events))
	}
	if found := journal.Verify(t.Context(), s); len(found) != 0 {
		t.Errorf("Verify = %v", found)
	}
}

func testClosed(t *testing.T, s journal.Store) {
	ctx := t.Context()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	deeds := map[string]func() error{
		"Append":      func() error { return s.Append(ctx, NewJob("2000-01-01-1", Dawn).Events) },
		"Log":         func() error { _, err := s.Log(ctx, ""); return err },
		"Jobs":        func() error { _, err := s.Jobs(ctx, journal.Filter{}); return err },
		"NextJob":     func() error { _, err := s.NextJob(ctx, Dawn.Time()); return err },
		"Beat":        func() error { return s.Beat(ctx, Dawn) },
		"LastBeat":    func() error { _, err := s.LastBeat(ctx); return err },
		"Begin":       func() error { return s.Begin(ctx, journal.Session{}) },
		"LastSession": func() error { _, err := s.LastSession(ctx); return err },
	}
	for name, do := range deeds {
		if do() == nil {
			t.Errorf("%s works on a closed store", name)
		}
	}
}
