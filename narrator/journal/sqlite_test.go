package journal_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
)

func TestEverythingIsThereAfterReopening(t *testing.T) {
	for _, name := range []string{"plain", "with space", "odd %41?&#;'\"é"} {
		dir := filepath.Join(t.TempDir(), "deep", name)
		log := storetest.Worked("2000-01-01-1", storetest.Dawn, 5)
		n := journal.Session{Boot: "5a61", SinceBoot: 7, Opened: storetest.Dawn}
		s := open(t, dir, journal.Writer)
		for _, err := range []error{s.Append(t.Context(), log), s.Beat(t.Context(), 99), s.Begin(t.Context(), n), s.Close()} {
			if err != nil {
				t.Fatal(err)
			}
		}
		for _, mode := range []journal.Mode{journal.Reader, journal.Writer} {
			s := open(t, dir, mode)
			if got, err := s.Log(t.Context(), "2000-01-01-1"); err != nil || !slices.Equal(got, log) {
				t.Errorf("%s: log = %v, %v", name, got, err)
			}
			if at, err := s.LastBeat(t.Context()); err != nil || at != 99 {
				t.Errorf("%s: beat = %v, %v", name, at, err)
			}
			if got, err := s.LastSession(t.Context()); err != nil || got != n {
				t.Errorf("%s: session = %v, %v", name, got, err)
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		}
		if _, err := os.Stat(filepath.Join(dir, "journal.db")); err != nil {
			t.Errorf("the database is not where it belongs: %v", err)
		}
	}
}

func TestOnlyTheOwnerMayRead(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	s := open(t, dir, journal.Writer)
	if err := s.Append(t.Context(), storetest.Worked("2000-01-01-1", storetest.Dawn, 3)); err != nil {
		t.Fatal(err)
	}
	part, err := s.Memos().Begin("2000-01-01-1")
	if err != nil {
		t.Fatal(err)
	}
	modes := map[string]fs.FileMode{".": 0o700, "journal.db": 0o600, "journal.db-wal": 0o600, "journal.db-shm": 0o600,
		"lock": 0o600, "memos": 0o700, "memos/" + filepath.Base(part): 0o600}
	for name, want := range modes {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil {
			t.Error(err)
		} else if got := info.Mode().Perm(); got != want {
			t.Errorf("%s has mode %o, want %o", name, got, want)
		}
	}
}

func TestASecondWriterIsToldWhoTheFirstIs(t *testing.T) {
	dir := t.TempDir()
	first := open(t, dir, journal.Writer)
	_, err := journal.Open(dir, journal.Writer)
	if !errors.Is(err, journal.ErrInUse) || !strings.Contains(err.Error(), fmt.Sprintf("process %d;", os.Getpid())) {
		t.Errorf("the error is %v", err)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	open(t, dir, journal.Writer)
}

func TestAReaderReadsWhileAWriterWrites(t *testing.T) {
	dir := t.TempDir()
	w, log := open(t, dir, journal.Writer), storetest.Worked("2000-01-01-1", storetest.Dawn, 20)
	r := open(t, dir, journal.Reader)
	for i := range log {
		if err := w.Append(t.Context(), log[i:i+1]); err != nil {
			t.Fatal(err)
		}
		if got, err := r.Log(t.Context(), "2000-01-01-1"); err != nil || !slices.Equal(got, log[:i+1]) {
			t.Fatalf("after %d events the reader sees %v, %v", i+1, got, err)
		}
	}
	for _, err := range []error{r.Append(t.Context(), log), r.Beat(t.Context(), 1), r.Begin(t.Context(), journal.Session{})} {
		if !errors.Is(err, journal.ErrReadOnly) {
			t.Errorf("a reader writes: %v", err)
		}
	}
}

func TestAReaderCreatesNothing(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "absent")
	if _, err := journal.Open(dir, journal.Reader); !errors.Is(err, journal.ErrNoJournal) {
		t.Errorf("the error is %v", err)
	}
	if _, err := os.Stat(dir); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the folder was created: %v", err)
	}
	empty := t.TempDir()
	if _, err := journal.Open(empty, journal.Reader); !errors.Is(err, journal.ErrNoJournal) {
		t.Errorf("the error is %v", err)
	}
	if files, err := os.ReadDir(empty); err != nil || len(files) != 0 {
		t.Errorf("files were created: %v, %v", files, err)
	}
}

