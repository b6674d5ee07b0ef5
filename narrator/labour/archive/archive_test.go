package archive_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/labour/figures"
)

// shop is a journal of some jobs: belt on days 0 to 3 by Ines and Marek in turn, a comeback of the first on day 4, pump on day 5, one open on day 6.
func shop(t testing.TB) *journal.Memory {
	t.Helper()
	store := &journal.Memory{}
	belt := func(who string) narrator.Detail {
		return narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 3), Technician: who, Order: "R 4711"}
	}
	for day := range 4 {
		add(t, store, job(nth(day), day, belt([]string{"Ines", "Marek"}[day%2]), 6, 20, float64(30+day)))
	}
	again := belt("Marek")
	again.JobKind, again.Earlier, again.Order = "comeback", nth(0), "R 4800"
	add(t, store, job(nth(4), 4, again, 6, 20, 10))
	pump := job(nth(5), 5, narrator.Detail{Procedure: "pump.yaml", Text: file("pump", 2), Technician: "Élodie"}, 10, 12)
	add(t, store, pump.then(60, narrator.Entered, narrator.Detail{Field: "complaint", Value: "Squeals when COLD"}))
	add(t, store, begun(nth(6), 6, belt("Ines")))
	return store
}

func ids(rows []archive.Row) string {
	var all []string
	for _, r := range rows {
		all = append(all, r.Job)
	}
	return strings.Join(all, " ")
}

func TestJobsAreListedAndFound(t *testing.T) {
	a := opened(t, t.TempDir(), shop(t))
	refreshed(t, a)
	find := func(q archive.Query, total int, days ...int) {
		t.Helper()
		rows, n, err := a.Jobs(t.Context(), q)
		var want []string
		for _, d := range days {
			want = append(want, nth(d))
		}
		if err != nil || n != total || ids(rows) != strings.Join(want, " ") {
			t.Errorf("%+v finds %s of %d, %v; want %q of %d", q, ids(rows), n, err, want, total)
		}
	}
	find(archive.Query{}, 6, 5, 4, 3, 2, 1, 0)
	find(archive.Query{Offset: 1, Limit: 2}, 6, 4, 3)
	find(archive.Query{Offset: 6}, 6)
	find(archive.Query{Procedure: "pump"}, 1, 5)
	find(archive.Query{Technician: "Ines"}, 2, 2, 0)
	find(archive.Query{Technician: "Ine"}, 0)
	find(archive.Query{Kind: "comeback"}, 1, 4)
	find(archive.Query{Text: "squeals cold"}, 1, 5)
	find(archive.Query{Text: "élodie"}, 1, 5)
	find(archive.Query{Text: "4711 marek"}, 2, 3, 1)
	find(archive.Query{Text: "%"}, 0)
	find(archive.Query{From: dawn.Add(24 * narrator.Hour).Time(), To: dawn.Add(3 * 24 * narrator.Hour).Time()}, 2, 2, 1)

	rows, _, err := a.Jobs(t.Context(), archive.Query{})
	if err != nil {
		t.Fatal(err)
	}
	first := rows[5]
	if first.Title != "Job belt" || first.Machine != "Ostwick Pony" || !slices.Equal(first.Technicians, []string{"Ines"}) || first.Worked != 56*60 ||
		first.BookHours != 1 || *first.Efficiency != 1.071 || first.Why != figures.IsSample || first.Started != dawn.Time() ||
		!slices.Equal(first.Comebacks, []archive.Comeback{{Job: nth(4), Worked: 36 * 60}}) {
		t.Errorf("%+v", first)
	}
	if rows[1].Why != figures.Comeback || rows[1].Earlier != nth(0) {
		t.Errorf("%+v", rows[1])
	}
	if sum := archive.TotalOf(rows[1:2]); sum.BookHours != 0 || sum.Efficiency != nil || rows[1].Efficiency != nil || sum.Worked != 36*60 {
		t.Errorf("a comeback sums up to %+v", sum)
	}
	if sum := archive.TotalOf(rows[3:]); sum.Jobs != 3 || sum.Worked != (56+57+58)*60 || sum.BookHours != 3 {
		t.Errorf("%+v", sum)
	}
}

