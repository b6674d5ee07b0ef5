package archive_test

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"testing"
	"time"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/labour/archive/archivetest"
)

// BenchmarkArchive prints what a shop's years cost: working all jobs in, working in one more, and the queries behind the pages. 20 000 jobs
// are one million events, from a journal; STEPCALLER_BENCH_JOBS=400000 adds 50 bays' year, made up as it is read. Memory is that of the whole process, the
// journal's included, held to 80 MB as the program holds itself.
func BenchmarkArchive(b *testing.B) {
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(80 << 20))
	for _, jobs := range archivetest.Sizes(b, 2_000, 20_000) {
		b.Run(fmt.Sprintf("%d-jobs", jobs), func(b *testing.B) { benchArchive(b, jobs) })
	}
}

func benchArchive(b *testing.B, jobs int) {
	dir, recorded := b.TempDir(), jobs <= 20_000
	if !recorded {
		dir = archivetest.Folder(b)
	}
	shop := archivetest.Usual(jobs)
	var store journal.Store = shop
	finish := func() { shop.More.Add(1) }
	if recorded {
		fill(b, dir, shop)
		kept, err := journal.Open(dir, journal.Writer)
		if err != nil {
			b.Fatal(err)
		}
		defer kept.Close()
		store = kept
		finish = func() {
			log, err := shop.Log(b.Context(), shop.ID(jobs+int(shop.More.Add(1))-1))
			if err == nil {
				err = store.Append(b.Context(), log)
			}
			if err != nil {
				b.Fatal(err)
			}
		}
	}
	a := opened(b, dir, store)
	archivetest.ForgetPeak(b)
	b.Run("first-refresh", func(b *testing.B) {
		began, worked := time.Now(), archivetest.CPU(b)
		refreshed(b, a)
		whole, busy := time.Since(began), archivetest.CPU(b)-worked
		for b.Loop() { // once is enough
			continue
		}
		b.ReportMetric(whole.Seconds(), "whole-s")
		b.ReportMetric(busy.Seconds(), "cpu-s")
		b.ReportMetric(archivetest.Peak(b), "peak-MB")
		b.ReportMetric(size(b, dir, "figures.db"), "figures.db-MB")
		if recorded {
			b.ReportMetric(size(b, dir, "journal.db"), "journal.db-MB")
		}
		b.ReportMetric(0, "ns/op")
	})
	archivetest.ForgetPeak(b)
	query := func(do func(n int) error) func(b *testing.B) {
		return func(b *testing.B) { timed(b, do) }
	}
	b.Run("refresh-nothing-new", query(func(int) error { return a.Refresh(b.Context()) }))
	b.Run("refresh-one-job", func(b *testing.B) {
		timed(b, func(int) error {
			b.StopTimer()
			finish()
			b.StartTimer()
			return a.Refresh(b.Context())
		})
	})
	b.Run("jobs-newest", query(func(int) error { return someJobs(b, a, archive.Query{Limit: 50}) }))
	b.Run("jobs-last-page", query(func(int) error { return someJobs(b, a, archive.Query{Limit: 50, Offset: jobs - shop.Open - 50}) }))
	b.Run("jobs-in-the-middle", query(func(int) error { return someJobs(b, a, archive.Query{Limit: 50, Offset: jobs / 2}) }))
	who := shop.People[1]
	for name, q := range map[string]archive.Query{
		"order":                 {Text: fmt.Sprint("R", jobs/2)},
		"two-letters-and-name":  {Text: "r7 " + who},
		"one-name-last-page":    {Text: who, Offset: min(jobs, archive.MostFound) / len(shop.People) / 50 * 50},
		"everywhere":            {Text: "pony job"},
		"everywhere-deep":       {Text: "pony job", Offset: min(jobs, archive.MostFound) - 50},
		"name-and-comebacks":    {Text: who, Kind: "comeback"},
		"everywhere-comebacks":  {Text: "pony job", Kind: "comeback"},
		"one-letter-everywhere": {Text: "o"},
		"two-letters-nowhere":   {Text: "zq"},
		"nowhere":               {Text: "drover"},
	} {
		q.Limit = 50
		b.Run("text-"+name, query(func(int) error { _, _, err := a.Jobs(b.Context(), q); return err }))
	}
	b.Run("jobs-of-technician", query(func(int) error {
		return someJobs(b, a, archive.Query{Technician: who, Limit: 50})
	}))
	b.Run("jobs-of-technician-and-procedure", query(func(int) error {
		return someJobs(b, a, archive.Query{Technician: who, Procedure: "job-0", Limit: 50})
	}))
	b.Run("jobs-of-procedure-in-the-middle", query(func(int) error {
		return someJobs(b, a, archive.Query{Procedure: "job-0", Offset: jobs / 4, Limit: 50})
	}))
	b.Run("jobs-of-kind", query(func(int) error { return someJobs(b, a, archive.Query{Kind: "comeback", Limit: 50}) }))
	if len(shop.Bays) > 0 {
		b.Run("jobs-of-bay", query(func(n int) error { return someJobs(b, a, archive.Query{Bay: shop.Bays[n%len(shop.Bays)], Limit: 50}) }))
	}
	day := shop.Begun(jobs - 1).Truncate(24 * time.Hour)
	b.Run("day", query(func(n int) error {
		_, err := a.Between(b.Context(), day.AddDate(0, 0, -n%9), day.AddDate(0, 0, 1-n%9), "")
		return err
	}))
	b.Run("day-what-ran-long", query(func(n int) error {
		all, err := a.Between(b.Context(), day.AddDate(0, 0, -n%9), day.AddDate(0, 0, 1-n%9), "")
		if err == nil {
			_, _, err = a.RanLong(b.Context(), all)
		}
		return err
	}))
	b.Run("procedures-again", query(func(int) error { _, err := a.Procedures(b.Context()); return err }))
	cold := func(do func(a *archive.Archive, n int) error) func(b *testing.B) {
		return func(b *testing.B) {
			timed(b, func(n int) error {
				b.StopTimer()
				other, err := archive.Open(dir, store) // knows no figures yet
				if err != nil {
					return err
				}
				b.StartTimer()
				err = do(other, n)
				b.StopTimer()
				defer b.StartTimer()
				return errors.Join(err, other.Close())
			})
		}
	}
	procedure := func(a *archive.Archive, id string) error { _, err := a.Procedure(b.Context(), id); return err }
	b.Run("procedures", cold(func(a *archive.Archive, _ int) error { _, err := a.Procedures(b.Context()); return err }))
	b.Run("procedure-of-half-the-jobs", cold(func(a *archive.Archive, _ int) error { return procedure(a, "job-0") }))
	b.Run("procedure-of-few-jobs", cold(func(a *archive.Archive, n int) error { return procedure(a, fmt.Sprintf("job-%d", 1+n%9)) }))
	b.Run("procedure-when-one-more-is-finished", func(b *testing.B) {
		timed(b, func(int) error {
			b.StopTimer()
			finish()
			b.StartTimer()
			return errors.Join(a.Refresh(b.Context()), procedure(a, "job-0"))
		})
	})
	if err := procedure(a, "job-0"); err != nil {
		b.Fatal(err)
	}
	b.Run("procedure-again", query(func(int) error { _, err := a.Procedure(b.Context(), "job-0"); return err }))
	b.Run("review-of-a-job", query(func(n int) error {
		sheet, err := a.Sheet(b.Context(), shop.ID(n*37%(jobs-shop.Open)), 0)
		if err == nil {
			_, err = a.Review(b.Context(), sheet)
		}
		return err
	}))
	b.Run("memory", func(b *testing.B) {
		for b.Loop() {
			continue
		}
		b.ReportMetric(archivetest.Peak(b), "peak-MB-of-all-queries")
		b.ReportMetric(0, "ns/op")
	})
}

