package pages_test

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/pages"
)

// BenchmarkPages prints how long every page takes to be made, at the median and the 95th percentile, in a shop of so many jobs of 40 steps and 50
// events: 20 000 jobs are one million events.
func BenchmarkPages(b *testing.B) {
	for _, jobs := range []int{2_000, 20_000} {
		b.Run(fmt.Sprintf("%d-jobs", jobs), func(b *testing.B) { benchPages(b, jobs) })
	}
}

func benchPages(b *testing.B, jobs int) {
	dir := b.TempDir()
	last := fillShop(b, dir, jobs)
	store, err := journal.Open(dir, journal.Reader)
	if err != nil {
		b.Fatal(err)
	}
	defer store.Close()
	a, err := archive.Open(dir, store)
	if err != nil {
		b.Fatal(err)
	}
	defer a.Close()
	if err := a.Refresh(b.Context()); err != nil {
		b.Fatal(err)
	}
	handler, err := pages.New(pages.Config{Store: store, Data: dir, Archive: a, Procedures: b.TempDir(), Now: func() time.Time { return last.Add(time.Hour) }})
	if err != nil {
		b.Fatal(err)
	}
	for _, page := range []string{"/today", "/jobs", fmt.Sprintf("/jobs?offset=%d", jobs-50), "/jobs?text=R7+ines", "/procedures", "/procedures/bench", "/procedures/bench?technician=Ines",
		"/procedures/clutch/edit", "/jobs/" + benchID(jobs/2), "/jobs/" + benchID(jobs/2) + "/sheet"} {
		b.Run(strings.ReplaceAll(page[1:], "/", "_"), func(b *testing.B) {
			var times []time.Duration
			bytes := 0
			for b.Loop() {
				before := b.Elapsed()
				r := httptest.NewRequestWithContext(b.Context(), http.MethodGet, "http://localhost"+page, nil)
				w := httptest.NewRecorder()
				handler.ServeHTTP(w, r)
				if w.Code != http.StatusOK {
					b.Fatalf("%s: %d %s", page, w.Code, w.Body)
				}
				bytes = w.Body.Len()
				times = append(times, b.Elapsed()-before)
			}
			slices.Sort(times)
			at := func(share float64) float64 {
				return times[int(math.Ceil(share*float64(len(times))))-1].Seconds() * 1000
			}
			b.ReportMetric(at(0.5), "median-ms")
			b.ReportMetric(at(0.95), "p95-ms")
			b.ReportMetric(float64(bytes)/1000, "kB")
			b.ReportMetric(0, "ns/op")
		})
	}
}

func benchID(n int) string {
	return fmt.Sprintf("%s-%d", benchDay(n).Format(time.DateOnly), n%10+1)
}

func benchDay(n int) time.Time {
	return time.Date(2000, 1, 1, 8, 0, 0, 0, time.UTC).AddDate(0, 0, n/10)
}

// fillShop writes the jobs straight into the journal's file: one after the other they would take an hour. It returns when the last one began.
func fillShop(b *testing.B, dir string, jobs int) time.Time {
	b.Helper()
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
	var file strings.Builder
	file.WriteString("id: bench\ntitle: Renew everything\nmachine: Ostwick Pony\nbook: [{code: B-1, title: Everything, hours: 1.6}]\nsteps:\n")
	for n := 1; n <= 40; n++ {
		fmt.Fprintf(&file, "  - {id: step-%d, say: 'Do part %d of it.'}\n", n, n)
	}
	draw := rand.New(rand.NewPCG(1, 2))
	for n := range jobs {
		for _, e := range benchJob(n, file.String(), draw) {
			detail, err := json.Marshal(e.Detail)
			if err == nil {
				_, err = tx.ExecContext(b.Context(), `INSERT INTO event (job, seq, act, at, noted, kind, detail) VALUES (?, ?, ?, ?, ?, ?, ?)`, e.Job, e.Seq, e.Act, e.At, e.Noted, e.Kind, string(detail))
			}
			if err != nil {
				b.Fatal(err)
			}
		}
	}
	if err := tx.Commit(); err != nil {
		b.Fatal(err)
	}
	return benchDay(jobs - 1)
}

func benchJob(n int, file string, draw *rand.Rand) []narrator.Event {
	s := &script{start: benchDay(n), job: benchID(n)}
	d := narrator.Detail{Procedure: "bench.yaml", Text: file, Technician: []string{"Ines", "Marek", "Mara", "Tomas"}[draw.IntN(4)], Order: fmt.Sprint("R", n)}
	if n%50 == 49 {
		d.JobKind, d.Earlier = "comeback", benchID(n-20)
	}
	s.then(0, narrator.Opened, d)
	at := 0.0
	for step := 1; step <= 40; step++ {
		s.then(at, narrator.Arrived, narrator.Detail{Step: fmt.Sprintf("step-%d", step)})
		if step%9 == 0 {
			s.then(at, narrator.Word, narrator.Detail{Word: "repeat", Score: 0.9})
		}
		at += 2 * math.Exp(0.35*draw.NormFloat64())
		if step == 10 || step == 30 {
			s.held(at, at+3*draw.ExpFloat64(), "parts")
			at += 9
		}
	}
	return s.then(at, narrator.Finished, narrator.Detail{}).log
}
