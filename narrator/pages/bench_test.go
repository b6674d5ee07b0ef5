package pages_test

import (
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"runtime/debug"
	"slices"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/labour/archive/archivetest"
	"stepcaller/narrator/pages"
)

// BenchmarkPages prints how long every page takes to be made, at the median and the 95th percentile, and how much memory the process takes, in
// a shop of so many jobs of 40 steps and 50 events, made up as they are read: 20 000 jobs are one million events. STEPCALLER_BENCH_JOBS=400000 adds
// 50 bays' year. Memory is held to 80 MB as the program holds itself.
func BenchmarkPages(b *testing.B) {
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(80 << 20))
	for _, jobs := range archivetest.Sizes(b, 2_000, 20_000) {
		b.Run(fmt.Sprintf("%d-jobs", jobs), func(b *testing.B) { benchPages(b, jobs) })
	}
}

func benchPages(b *testing.B, jobs int) {
	shop := archivetest.Usual(jobs)
	dir := archivetest.Folder(b)
	a, err := archive.Open(dir, shop)
	if err != nil {
		b.Fatal(err)
	}
	defer a.Close()
	if err := a.Refresh(b.Context()); err != nil {
		b.Fatal(err)
	}
	now := shop.Begun(jobs - 1).Add(time.Hour)
	handler, err := pages.New(pages.Config{Store: shop, Data: dir, Archive: a, Procedures: b.TempDir(), Now: func() time.Time { return now }})
	if err != nil {
		b.Fatal(err)
	}
	benchEach(b, handler, shop, func() { shop.More.Add(1) })
}

// benchEach asks for every page of a shop, with a job more finished before each.
func benchEach(b *testing.B, handler http.Handler, shop *archivetest.Shop, finish func()) {
	archivetest.ForgetPeak(b)
	jobs := shop.Size
	who, job := strings.ReplaceAll(shop.People[1], " ", "+"), "/jobs/"+shop.ID(jobs/2)
	all := []string{"/today", "/today?day=" + shop.Begun(jobs/2).Format(time.DateOnly), "/jobs", fmt.Sprintf("/jobs?offset=%d", jobs/2), "/jobs?text=R7+" + who, "/jobs?text=pony+job&kind=comeback",
		"/jobs?technician=" + who, "/procedures", "/procedures/job-0", "/procedures/job-0?technician=" + who, "/procedures/job-1", "/procedures/clutch/edit", job, job + "/sheet"}
	if len(shop.Bays) > 0 {
		all = append(all, "/jobs?bay="+shop.Bays[1], "/today?bay="+shop.Bays[1])
	}
	for _, page := range all {
		b.Run(strings.NewReplacer("/", "_", "&", "_").Replace(page[1:]), func(b *testing.B) {
			var times []time.Duration
			bytes, began := 0, archivetest.CPU(b)
			for b.Loop() {
				b.StopTimer()
				finish()
				b.StartTimer()
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
			b.ReportMetric((archivetest.CPU(b)-began).Seconds()*1000/float64(len(times)), "cpu-ms")
			b.ReportMetric(at(0.5), "median-ms")
			b.ReportMetric(at(0.95), "p95-ms")
			b.ReportMetric(float64(bytes)/1000, "kB")
			b.ReportMetric(archivetest.Peak(b), "peak-MB")
			b.ReportMetric(0, "ns/op")
		})
	}
}
