package courier_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"sync"
	"syscall"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/journal/storetest"
)

// joinedBay makes a bay on the disk that belongs to a shop, with the store that its session would use.
func joinedBay(b *testing.B, address string) (dir string, disk *journal.SQLite) {
	b.Helper()
	dir = b.TempDir()
	if _, err := courier.Join(dir, address); err != nil {
		b.Fatal(err)
	}
	disk, err := journal.Open(dir, journal.Writer)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { disk.Close() })
	return dir, disk
}

// run sets a courier to work on a bay, until the benchmark ends.
func run(b *testing.B, dir string, disk *journal.SQLite, open func(context.Context) (courier.Shop, error)) *courier.Courier {
	b.Helper()
	c, err := courier.New(courier.Config{Store: disk, Memos: disk.Memos(), Data: dir, Open: open})
	if err != nil {
		b.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.WithoutCancel(b.Context()))
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	b.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			b.Error(err)
		}
	})
	return c
}

// BenchmarkAppendBesideTheShop prints how long a job waits for its journal: with no courier, and with one whose shop answers, is slow, is deaf or is
// gone. An outcome of three events is appended 50 times a second, two thousand times what a bay does. What the disk takes is in it: TMPDIR=/dev/shm
// leaves that out.
func BenchmarkAppendBesideTheShop(b *testing.B) {
	for _, way := range []string{"no shop", "shop", "slow shop", "deaf shop", "dead shop"} {
		b.Run(way, func(b *testing.B) {
			var store journal.Store
			if way == "no shop" {
				_, store = joinedBay(b, "postgres://nowhere/none")
			} else {
				s := newShop(b)
				p := newProxy(b, dialer(s.socket(b)))
				address := s.address(b, "lift-2", p)
				dir, disk := joinedBay(b, address)
				c := run(b, dir, disk, func(context.Context) (courier.Shop, error) { return postgres.OpenBay(address) })
				store = courier.Waking(disk, c.Wake)
				until(b, "the shop is reached", func() bool { s, err := c.State(b.Context()); return err == nil && s.Reached })
				switch way {
				case "slow shop":
					p.delay.Store(int64(100 * time.Millisecond))
				case "deaf shop":
					p.deaf.Store(true)
				case "dead shop":
					p.cut.Store(true)
					p.breakAll()
				}
			}
			var took []time.Duration
			seq := int64(0)
			for b.Loop() {
				next := time.Now().Add(20 * time.Millisecond)
				outcome := make([]narrator.Event, 3)
				for i := range outcome {
					seq++
					at := storetest.Dawn.Add(narrator.Span(seq) * narrator.Second)
					outcome[i] = narrator.Event{Job: "2000-01-01-1", Seq: seq, Act: seq, At: at, Noted: at, Kind: narrator.Word, Detail: narrator.Detail{Word: "next"}}
				}
				start := time.Now()
				if err := store.Append(b.Context(), outcome); err != nil {
					b.Fatal(err)
				}
				took = append(took, time.Since(start))
				time.Sleep(time.Until(next)) // the pace of the work
			}
			report(b, "append", took)
			late := 0
			for _, d := range took {
				if d > 20*time.Millisecond {
					late++
				}
			}
			b.ReportMetric(float64(late), "over-20-ms")
		})
	}
}

// report prints the middle, the 95th percentile and the largest of some durations, in milliseconds.
func report(b *testing.B, what string, took []time.Duration) {
	slices.Sort(took)
	for name, at := range map[string]int{"p50": len(took) / 2, "p95": len(took) * 95 / 100, "max": len(took) - 1} {
		b.ReportMetric(float64(took[at].Microseconds())/1000, what+"-"+name+"-ms")
	}
}

// fleetVariable says for how long BenchmarkFleet runs, "6m" for an hour of the shop at ten times its pace.
const fleetVariable = "STEPCALLER_FLEET"

// watched is a shop that notes how late events are acknowledged.
type watched struct {
	courier.Shop
	bay *fleetBay
}