func TestProcedures(t *testing.T) {
	a := opened(t, t.TempDir(), shop(t))
	refreshed(t, a)
	all, err := a.Procedures(t.Context())
	if err != nil || len(all) != 2 {
		t.Fatalf("%+v, %v", all, err)
	}
	if b := all[0]; b.Procedure != "belt" || b.Jobs != 5 || b.Samples != 4 || b.CameBack != 1 || math.Abs(b.Median-57.5) > 1e-9 {
		t.Errorf("%+v", b)
	}
	f, err := a.Procedure(t.Context(), "belt")
	if err != nil {
		t.Fatal(err)
	}
	if f.Jobs != 5 || f.Whole.Count != 4 || f.Editions != 1 || len(f.Steps) != 3 || f.Steps[2].Median != 31.5 || f.Steps[0].Expected.Basis != figures.FromFile {
		t.Errorf("%+v", f)
	}
	// 56 + 57 + 58 + 59 minutes, and the 36 of the comeback, on four jobs.
	if c := f.Cost; c.Jobs != 4 || c.CameBack != 1 || math.Abs(c.PerJob-(56+57+58+59+36)/240.0) > 1e-9 {
		t.Errorf("%+v", c)
	}
	if _, err := a.Procedure(t.Context(), "clutch"); !errors.Is(err, archive.ErrNoProcedure) {
		t.Errorf("an unknown procedure: %v", err)
	}
}

// The archive tells of a step just what the sheets tell, however it stores it.
func TestReviewOfAJob(t *testing.T) {
	a := opened(t, t.TempDir(), shop(t))
	refreshed(t, a)
	sheet, err := a.Sheet(t.Context(), nth(3), 0)
	if err != nil {
		t.Fatal(err)
	}
	r, err := a.Review(t.Context(), sheet)
	if err != nil || r.Count != 3 || r.Worked != 59 || len(r.Steps) != 3 || r.Steps[2].Count != 3 || r.Steps[2].Next == nil {
		t.Fatalf("%+v, %v", r, err)
	}
	open, err := a.Sheet(t.Context(), nth(6), dawn.Add(7*24*narrator.Hour))
	if err != nil {
		t.Fatal(err)
	}
	if r, err := a.Review(t.Context(), open); err != nil || r.Count != 4 {
		t.Errorf("an open job is held against %d, %v", r.Count, err)
	}
}

func TestRefreshIsIncremental(t *testing.T) {
	store := shop(t)
	counted := &counting{Store: store}
	dir := t.TempDir()
	a := opened(t, dir, counted)
	reads := func(what string, want int) {
		t.Helper()
		counted.logs.Store(0)
		refreshed(t, a)
		if n := counted.logs.Load(); n != int64(want) {
			t.Errorf("%s: %d logs read, want %d", what, n, want)
		}
	}
	reads("at first", 7)
	reads("nothing new", 0)
	f, err := a.Procedure(t.Context(), "belt")
	if err != nil {
		t.Fatal(err)
	}
	if again, _ := a.Procedure(t.Context(), "belt"); again != f {
		t.Error("figures are worked out twice")
	}
	add(t, store, job(nth(7), 7, narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 3), Technician: "Ines"}, 6, 20, 40))
	reads("a new job", 1)
	if f, _ = a.Procedure(t.Context(), "belt"); f.Jobs != 6 {
		t.Errorf("%d jobs", f.Jobs)
	}
	log, err := store.Log(t.Context(), nth(7))
	if err != nil {
		t.Fatal(err)
	}
	last := log[len(log)-1]
	undone := narrator.Event{Job: last.Job, Seq: last.Seq + 1, Act: last.Act + 1, At: last.At, Noted: last.At, Kind: narrator.Undone, Detail: narrator.Detail{Ref: last.Act}}
	if err := store.Append(t.Context(), []narrator.Event{undone}); err != nil {
		t.Fatal(err)
	}
	open, err := a.OpenJobs(t.Context(), dawn.Add(30*24*narrator.Hour))
	if err != nil || ids(open) != nth(6) {
		t.Errorf("open are %s, %v", ids(open), err)
	}
	reads("a finish taken back", 1)
	if open, err = a.OpenJobs(t.Context(), dawn.Add(30*24*narrator.Hour)); err != nil || ids(open) != nth(7)+" "+nth(6) || !open[0].Ended.IsZero() || open[1].Technicians[0] != "Ines" {
		t.Errorf("open are %+v, %v", open, err)
	}
	if f, _ = a.Procedure(t.Context(), "belt"); f.Jobs != 5 {
		t.Errorf("%d jobs with one open again", f.Jobs)
	}
	b := opened(t, dir, counted)
	counted.logs.Store(0)
	refreshed(t, b)
	if n := counted.logs.Load(); n != 0 {
		t.Errorf("opened again, %d logs are read", n)
	}
}

