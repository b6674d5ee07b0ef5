package archive_test

import (
	"context"
	"errors"
	"runtime"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour/archive"
)

// years is a journal of more jobs than are worked in while a page waits.
func years(t *testing.T, days int) *journal.Memory {
	t.Helper()
	store := &journal.Memory{}
	for day := range days {
		add(t, store, job(nth(day), day, narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 1)}, 6))
	}
	return store
}

// gated gives logs out until so many were read, and then waits until the gate is opened.
type gated struct {
	counting
	free int64
	gate chan struct{}
	shut chan struct{} // gets one when somebody waits
}

func (g *gated) Log(ctx context.Context, id string) ([]narrator.Event, error) {
	if g.logs.Add(1) > g.free {
		select {
		case g.shut <- struct{}{}:
		default:
		}
		select {
		case <-g.gate:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	return g.Store.Log(ctx, id)
}

// Nobody who wants a page waits for years of jobs. What was worked in before the program ended is not worked in again.
func TestTheFirstFillGoesOnInTheBackgroundAndWhereItStopped(t *testing.T) {
	dir := t.TempDir()
	store := &gated{counting: counting{Store: years(t, 700)}, free: 500, gate: make(chan struct{}), shut: make(chan struct{}, 1)}
	a, err := archive.Open(dir, store)
	if err != nil {
		t.Fatal(err)
	}
	if err := a.CatchUp(t.Context()); err != nil {
		t.Fatal(err)
	}
	wait(t, store.shut)
	within(t, "two batches are stored", func() bool { return a.Progress() == archive.Progress{Going: true, Done: 400, Of: 700} })
	if _, n, err := a.Jobs(t.Context(), archive.Query{}); n != 400 || err != nil {
		t.Errorf("%d jobs, %v", n, err)
	}
	if err := a.Close(); err != nil { // as a killed process leaves it: what is under way is lost
		t.Fatal(err)
	}

	again := &counting{Store: store.Store}
	b := opened(t, dir, again)
	if _, n, err := b.Jobs(t.Context(), archive.Query{}); n != 400 || err != nil {
		t.Errorf("%d jobs after a new start, %v", n, err)
	}
	refreshed(t, b)
	if _, n, err := b.Jobs(t.Context(), archive.Query{}); n != 700 || err != nil {
		t.Errorf("%d jobs in the end, %v", n, err)
	}
	if n := again.logs.Load(); n != 300 {
		t.Errorf("%d logs are read, want the 300 that were missing", n)
	}
	if p := b.Progress(); p.Going {
		t.Errorf("%+v when all is done", p)
	}
}

// A fault on a way that nobody waits for is met again, and told, by the next who asks.
func TestAFaultInTheBackgroundIsTold(t *testing.T) {
	disk := &failing{Store: years(t, 3)}
	a := opened(t, t.TempDir(), disk)
	within(t, "the fault is told", func() bool { return a.CatchUp(t.Context()) != nil })
	disk.after.Store(1000)
	refreshed(t, a)
	if _, n, err := a.Jobs(t.Context(), archive.Query{}); n != 3 || err != nil {
		t.Errorf("%d jobs, %v", n, err)
	}
}

func wait(t *testing.T, c <-chan struct{}) {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), 30*time.Second)
	defer stop()
	select {
	case <-c:
	case <-ctx.Done():
		t.Fatal(errors.New("nothing happens"))
	}
}

// within asks over and over, for 30 s at most.
func within(t *testing.T, what string, done func() bool) {
	t.Helper()
	for began := time.Now(); !done(); runtime.Gosched() {
		if time.Since(began) > 30*time.Second {
			t.Fatalf("not within 30 s: %s", what)
		}
	}
}