// Send implements [courier.Shop].
func (w *watched) Send(ctx context.Context, batch courier.Batch) error {
	err := w.Shop.Send(ctx, batch)
	if err == nil {
		now := narrator.MomentOf(time.Now())
		w.bay.mu.Lock()
		defer w.bay.mu.Unlock()
		for _, e := range batch.Events {
			w.bay.lags = append(w.bay.lags, now.Since(e.Noted).Duration())
		}
	}
	return err
}

// BenchmarkFleet prints how far 50 bays lag behind in their shop at ten times real pace, from Append to the shop's word that the event is committed,
// and what a bay costs, its journal and its courier together, as a share of a core. An outcome of three events every 54 s of the shop's time in each
// bay makes 20 million events in a year of two thousand hours. The server's own time is not in the share.
func BenchmarkFleet(b *testing.B) {
	length := 30 * time.Second
	if d, err := time.ParseDuration(os.Getenv(fleetVariable)); err == nil {
		length = d
	}
	s := newShop(b)
	fleet := make([]*fleetBay, 50)
	for i := range fleet {
		address := s.socketAddress(b, fmt.Sprintf("lift-%d", i+1))
		f := &fleetBay{b: b, random: rand.New(rand.NewPCG(uint64(i), 9))}
		f.dir, f.disk = joinedBay(b, address)
		f.courier = run(b, f.dir, f.disk, func(context.Context) (courier.Shop, error) {
			shop, err := postgres.OpenBay(address)
			return &watched{shop, f}, err
		})
		f.store = courier.Waking(f.disk, f.courier.Wake)
		fleet[i] = f
	}
	for _, f := range fleet {
		until(b, "a bay reaches its shop", func() bool { s, err := f.courier.State(b.Context()); return err == nil && s.Reached })
	}
	for b.Loop() {
		var work sync.WaitGroup
		before, start := cpu(), time.Now()
		for _, f := range fleet {
			work.Go(func() { f.work(length) })
		}
		work.Wait()
		for _, f := range fleet {
			until(b, "everything is sent", func() bool { s, err := f.courier.State(b.Context()); return err == nil && s.AllSent() })
		}
		share := (cpu() - before).Seconds() / time.Since(start).Seconds() / float64(len(fleet))
		var lags, appends []time.Duration
		events := 0
		for _, f := range fleet {
			lags, appends, events = append(lags, f.lags...), append(appends, f.appends...), events+f.events
		}
		report(b, "lag", lags)
		report(b, "append", appends)
		b.ReportMetric(float64(events)/length.Seconds(), "events/s")
		b.ReportMetric(share*100, "%core/bay")
		b.ReportMetric(share*10, "%core/bay-at-real-pace")
	}
}

// fleetBay is one bay of the benchmark.
type fleetBay struct {
	b       *testing.B
	random  *rand.Rand
	dir     string
	disk    *journal.SQLite
	store   journal.Store
	courier *courier.Courier
	events  int
	seq     int64
	appends []time.Duration
	mu      sync.Mutex
	lags    []time.Duration
}

// work appends outcomes and watches when each has arrived.
func (f *fleetBay) work(length time.Duration) {
	end := time.Now().Add(length)
	time.Sleep(time.Duration(f.random.IntN(5400)) * time.Millisecond) // bays do not speak at once
	for time.Now().Before(end) {
		next := time.Now().Add(time.Duration(2700+f.random.IntN(5400)) * time.Millisecond) // 54 s of the shop's time, on average
		outcome := make([]narrator.Event, 3)
		for i := range outcome {
			f.seq++
			at := narrator.MomentOf(time.Now())
			outcome[i] = narrator.Event{Job: "2000-01-01-1", Seq: f.seq, Act: f.seq, At: at, Noted: at, Kind: narrator.Word, Detail: narrator.Detail{Word: "next", Score: 0.93}}
		}
		start := time.Now()
		if err := f.store.Append(f.b.Context(), outcome); err != nil {
			f.b.Error(err)
			return
		}
		f.appends = append(f.appends, time.Since(start))
		f.events += len(outcome)
		time.Sleep(time.Until(next)) // the pace of the work
	}
}

// cpu is what this process has used, user and system.
func cpu() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
