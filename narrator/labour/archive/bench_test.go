package archive_test

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour/archive"
)

// The shop of the benchmark: 40 steps and 50 events a job, one procedure that half of the jobs are done by, nine that share the rest.
const (
	stepsOfJob     = 40
	procedureKinds = 10
)

// BenchmarkArchive prints what a shop's years cost: working all jobs in, working in one more, and the queries behind the pages. 20 000 jobs
// are one million events. Memory is that of the whole process, the journal's included, held to 80 MB as the program holds itself.
func BenchmarkArchive(b *testing.B) {
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(80 << 20))
	for _, jobs := range []int{2_000, 20_000} {
		b.Run(fmt.Sprintf("%d-jobs", jobs), func(b *testing.B) { benchArchive(b, jobs) })
	}
}

func benchArchive(b *testing.B, jobs int) {
	dir := b.TempDir()
	fill(b, dir, jobs)
	store, err := journal.Open(dir, journal.Writer)
	if err != nil {
		b.Fatal(err)
	}
	defer store.Close()
	a := opened(b, dir, store)
	forgetPeak(b)
	b.Run("first-refresh", func(b *testing.B) {
		began, worked := time.Now(), cpu(b)
		refreshed(b, a)
		whole, busy := time.Since(began), cpu(b)-worked
		for b.Loop() { // once is enough
			continue
		}
		b.ReportMetric(whole.Seconds(), "whole-s")
		b.ReportMetric(busy.Seconds(), "cpu-s")
		b.ReportMetric(float64(peak(b)), "peak-MB")
		b.ReportMetric(size(b, dir, "figures.db"), "figures.db-MB")
		b.ReportMetric(size(b, dir, "journal.db"), "journal.db-MB")
		b.ReportMetric(0, "ns/op")
	})
	forgetPeak(b)
	latest := jobs
	finish := func() {
		add(b, store, benchJob(latest, rand.New(rand.NewPCG(3, uint64(latest)))))
		latest++
	}
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
	b.Run("jobs-last-page", query(func(int) error { return someJobs(b, a, archive.Query{Limit: 50, Offset: jobs - 50}) }))
	b.Run("jobs-found-by-text", query(func(n int) error { return someJobs(b, a, archive.Query{Text: fmt.Sprintf("r%d ines", n%9), Limit: 50}) }))
	b.Run("jobs-of-technician", query(func(int) error {
		return someJobs(b, a, archive.Query{Technician: "Marek", Procedure: "job-0", Limit: 50})
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
	b.Run("procedure-of-one-in-18", cold(func(a *archive.Archive, n int) error { return procedure(a, fmt.Sprintf("job-%d", 1+n%9)) }))
	if err := procedure(a, "job-0"); err != nil {
		b.Fatal(err)
	}
	b.Run("procedure-again", query(func(int) error { _, err := a.Procedure(b.Context(), "job-0"); return err }))
	b.Run("review-of-a-job", query(func(n int) error {
		sheet, err := a.Sheet(b.Context(), benchID(n*37%jobs), 0)
		if err == nil {
			_, err = a.Review(b.Context(), sheet)
		}
		return err
	}))
	b.Run("memory", func(b *testing.B) {
		for b.Loop() {
			continue
		}
		b.ReportMetric(float64(peak(b)), "peak-MB-of-all-queries")
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
	began := cpu(b)
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
	b.ReportMetric((cpu(b)-began).Seconds()*1000/float64(len(times)), "cpu-ms")
	b.ReportMetric(at(0.5), "median-ms")
	b.ReportMetric(at(0.95), "p95-ms")
}

// cpu is how long processors have worked for this process. On a machine with other work it says more than the clock; it includes what is
// done while the benchmark's timer stands.
func cpu(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// fill writes the journal of many jobs in one transaction, which its own Append would sync job by job.
func fill(b *testing.B, dir string, jobs int) {
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
	r := rand.New(rand.NewPCG(1, 2))
	for n := range jobs {
		for _, e := range benchJob(n, r).events {
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

func benchID(n int) string {
	return fmt.Sprintf("%s-%d", dawn.Add(narrator.Span(n/10)*24*narrator.Hour).Time().Format(time.DateOnly), n%10+1)
}

// benchJob is one job of 50 events: opened, 40 steps of invented length, two pauses, three words, a note, finished.
func benchJob(n int, r *rand.Rand) *script {
	which := 0
	if n%2 == 1 {
		which = 1 + n/2%(procedureKinds-1)
	}
	d := narrator.Detail{Procedure: "file.yaml", Text: benchFiles[which], Technician: []string{"Ines", "Marek", "Élodie", "Tomas"}[r.IntN(4)], Order: fmt.Sprint("R", n)}
	if n%50 == 49 {
		d.JobKind, d.Earlier = "comeback", benchID(n-20)
	}
	s := begun(benchID(n), n/10, d)
	for step := 1; step <= stepsOfJob; step++ {
		s.then(0, narrator.Arrived, narrator.Detail{Step: fmt.Sprintf("step-%d", step)})
		s.now = s.now.Add(narrator.Minutes(2 * math.Exp(0.35*r.NormFloat64())))
		switch step {
		case 10, 30:
			s.then(0, narrator.Held, narrator.Detail{Reason: []string{"parts", "phone", "customer"}[r.IntN(3)]}).then(60*r.ExpFloat64(), narrator.Resumed, narrator.Detail{})
		case 5, 15, 25:
			s.then(0, narrator.Word, narrator.Detail{Word: "repeat", Score: 0.9})
		case 20:
			s.then(0, narrator.Recorded, narrator.Detail{File: "memos/" + s.id + "-20.wav", From: s.now - narrator.Moment(10*narrator.Second), Length: 8 * narrator.Second})
		}
	}
	return s.then(0, narrator.Finished, narrator.Detail{})
}

// benchFiles are procedure files as long as those that come along.
var benchFiles = func() (all []string) {
	for which := range procedureKinds {
		text := strings.ReplaceAll(file(fmt.Sprintf("job-%d", which), stepsOfJob), " of it.", " of it, "+strings.Repeat("with the bolts in their order, ", 5)+"as far as it goes.")
		all = append(all, text)
	}
	return all
}()

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

// forgetPeak makes the kernel measure the process's peak memory from now on.
func forgetPeak(b *testing.B) {
	debug.FreeOSMemory()
	if err := os.WriteFile("/proc/self/clear_refs", []byte("5"), 0); err != nil {
		b.Logf("the peak includes the making of the journal: %v", err)
	}
}

// peak is the most memory that the process has had, in MB.
func peak(b *testing.B) int {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		b.Fatal(err)
	}
	for line := range strings.Lines(string(status)) {
		if words := strings.Fields(line); words[0] == "VmHWM:" {
			kb, err := strconv.Atoi(words[1])
			if err != nil {
				b.Fatal(err)
			}
			return kb >> 10
		}
	}
	return 0
}
