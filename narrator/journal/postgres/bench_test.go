package postgres_test

import (
	"fmt"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/journal/postgres/pgtest"
	"stepcaller/narrator/journal/storetest"
)

// eventsOfAJob are as many as a job of half a day leaves.
const eventsOfAJob = 250

// worked is the n-th job of a bay as its journal tells it, marked.
func worked(n int, after journal.Mark) courier.Batch {
	b := courier.Batch{Journal: "bench", After: after}
	for i, e := range storetest.Worked(storetest.ID(n), storetest.Dawn.Add(narrator.Span(n)*narrator.Hour), eventsOfAJob) {
		b.Events = append(b.Events, journal.Marked{Mark: after + journal.Mark(i) + 1, Event: e, Raw: raw(e)})
	}
	return b
}

// BenchmarkSend prints what events cost a shop whose server waits for its disk: sent as they come, and in batches as after a cut.
func BenchmarkSend(b *testing.B) {
	durable := pgtest.Cluster{Durable: true}
	defer durable.Stop()
	url := durable.Database(b)
	must(b, postgres.Migrate(b.Context(), url))
	for _, size := range []int{1, 10, eventsOfAJob} {
		b.Run(fmt.Sprintf("%d events a batch", size), func(b *testing.B) {
			s := shop{openAdmin(b, url), url, fmt.Sprintf("shop-%d", size)}
			_ = s.CreateShop(b.Context(), s.name) // it is there from the run before
			bay := s.bay(b, fmt.Sprintf("bay-%d", b.N))
			var batch courier.Batch
			sent, jobs := journal.Mark(0), 0
			for b.Loop() {
				if len(batch.Events) == 0 {
					batch = worked(jobs, sent)
					jobs++
				}
				part := courier.Batch{Journal: "bench", After: sent, Events: batch.Events[:min(size, len(batch.Events))]}
				must(b, bay.Send(b.Context(), part))
				batch.Events = batch.Events[len(part.Events):]
				sent += journal.Mark(len(part.Events))
			}
			b.ReportMetric(float64(sent)/b.Elapsed().Seconds(), "events/s")
		})
	}
}

// BenchmarkPages prints what the pages of a shop with many jobs ask for most.
func BenchmarkPages(b *testing.B) {
	const jobs = 400
	s := newShop(b)
	bay, sent := s.bay(b, "lift-2"), journal.Mark(0)
	for n := range jobs {
		batch := worked(n, sent)
		must(b, bay.Send(b.Context(), batch))
		sent += journal.Mark(len(batch.Events))
	}
	pages := s.pages(b)
	for name, ask := range map[string]func() error{
		"the list of 400 jobs":                 func() error { return second(pages.Jobs(b.Context(), journal.Filter{})) },
		"the open jobs of 400":                 func() error { return second(pages.Jobs(b.Context(), journal.Filter{State: journal.OpenJobs})) },
		"the log of a job of 250 events":       func() error { return second(pages.Log(b.Context(), storetest.ID(7)+".lift-2")) },
		"what changed of 400 jobs since a day": func() error { return second(pages.Changed(b.Context(), sent-10*eventsOfAJob)) },
		"500 of 100 000 events":                func() error { return second(pages.Since(b.Context(), sent/2, 500)) },
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				must(b, ask())
			}
		})
	}
}