type counting struct {
	journal.Store
	logs atomic.Int64
}

func (c *counting) Log(ctx context.Context, id string) ([]narrator.Event, error) {
	c.logs.Add(1)
	return c.Store.Log(ctx, id)
}

func TestWhatWasWorkedInStaysWhenStopped(t *testing.T) {
	store := &journal.Memory{}
	for day := range 450 {
		add(t, store, job(nth(day), day, narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 3)}, 6, 20, 30))
	}
	disk := &failing{Store: store}
	disk.after.Store(300)
	a := opened(t, t.TempDir(), disk)
	if err := a.Refresh(t.Context()); err == nil {
		t.Fatal("a failing journal is no error")
	}
	rows, _, err := a.Jobs(t.Context(), archive.Query{})
	if err != nil || len(rows) != 200 {
		t.Errorf("%d jobs are kept, %v; want the first 200", len(rows), err)
	}
}

type failing struct {
	journal.Store
	after atomic.Int64
}

func (f *failing) Log(ctx context.Context, id string) ([]narrator.Event, error) {
	if f.after.Add(-1) < 0 {
		return nil, errors.New("the disk is gone")
	}
	return f.Store.Log(ctx, id)
}

func TestAJobThatCannotBeReadIsPassedOver(t *testing.T) {
	store := shop(t)
	add(t, store, job(nth(8), 8, narrator.Detail{Procedure: "bad.yaml", Text: "steps: ["}))
	a := opened(t, t.TempDir(), store)
	refreshed(t, a)
	passed, err := a.PassedOver(t.Context())
	if err != nil || len(passed) != 1 || passed[0].Job != nth(8) || !strings.Contains(passed[0].Why, "no longer loads") {
		t.Errorf("%+v, %v", passed, err)
	}
	if _, n, err := a.Jobs(t.Context(), archive.Query{}); n != 6 || err != nil {
		t.Errorf("%d jobs, %v", n, err)
	}
}

func TestAnotherVersionIsWorkedOutAnew(t *testing.T) {
	dir, store := t.TempDir(), shop(t)
	a := opened(t, dir, store)
	refreshed(t, a)
	spoil(t, dir, "PRAGMA user_version = 9999; DROP TABLE packed")
	b := opened(t, dir, store)
	refreshed(t, b)
	if _, n, err := b.Jobs(t.Context(), archive.Query{}); n != 6 || err != nil {
		t.Errorf("%d jobs, %v", n, err)
	}
}

func TestAForeignFileIsLeftAlone(t *testing.T) {
	dir := t.TempDir()
	spoil(t, dir, "CREATE TABLE secrets (x)")
	if _, err := archive.Open(dir, shop(t)); !errors.Is(err, archive.ErrForeign) {
		t.Errorf("another program's database: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, "figures.db"), []byte(strings.Repeat("no database ", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := archive.Open(dir, shop(t)); err == nil || !strings.Contains(err.Error(), "delete the file") {
		t.Errorf("a text file: %v", err)
	}
}

func spoil(t *testing.T, dir, statements string) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, "figures.db"))
	if err == nil {
		_, err = db.ExecContext(t.Context(), statements)
	}
	if err = errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
}

