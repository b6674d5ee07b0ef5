package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"stepcaller/narrator"
)

// Append implements [Store]. Cancelling the context has no effect once the transaction has begun, so that nobody is left
// in doubt whether it was recorded.
func (s *SQLite) Append(ctx context.Context, events []narrator.Event) error {
	details, err := encode(events)
	if err != nil || len(events) == 0 {
		return err
	}
	var mark Mark
	err = s.write(ctx, s.db, "append to", func(ctx context.Context, tx *sql.Tx) error {
		if err := tx.QueryRowContext(ctx, `SELECT max(coalesce(max(id), 0), ?) FROM event`, s.floor).Scan(&mark); err != nil {
			return err
		}
		next := map[string]int64{}
		for i, e := range events {
			if next[e.Job] == 0 {
				var last int64
				if err := tx.QueryRowContext(ctx, lastSeq, e.Job).Scan(&last); err != nil {
					return err
				}
				next[e.Job] = last + 1
			}
			if e.Seq != next[e.Job] {
				return &SequenceError{Job: e.Job, Seq: e.Seq, Want: next[e.Job]}
			}
			next[e.Job]++
			mark++
			_, err := tx.ExecContext(ctx, `INSERT INTO event (`+rowColumns+`) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
				mark, e.Job, e.Seq, e.Act, e.At, e.Noted, e.Kind, details[i], sumOf(e, details[i]))
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		s.last.raise(mark)
	}
	return err
}

const lastSeq = `SELECT coalesce(max(seq), 0) FROM event WHERE job = ?`

// Beat implements [Store].
func (s *SQLite) Beat(ctx context.Context, at narrator.Moment) error {
	return s.write(ctx, s.beats, "note the time in", func(ctx context.Context, tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE beat SET at = ?`, at)
		return err
	})
}

// Begin implements [Store].
func (s *SQLite) Begin(ctx context.Context, n Session) error {
	return s.write(ctx, s.db, "note the start in", func(ctx context.Context, tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO session (boot, since_boot, opened) VALUES (?, ?, ?)`,
			n.Boot, n.SinceBoot, n.Opened)
		return err
	})
}

// write runs one transaction. It commits when do succeeds, and leaves nothing otherwise.
func (s *SQLite) write(ctx context.Context, db *sql.DB, deed string, do func(context.Context, *sql.Tx) error) error {
	if s.beats == nil {
		return fmt.Errorf("%s %s: %w: it was opened to be read; open it as its writer", deed, s.path, ErrReadOnly)
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("%s %s: %w", deed, s.path, err)
	}
	ctx = context.WithoutCancel(ctx)
	s.writing.Lock()
	defer s.writing.Unlock()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return fault(deed, s.path, err)
	}
	if err := do(ctx, tx); err != nil {
		if back := tx.Rollback(); back != nil && !errors.Is(back, sql.ErrTxDone) {
			err = errors.Join(err, back)
		}
		return fault(deed, s.path, err)
	}
	return fault(deed, s.path, tx.Commit())
}

// encode turns the details of events into JSON.
func encode(events []narrator.Event) ([]string, error) {
	details := make([]string, len(events))
	for i, e := range events {
		text, err := json.Marshal(e.Detail)
		if err != nil {
			return nil, fmt.Errorf("append event %d of job %q: %w", e.Seq, e.Job, err)
		}
		details[i] = string(text)
	}
	return details, nil
}

// decode turns JSON back into the details of an event.
func decode(text string, e *narrator.Event) error {
	if err := json.Unmarshal([]byte(text), &e.Detail); err != nil {
		return fmt.Errorf("%w: event %d of job %q: %w", ErrDamaged, e.Seq, e.Job, err)
	}
	return nil
}