func someJobs(b *testing.B, a *archive.Archive, q archive.Query) error {
	rows, _, err := a.Jobs(b.Context(), q)
	if err == nil && len(rows) == 0 {
		err = fmt.Errorf("%+v finds nothing", q)
	}
	return err
}

// timed runs do over and over and reports how long it took at the median and the 95th percentile.
func timed(b *testing.B, do func(n int) error) {
	var times []time.Duration
	began := archivetest.CPU(b)
	for n := 0; b.Loop(); n++ {
		before := b.Elapsed()
		if err := do(n); err != nil {
			b.Fatal(err)
		}
		times = append(times, b.Elapsed()-before)
	}
	slices.Sort(times)
	at := func(share float64) float64 {
		return times[int(math.Ceil(share*float64(len(times))))-1].Seconds() * 1000
	}
	b.ReportMetric((archivetest.CPU(b)-began).Seconds()*1000/float64(len(times)), "cpu-ms")
	b.ReportMetric(at(0.5), "median-ms")
	b.ReportMetric(at(0.95), "p95-ms")
}

// fill writes the journal of a shop in one transaction, which its own Append would sync job by job.
func fill(b *testing.B, dir string, shop *archivetest.Shop) {
	store, err := journal.Open(dir, journal.Writer)
	if err == nil {
		err = store.Close()
	}
	if err != nil {
		b.Fatal(err)
	}
	db, err := sql.Open("sqlite", "file:"+filepath.Join(dir, "journal.db")+"?_pragma=synchronous(OFF)")
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	tx, err := db.BeginTx(b.Context(), nil)
	if err != nil {
		b.Fatal(err)
	}
	insert, err := tx.PrepareContext(b.Context(), `INSERT INTO event (job, seq, act, at, noted, kind, detail) VALUES (?, ?, ?, ?, ?, ?, ?)`)
	if err != nil {
		b.Fatal(err)
	}
	for n := range shop.Size {
		log, err := shop.Log(b.Context(), shop.ID(n))
		if err != nil {
			b.Fatal(err)
		}
		for _, e := range log {
			detail, err := json.Marshal(e.Detail)
			if err == nil {
				_, err = insert.ExecContext(b.Context(), e.Job, e.Seq, e.Act, e.At, e.Noted, e.Kind, string(detail))
			}
			if err != nil {
				b.Fatal(err)
			}
		}
	}
	if err := tx.Commit(); err != nil {
		b.Fatal(err)
	}
}

func size(b *testing.B, dir, name string) float64 {
	var sum int64
	for _, beside := range []string{"", "-wal"} {
		if info, err := os.Stat(filepath.Join(dir, name+beside)); err == nil {
			sum += info.Size()
		} else if beside == "" {
			b.Fatal(err)
		}
	}
	return float64(sum >> 20)
}
