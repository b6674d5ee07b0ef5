package pages

import (
	"cmp"
	"context"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// openJob is one that is not finished.
type openJob struct {
	ID         string
	Name       string // of its procedure's file
	Order      string
	Technician string // who began it
	Started    time.Time
}

// openJobs knows which jobs of a journal are not finished, without reading all of it anew each time. It is safe for concurrent use.
type openJobs struct {
	store journal.Store

	mu   sync.Mutex
	mark journal.Mark
	open map[string]openJob // nil before the first list
}

// list gives the open jobs, newest first.
func (o *openJobs) list(ctx context.Context) ([]openJob, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	changes, err := o.store.Changed(ctx, o.mark)
	if err != nil {
		return nil, err
	}
	if o.open == nil { // the first time all at once
		entries, err := o.store.Jobs(ctx, journal.Filter{State: journal.OpenJobs})
		if err != nil {
			return nil, err
		}
		o.open = map[string]openJob{}
		for _, e := range entries {
			o.open[e.ID] = openJob{e.ID, fileName(e.Procedure), e.Order, e.Technician, e.Start.Time()}
		}
	} else {
		for _, c := range changes {
			if err := o.look(ctx, c.Job); err != nil {
				return nil, err
			}
		}
	}
	if n := len(changes); n > 0 {
		o.mark = changes[n-1].Mark
	}
	return slices.SortedFunc(maps.Values(o.open), func(a, b openJob) int {
		return cmp.Or(b.Started.Compare(a.Started), cmp.Compare(b.ID, a.ID))
	}), nil
}

// look reads one job again.
func (o *openJobs) look(ctx context.Context, id string) error {
	log, err := o.store.Log(ctx, id)
	if err != nil {
		return err
	}
	delete(o.open, id)
	undone, finished := map[int64]bool{}, false
	for _, e := range log {
		if e.Kind == narrator.Undone {
			undone[e.Ref] = true
		}
	}
	for _, e := range log {
		finished = finished || e.Kind == narrator.Finished && !undone[e.Act]
	}
	if first := log[0]; !finished {
		o.open[id] = openJob{id, fileName(first.Procedure), first.Order, first.Technician, first.At.Time()}
	}
	return nil
}

// fileName is a file's name without its folder and its ending.
func fileName(path string) string { return strings.TrimSuffix(filepath.Base(path), filepath.Ext(path)) }
