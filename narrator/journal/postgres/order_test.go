package postgres_test

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/postgres/pgtest"
	"stepcaller/narrator/journal/storetest"

	"stepcaller/narrator/journal/postgres"
)

// Whoever follows the marks misses nothing, however many bays write meanwhile.
func TestAFollowerMissesNothing(t *testing.T) {
	const bays, jobs, events = 6, 5, 8
	s := newShop(t)
	pages := s.pages(t)
	var all sync.WaitGroup
	for n := range bays {
		bay := s.bay(t, fmt.Sprintf("bay-%d", n))
		all.Go(func() {
			for job := range jobs {
				for _, e := range storetest.Worked(storetest.ID(job), storetest.Dawn, events) {
					if err := bay.Append(t.Context(), oneOf(e)); err != nil {
						t.Error(err)
						return
					}
				}
			}
		})
	}
	last := map[string]int64{}
	var mark journal.Mark
	limit := time.Now().Add(30 * time.Second)
	for got := 0; got < bays*jobs*events && time.Now().Before(limit); {
		next, err := pages.Since(t.Context(), mark, 50)
		must(t, err)
		for _, e := range next {
			if e.Mark <= mark || e.Seq != last[e.Job]+1 {
				t.Fatalf("after mark %d comes %d: event %d of %s, after %d", mark, e.Mark, e.Seq, e.Job, last[e.Job])
			}
			mark, last[e.Job] = e.Mark, e.Seq
			got++
		}
	}
	all.Wait()
	if len(last) != bays*jobs {
		t.Errorf("%d jobs were told, want %d", len(last), bays*jobs)
	}
	for job, seq := range last {
		if seq != events {
			t.Errorf("job %s: %d events were told", job, seq)
		}
	}
}

// A server that crashes again and again under bays that send and append keeps all of what it acknowledged, once.
func TestCrashesLoseAndDoubleNothing(t *testing.T) {
	const crashes, jobs, events = 8, 12, 40
	durable := pgtest.Cluster{Durable: true}
	defer durable.Stop()
	url := durable.Database(t)
	must(t, postgres.Migrate(t.Context(), url))
	admin, err := postgres.OpenAdmin(t.Context(), url)
	must(t, err, admin.CreateShop(t.Context(), "northside"))
	s := shop{admin, url, "northside"}
	sending, appending := s.bay(t, "lift-2"), s.bay(t, "pit")
	logs := map[string][]journal.Marked{}
	mark := journal.Mark(0)
	var batches []courier.Batch
	for n := range jobs {
		for i, e := range storetest.Worked(storetest.ID(n), storetest.Dawn, events) {
			mark++
			logs[storetest.ID(n)] = append(logs[storetest.ID(n)], journal.Marked{Mark: mark, Event: e, Raw: raw(e)})
			if i%4 == 3 {
				batches = append(batches, courier.Batch{Journal: "one", After: mark - 4, Events: logs[storetest.ID(n)][i-3:]})
			}
		}
	}
	limit := time.Now().Add(time.Minute)
	until := func(do func() error) {
		for err := do(); err != nil; err = do() {
			if time.Now().After(limit) {
				t.Error(err)
				return
			}
		}
	}
	var all sync.WaitGroup
	all.Go(func() {
		for _, b := range batches {
			until(func() error { return sending.Send(t.Context(), b) })
		}
	})
	all.Go(func() {
		for n := range jobs {
			for _, e := range logs[storetest.ID(n)] {
				until(func() error {
					err := appending.Append(t.Context(), oneOf(e.Event))
					if have, failed := appending.Log(t.Context(), e.Job); err != nil && failed == nil && int64(len(have)) >= e.Seq {
						return nil // refused, and still there: as the contract says
					}
					return err
				})
			}
		}
	})
	for range crashes {
		durable.Crash(t)
		durable.Restart(t)
	}
	all.Wait()
	for n := range jobs {
		for _, bay := range []*postgres.Bay{sending, appending} {
			log, err := bay.Log(t.Context(), storetest.ID(n))
			must(t, err)
			if len(log) != events {
				t.Fatalf("job %s has %d events, want %d", storetest.ID(n), len(log), events)
			}
			for i, e := range log {
				if e != logs[storetest.ID(n)][i].Event {
					t.Errorf("job %s event %d is %+v", storetest.ID(n), i+1, e)
				}
			}
		}
	}
}