func TestRecordedEventsCannotBeChanged(t *testing.T) {
	dir := t.TempDir()
	s, log := open(t, dir, journal.Writer), storetest.Worked("2000-01-01-1", storetest.Dawn, 3)
	if err := s.Append(t.Context(), log); err != nil {
		t.Fatal(err)
	}
	db := raw(t, dir)
	for _, statement := range []string{`UPDATE event SET at = 1`, `DELETE FROM event`} {
		if _, err := db.Exec(statement); err == nil {
			t.Errorf("%s was let pass", statement)
		}
	}
}

// Each of these files must be refused and left byte for byte as it is.
func TestWhatIsNotOursIsLeftAlone(t *testing.T) {
	cases := []struct {
		name string
		make func(t *testing.T, dir string)
		want error
	}{
		{"a newer journal", func(t *testing.T, dir string) {
			open(t, dir, journal.Writer).Close()
			mustExec(t, dir, `INSERT INTO goose_db_version (version_id, is_applied) VALUES (4711, 1)`)
		}, journal.ErrNewer},
		{"another program's database", func(t *testing.T, dir string) {
			mustExec(t, dir, `CREATE TABLE recipe (id)`)
		}, journal.ErrForeign},
		{"a file that is no database", func(t *testing.T, dir string) {
			text := strings.Repeat("Bring the water to the boil. ", 1000)
			if err := os.WriteFile(filepath.Join(dir, "journal.db"), []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
		}, journal.ErrDamaged},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			c.make(t, dir)
			before, err := os.ReadFile(filepath.Join(dir, "journal.db"))
			if err != nil {
				t.Fatal(err)
			}
			for _, mode := range []journal.Mode{journal.Writer, journal.Reader} {
				s, err := journal.Open(dir, mode)
				if !errors.Is(err, c.want) {
					t.Errorf("the error is %v, want %v", err, c.want)
				}
				if err == nil {
					s.Close()
				} else if !strings.Contains(err.Error(), dir) {
					t.Errorf("the error does not say where: %v", err)
				}
			}
			if after, err := os.ReadFile(filepath.Join(dir, "journal.db")); err != nil || !slices.Equal(before, after) {
				t.Errorf("the file was changed: %v", err)
			}
		})
	}
}

func TestALockedJournalIsCalledLocked(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, journal.Writer)
	journal.SetBusyTimeout(t, s, 1)
	db := raw(t, dir)
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(`BEGIN IMMEDIATE`); err != nil {
		t.Fatal(err)
	}
	log := storetest.Worked("2000-01-01-1", storetest.Dawn, 3)
	if err := s.Append(t.Context(), log); !errors.Is(err, journal.ErrLocked) {
		t.Errorf("the error is %v", err)
	}
	if _, err := db.Exec(`ROLLBACK`); err != nil {
		t.Fatal(err)
	}
	if err := s.Append(t.Context(), log); err != nil {
		t.Errorf("once the lock is gone: %v", err)
	}
}

// endsOnceAsked is a context that ends as soon as somebody has seen that it has not.
type endsOnceAsked struct {
	context.Context
	end func()
}

func (c endsOnceAsked) Err() error {
	defer c.end()
	return c.Context.Err()
}

func TestAnAppendOnceBegunIsFinished(t *testing.T) {
	s, log := open(t, t.TempDir(), journal.Writer), storetest.Worked("2000-01-01-1", storetest.Dawn, 3)
	ctx, end := context.WithCancel(t.Context())
	if err := s.Append(endsOnceAsked{ctx, end}, log); err != nil || ctx.Err() == nil {
		t.Errorf("Append = %v, the context %v", err, ctx.Err())
	}
	if got, err := s.Log(t.Context(), "2000-01-01-1"); err != nil || !slices.Equal(got, log) {
		t.Errorf("log = %v, %v", got, err)
	}
}

func TestReckonTrustsOneBootOnly(t *testing.T) {
	n := journal.Session{Boot: "5a61", SinceBoot: 100e9, Opened: storetest.Dawn}
	if at, ok := n.Reckon("5a61", 160e9); !ok || at != storetest.Dawn.Add(narrator.Minute) {
		t.Errorf("a minute later on the same boot: %v, %v", at, ok)
	}
	for name, now := range map[string]struct {
		session journal.Session
		boot    string
	}{"another boot": {n, "77aa"}, "no session": {journal.Session{}, ""}, "an earlier reading": {n, "5a61"}} {
		if at, ok := now.session.Reckon(now.boot, 99e9); ok {
			t.Errorf("%s: %v", name, at)
		}
	}
}

// raw opens the database behind the journal's back.
func raw(t *testing.T, dir string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, "journal.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func mustExec(t *testing.T, dir string, statements ...string) {
	t.Helper()
	db := raw(t, dir)
	for _, s := range statements {
		if _, err := db.Exec(s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}
