package courier

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"sync"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// backlog counts what has still to be sent. Any goroutine may use it.
type backlog struct {
	store journal.Store

	mu      sync.Mutex
	arrived journal.Mark // all up to here is in the shop
	counted journal.Mark // all up to here was looked at
	events  int
	jobs    map[string]journal.Mark // with events to send: mark of the latest
	notes   map[string]journal.Mark // memos to send: mark of the event that names each, 0 for one of an earlier run
}

// from begins to count after a mark. Notes stay, as they are sent on their own.
func (b *backlog) from(arrived journal.Mark) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.arrived, b.counted, b.events, b.jobs = arrived, arrived, 0, map[string]journal.Mark{}
	if b.notes == nil {
		b.notes = map[string]journal.Mark{}
	}
}

// look counts what the journal got since.
func (b *backlog) look(ctx context.Context) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	for {
		events, err := b.store.Since(ctx, b.counted, maxEvents)
		b.count(events)
		if err != nil || len(events) < maxEvents {
			return err
		}
	}
}

// note counts events that somebody has read from the journal, in its order.
func (b *backlog) note(events []journal.Marked) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.count(events)
}

func (b *backlog) count(events []journal.Marked) {
	for _, e := range events {
		if e.Mark <= b.counted {
			continue
		}
		b.counted = e.Mark
		b.events++
		b.jobs[e.Job] = e.Mark
		if e.Kind == narrator.Recorded && e.File != "" {
			b.notes[e.File] = e.Mark
		}
	}
}

// sent takes off events that have arrived; all of them were counted.
func (b *backlog) sent(events []journal.Marked) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.arrived = events[len(events)-1].Mark
	b.events -= len(events)
	for _, e := range events {
		if b.jobs[e.Job] <= b.arrived {
			delete(b.jobs, e.Job)
		}
	}
}

// old adds a memo whose event arrived in an earlier run.
func (b *backlog) old(file string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if _, ok := b.notes[file]; !ok {
		b.notes[file] = 0
	}
}

// ready lists the memos whose events have arrived, in the order of these.
func (b *backlog) ready() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	files := slices.Collect(maps.Keys(b.notes))
	files = slices.DeleteFunc(files, func(f string) bool { return b.notes[f] > b.arrived })
	slices.SortFunc(files, func(x, y string) int { return cmp.Or(cmp.Compare(b.notes[x], b.notes[y]), cmp.Compare(x, y)) })
	return files
}

// isOld reports whether a memo's event was not seen in this run.
func (b *backlog) isOld(file string) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.notes[file] == 0
}

// done takes a memo off.
func (b *backlog) done(file string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.notes, file)
}

func (b *backlog) upTo() journal.Mark {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.arrived
}

func (b *backlog) rest() Rest {
	b.mu.Lock()
	defer b.mu.Unlock()
	jobs := len(b.jobs)
	if _, bay := b.jobs[""]; bay {
		jobs--
	}
	return Rest{Events: b.events, Jobs: jobs, Notes: len(b.notes)}
}
