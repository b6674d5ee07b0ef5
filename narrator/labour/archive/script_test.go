package archive_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour/archive"
)

// dawn is when the first job begins: 2000-01-01T08:00:00Z.
const dawn = narrator.Moment(946_713_600 * narrator.Rate)

// file is an invented procedure of so many steps, step-1 ... step-n, the first with minutes.
func file(id string, steps int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "id: %s\ntitle: Job %s\nmachine: Ostwick Pony\nbook: [{code: \"0410\", title: Job %s, hours: 1.0}]\nsteps:\n", id, id, id)
	for n := 1; n <= steps; n++ {
		fmt.Fprintf(&b, "  - {id: step-%d, say: 'Do part %d of it.'", n, n)
		if n == 1 {
			b.WriteString(", minutes: 6")
		}
		b.WriteString("}\n")
	}
	return b.String()
}

// script is a job's log in the making: every event is an act of its own.
type script struct {
	id     string
	events []narrator.Event
	now    narrator.Moment
}

// begun begins a job so many days after dawn.
func begun(id string, day int, d narrator.Detail) *script {
	s := &script{id: id, now: dawn.Add(narrator.Span(day) * 24 * narrator.Hour)}
	return s.then(0, narrator.Opened, d)
}

func (s *script) then(seconds float64, kind narrator.Kind, d narrator.Detail) *script {
	seq := int64(len(s.events)) + 1
	s.now = s.now.Add(narrator.Span(seconds * narrator.Rate))
	s.events = append(s.events, narrator.Event{Job: s.id, Seq: seq, Act: seq, At: s.now, Noted: s.now, Kind: kind, Detail: d})
	return s
}

// job is a finished job whose steps took so many minutes.
func job(id string, day int, d narrator.Detail, minutes ...float64) *script {
	s := begun(id, day, d)
	for n, m := range minutes {
		s.then(0, narrator.Arrived, narrator.Detail{Step: fmt.Sprintf("step-%d", n+1)})
		s.now = s.now.Add(narrator.Minutes(m))
	}
	return s.then(0, narrator.Finished, narrator.Detail{})
}

// nth is the id of a job on the n-th day.
func nth(day int) string {
	return dawn.Add(narrator.Span(day)*24*narrator.Hour).Time().Format(time.DateOnly) + "-1"
}

func add(t testing.TB, store journal.Store, scripts ...*script) {
	t.Helper()
	for _, s := range scripts {
		if err := store.Append(t.Context(), s.events); err != nil {
			t.Fatal(err)
		}
	}
}

func opened(t testing.TB, dir string, store journal.Store) *archive.Archive {
	t.Helper()
	a, err := archive.Open(dir, store)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	return a
}

func refreshed(t testing.TB, a *archive.Archive) {
	t.Helper()
	if err := a.Refresh(t.Context()); err != nil {
		t.Fatal(err)
	}
}
