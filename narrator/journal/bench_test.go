package journal_test

import (
	"slices"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
)

// BenchmarkAppend times one event from the call until it is durable.
func BenchmarkAppend(b *testing.B) {
	s := open(b, b.TempDir(), journal.Writer)
	job := storetest.Worked("2000-01-01-1", storetest.Dawn, b.N+3)
	times := make([]time.Duration, 0, b.N)
	b.ResetTimer()
	for i := range b.N {
		began := time.Now()
		if err := s.Append(b.Context(), job[i:i+1]); err != nil {
			b.Fatal(err)
		}
		times = append(times, time.Since(began))
	}
	b.StopTimer()
	report(b, times)
}

// BenchmarkBeat times the note that the program runs.
func BenchmarkBeat(b *testing.B) {
	s := open(b, b.TempDir(), journal.Writer)
	times := make([]time.Duration, 0, b.N)
	for i := range b.N {
		began := time.Now()
		if err := s.Beat(b.Context(), narrator.Moment(i)); err != nil {
			b.Fatal(err)
		}
		times = append(times, time.Since(began))
	}
	report(b, times)
}

// BenchmarkOpen times a start of the program with 1 000 finished jobs of 60 events each behind it and one open: open the
// journal, find the open job, read its log.
func BenchmarkOpen(b *testing.B) {
	dir := b.TempDir()
	s := open(b, dir, journal.Writer)
	for n := range 1000 {
		if err := s.Append(b.Context(), storetest.Worked(storetest.ID(n), storetest.Dawn, 60)); err != nil {
			b.Fatal(err)
		}
	}
	if err := s.Append(b.Context(), storetest.NewJob(storetest.ID(1000), storetest.Dawn).Events); err != nil {
		b.Fatal(err)
	}
	if err := s.Close(); err != nil {
		b.Fatal(err)
	}
	var times []time.Duration
	b.ResetTimer()
	for range b.N {
		began := time.Now()
		s, err := journal.Open(dir, journal.Writer)
		if err != nil {
			b.Fatal(err)
		}
		jobs, err := s.Jobs(b.Context(), journal.Filter{State: journal.OpenJobs})
		if err != nil || len(jobs) != 1 {
			b.Fatalf("%d open jobs, %v", len(jobs), err)
		}
		if _, err := s.Log(b.Context(), jobs[0].ID); err != nil {
			b.Fatal(err)
		}
		times = append(times, time.Since(began))
		if err := s.Close(); err != nil {
			b.Fatal(err)
		}
	}
	report(b, times)
}

func report(b *testing.B, times []time.Duration) {
	slices.Sort(times)
	at := func(share float64) float64 { return float64(times[int(share*float64(len(times)-1))]) / 1e6 }
	b.ReportMetric(at(0.5), "median-ms")
	b.ReportMetric(at(0.99), "p99-ms")
}
