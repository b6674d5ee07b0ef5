package postgres

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

// writeLimit is how long a write may take that is not to be broken off.
const writeLimit = 30 * time.Second

// Append implements [journal.Store]. Cancelling the context has no effect once it has begun. Where the connection is lost meanwhile the shop is asked once more; when it
// cannot be reached then either, what was refused may still be found there. The next append is told so by a [journal.SequenceError].
func (b *Bay) Append(ctx context.Context, events []narrator.Event) error {
	marked := make([]journal.Marked, len(events))
	for i, e := range events {
		raw, err := encode(e)
		if err != nil {
			return err
		}
		marked[i] = journal.Marked{Event: e, Raw: raw}
	}
	if len(events) == 0 {
		return nil
	}
	return b.write(ctx, func(ctx context.Context) error {
		err := b.append(ctx, "append to", nil, 0, marked)
		if errors.Is(err, courier.ErrUnreachable) && b.has(ctx, marked[len(marked)-1]) {
			return nil // the connection was lost between the commit and the answer
		}
		return err
	})
}

// has reports whether an event is in the shop as this bay wrote it.
func (b *Bay) has(ctx context.Context, e journal.Marked) bool {
	bay, _, err := b.Bay(ctx)
	if err != nil {
		return false
	}
	rows, err := b.db.events(ctx, eventsOf+`stepcaller.job_log($1) WHERE seq = $2`, courier.InShop(bay, e.Job), e.Seq)
	return err == nil && len(rows) == 1 && rows[0].raw == e.Raw && courier.Same(rows[0].Event, e.Event)
}

// write runs do to its end, unless the context is over already.
func (b *Bay) write(ctx context.Context, do func(context.Context) error) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("write to the shop at %s: %w", b.db.where, err)
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), writeLimit)
	defer cancel()
	return do(ctx)
}

// Log implements [journal.Store]. Of a job that others took by force it is this bay's own story.
func (b *Bay) Log(ctx context.Context, job string) ([]narrator.Event, error) {
	bay, _, err := b.Bay(ctx)
	if err != nil {
		return nil, err
	}
	rows, err := b.db.events(ctx, eventsOf+`stepcaller.job_log($1)`, courier.InShop(bay, job))
	if err != nil {
		return nil, b.db.fault("read", err)
	}
	if len(rows) == 0 && job != "" {
		return nil, journal.NoJob(job)
	}
	log := make([]narrator.Event, len(rows))
	for i, r := range rows {
		log[i] = r.inBay(bay)
	}
	return log, nil
}

// Jobs implements [journal.Store].
func (b *Bay) Jobs(ctx context.Context, filter journal.Filter) ([]journal.Entry, error) {
	bay, _, err := b.Bay(ctx)
	if err != nil {
		return nil, err
	}
	entries, err := b.db.entries(ctx, entriesOf+`stepcaller.jobs(0, '')`)
	for i := range entries {
		entries[i].ID = courier.InBay(bay, entries[i].ID)
	}
	return journal.List(entries, filter), b.db.fault("read", err)
}

// Changed implements [journal.Store].
func (b *Bay) Changed(ctx context.Context, after journal.Mark) ([]journal.Change, error) {
	bay, _, err := b.Bay(ctx)
	if err != nil {
		return nil, err
	}
	changes, err := b.db.changes(ctx, `SELECT job, mark FROM stepcaller.jobs($1, '')`, after)
	for i := range changes {
		changes[i].Job = courier.InBay(bay, changes[i].Job)
	}
	return changes, b.db.fault("read", err)
}

// Since implements [journal.Store]: of events that this bay wrote.
func (b *Bay) Since(ctx context.Context, after journal.Mark, limit int) ([]journal.Marked, error) {
	bay, _, err := b.Bay(ctx)
	if err != nil {
		return nil, err
	}
	rows, err := b.db.events(ctx, eventsOf+`stepcaller.since($1, $2)`, after, limit)
	marked := make([]journal.Marked, len(rows))
	for i, r := range rows {
		marked[i] = journal.Marked{Mark: r.mark, Event: r.inBay(bay), Raw: r.raw}
	}
	return marked, b.db.fault("read", err)
}

// NextJob implements [journal.Store].
func (b *Bay) NextJob(ctx context.Context, day time.Time) (string, error) {
	bay, _, err := b.Bay(ctx)
	if err != nil {
		return "", err
	}
	changes, err := b.db.changes(ctx, `SELECT job, mark FROM stepcaller.jobs(0, $1)`, day.Format(time.DateOnly)+"-")
	var ids []string
	for _, c := range changes {
		if id := courier.InBay(bay, c.Job); !strings.Contains(id, ".") {
			ids = append(ids, id)
		}
	}
	return journal.NextID(day, ids), b.db.fault("read", err)
}

// Beat implements [journal.Store].
func (b *Bay) Beat(ctx context.Context, at narrator.Moment) error {
	return b.write(ctx, func(ctx context.Context) error {
		return b.call(ctx, "note the time in", `SELECT stepcaller.beat($1)`, at)
	})
}

// LastBeat implements [journal.Store].
func (b *Bay) LastBeat(ctx context.Context) (at narrator.Moment, err error) {
	err = b.db.QueryRow(ctx, `SELECT stepcaller.last_beat()`).Scan(&at)
	return at, b.db.fault("read", err)
}

// Begin implements [journal.Store].
func (b *Bay) Begin(ctx context.Context, s journal.Session) error {
	return b.write(ctx, func(ctx context.Context) error {
		return b.call(ctx, "note the start in", `SELECT stepcaller.begin_session($1, $2, $3)`, s.Boot, s.SinceBoot.Nanoseconds(), s.Opened)
	})
}

// LastSession implements [journal.Store].
func (b *Bay) LastSession(ctx context.Context) (s journal.Session, err error) {
	err = b.db.QueryRow(ctx, `SELECT boot, since_boot, opened FROM stepcaller.last_session()`).Scan(&s.Boot, (*int64)(&s.SinceBoot), &s.Opened)
	if errors.Is(err, pgx.ErrNoRows) {
		return journal.Session{}, nil
	}
	return s, b.db.fault("read", err)
}
