package journal_test

import (
	"compress/gzip"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
)

// older lays a journal down as a program of an earlier schema wrote it, with the events that are in it.
func older(t *testing.T, schema, dir string) map[string][]narrator.Event {
	t.Helper()
	packed, err := os.Open(filepath.Join("testdata", schema, "journal.db.gz"))
	if err != nil {
		t.Fatal(err)
	}
	defer packed.Close()
	r, err := gzip.NewReader(packed)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(r)
	if err = errors.Join(err, os.WriteFile(filepath.Join(dir, "journal.db"), data, 0o600)); err != nil {
		t.Fatal(err)
	}
	two := storetest.NewJob("2000-01-01-2", storetest.Dawn.Add(narrator.Hour)).Then(2, narrator.Word, narrator.Detail{Word: "torque", Score: 0.5}).
		Then(3, narrator.Entered, narrator.Detail{Field: "complaint", Value: "smells of oil – \"hot\""})
	return map[string][]narrator.Event{
		"2000-01-01-1": storetest.Worked("2000-01-01-1", storetest.Dawn, 12),
		"2000-01-01-2": two.Events,
		"":             storetest.NewBay(storetest.Dawn).Then(1, narrator.Switched, narrator.Detail{Work: "2000-01-01-2"}).Events,
	}
}

// Data that each earlier schema's program made are read as they are, and go on in the newest schema.
func TestAnOlderJournalGoesOn(t *testing.T) {
	for _, schema := range []string{"schema-1", "schema-2"} {
		t.Run(schema, func(t *testing.T) { goesOn(t, schema) })
	}
}

func goesOn(t *testing.T, schema string) {
	dir := t.TempDir()
	want := older(t, schema, dir)
	same := func(s *journal.SQLite) {
		t.Helper()
		for job, log := range want {
			if got, err := s.Log(t.Context(), job); err != nil || !slices.Equal(got, log) {
				t.Errorf("job %q: %v, %v", job, got, err)
			}
		}
		if found := journal.Verify(t.Context(), s); len(found) != 0 {
			t.Errorf("Verify = %v", found)
		}
	}
	salvage, err := journal.Rescue(dir)
	if err != nil || len(salvage.Events) != 17 || len(salvage.Jobs) != 2 {
		t.Errorf("what can be saved: %+v, %v", salvage, err)
	}
	old := open(t, dir, journal.Reader) // may look without changing the schema
	same(old)
	if marked, err := old.Since(t.Context(), 0, 100); err != nil || len(marked) != 17 {
		t.Errorf("%d events, %v", len(marked), err)
	}
	old.Close()
	s := open(t, dir, journal.Writer)
	same(s)
	next := storetest.Worked("2000-01-02-1", storetest.Dawn.Add(24*narrator.Hour), 4)
	if err := s.Append(t.Context(), next); err != nil {
		t.Fatal(err)
	}
	want["2000-01-02-1"] = next
	same(s)
	if at, err := s.LastBeat(t.Context()); err != nil || at != 99 {
		t.Errorf("beat %v, %v", at, err)
	}
	s.Close()
	const unlock = `DROP TRIGGER event_is_not_changed; `
	mustExec(t, dir, unlock+`UPDATE event SET at = at + 1 WHERE seq = 2 AND job = '2000-01-01-1'`)
	s = open(t, dir, journal.Reader)
	if _, err := s.Log(t.Context(), "2000-01-01-1"); !errors.Is(err, journal.ErrDamaged) {
		t.Errorf("an old event that was changed reads as %v", err)
	}
}