// Two processes may work the same journal in at once.
func TestTwoRefreshAtOnce(t *testing.T) {
	dir, store := t.TempDir(), shop(t)
	for day := 10; day < 300; day++ {
		add(t, store, job(nth(day), day, narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 3)}, 6, 20, 30))
	}
	done := make(chan error)
	for range 2 {
		a := opened(t, dir, store)
		go func() { done <- a.Refresh(t.Context()) }()
	}
	if err := errors.Join(<-done, <-done); err != nil {
		t.Fatal(err)
	}
	if _, n, err := opened(t, dir, store).Jobs(t.Context(), archive.Query{}); n != 296 || err != nil {
		t.Errorf("%d jobs, %v", n, err)
	}
}

func TestAComebackOfAComeback(t *testing.T) {
	store := &journal.Memory{}
	for day := range 3 {
		d := narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 1), Technician: "Ines"}
		if day > 0 {
			d.JobKind, d.Earlier = "comeback", nth(day-1)
		}
		add(t, store, job(nth(day), day, d, 10))
	}
	a := opened(t, t.TempDir(), store)
	refreshed(t, a)
	rows, _, err := a.Jobs(t.Context(), archive.Query{})
	if err != nil || fmt.Sprint(len(rows[2].Comebacks), len(rows[1].Comebacks), len(rows[0].Comebacks)) != "2 1 0" {
		t.Errorf("%+v, %v", rows, err)
	}
}

// A correction of the newest job puts its times in place of the old ones, and the same again.
func TestACorrectedJobIsWorkedInAgain(t *testing.T) {
	store := &journal.Memory{}
	s := job(nth(0), 0, narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 2), Technician: "Ines"}, 10, 20)
	add(t, store, s)
	a := opened(t, t.TempDir(), store)
	refreshed(t, a)
	for n, minutes := range []float64{5, 8} {
		last := len(s.events)
		s.now = dawn.Add(narrator.Minutes(10 + minutes))
		s.then(0, narrator.Corrected, narrator.Detail{From: dawn.Add(10 * narrator.Minute), Reason: "phone", Why: "it rang", Technician: "Ines"})
		if err := store.Append(t.Context(), s.events[last:]); err != nil {
			t.Fatal(err)
		}
		refreshed(t, a)
		f, err := a.Procedure(t.Context(), "belt")
		if err != nil || f.Jobs != 1 || !f.Runs[0].Corrected || f.Steps[1].Median != 20-minutes {
			t.Errorf("after %d corrections: %+v, %v", n+1, f, err)
		}
	}
	rows, total, err := a.Jobs(t.Context(), archive.Query{})
	if err != nil || total != 1 || rows[0].Worked != 22*60 || !rows[0].Corrected {
		t.Errorf("%+v, %v", rows, err)
	}
}

// Another journal in the same folder, such as a backup put back, is worked in anew.
func TestAnotherJournalIsWorkedInAnew(t *testing.T) {
	dir := t.TempDir()
	refreshed(t, opened(t, dir, shop(t)))
	other := &journal.Memory{}
	add(t, other, job(nth(40), 40, narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 3)}, 6, 20, 30))
	a := opened(t, dir, other)
	refreshed(t, a)
	if rows, _, err := a.Jobs(t.Context(), archive.Query{}); err != nil || ids(rows) != nth(40) {
		t.Errorf("a younger journal: %s, %v", ids(rows), err)
	}
	for day := range 20 {
		add(t, other, job(nth(50+day), 50+day, narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 3)}, 6, 20, 30))
	}
	refreshed(t, a)
	b := opened(t, dir, shop(t))
	refreshed(t, b)
	if _, n, err := b.Jobs(t.Context(), archive.Query{}); err != nil || n != 6 {
		t.Errorf("the first journal put back: %d jobs, %v", n, err)
	}
	more := shop(t)
	for day := range 20 {
		add(t, more, job(nth(80+day), 80+day, narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 3)}, 6, 20, 30))
	}
	c := opened(t, dir, more)
	refreshed(t, c)
	if _, n, err := c.Jobs(t.Context(), archive.Query{}); err != nil || n != 26 {
		t.Errorf("one that goes on from it: %d jobs, %v", n, err)
	}
}
