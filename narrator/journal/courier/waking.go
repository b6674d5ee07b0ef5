package courier

import (
	"context"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// Waking is a store that calls wake after each append that it took. Wake must not block; [Courier.Wake] does not.
func Waking(store journal.Store, wake func()) journal.Store { return &waking{store, wake} }

type waking struct {
	journal.Store
	wake func()
}

// Append implements [journal.Store].
func (w *waking) Append(ctx context.Context, events []narrator.Event) error {
	err := w.Store.Append(ctx, events)
	if err == nil && len(events) > 0 {
		w.wake()
	}
	return err
}
