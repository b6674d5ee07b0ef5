package journal

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"fmt"

	"stepcaller/narrator"
)

// row is an event as it is stored.
type row struct {
	id int64
	narrator.Event
	detail string        // JSON
	sum    sql.NullInt64 // of all but id; null where it is older than the sums
}

// rowColumns are those that rowOf scans, in its order.
const rowColumns = `id, job, seq, act, at, noted, kind, detail, sum`

func (r *row) scan(rows *sql.Rows) error {
	return rows.Scan(&r.id, &r.Job, &r.Seq, &r.Act, &r.At, &r.Noted, &r.Kind, &r.detail, &r.sum)
}

// sumOf is the first 64 bits of the SHA-256 of an event as it is stored. SQLite keeps no sums of its own: without these a letter
// changed on the disk would be read, and spoken, as if it had been recorded.
func sumOf(e narrator.Event, detail string) int64 {
	return sumOfText(fmt.Sprintf("%q %d %d %d %d %q ", e.Job, e.Seq, e.Act, e.At, e.Noted, e.Kind) + detail)
}

func sumOfText(text string) int64 {
	sum := sha256.Sum256([]byte(text))
	return int64(binary.BigEndian.Uint64(sum[:]))
}

// event checks a row against its sum and decodes its detail.
func (r *row) event() (narrator.Event, error) {
	if r.sum.Valid && r.sum.Int64 != sumOf(r.Event, r.detail) {
		return r.Event, fmt.Errorf("%w: event %d of job %q is not what was recorded; `stepcaller verify` tells what can be saved", ErrDamaged, r.Seq, r.Job)
	}
	return r.Event, decode(r.detail, &r.Event)
}

// addSums is the third migration: events get a sum each, those too that were recorded before.
func addSums(ctx context.Context, tx *sql.Tx) error {
	for _, statement := range []string{`DROP TRIGGER event_is_not_changed`, `ALTER TABLE event ADD COLUMN sum INTEGER`} {
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return err
		}
	}
	for last, more := int64(0), true; more; {
		some, err := rowsAfter(ctx, tx, last)
		if err != nil {
			return err
		}
		for _, r := range some {
			if _, err := tx.ExecContext(ctx, `UPDATE event SET sum = ? WHERE id = ?`, sumOf(r.Event, r.detail), r.id); err != nil {
				return err
			}
			last = r.id
		}
		more = len(some) > 0
	}
	_, err := tx.ExecContext(ctx, `CREATE TRIGGER event_is_not_changed BEFORE UPDATE ON event
BEGIN
	SELECT RAISE(ABORT, 'an event is never changed');
END`)
	return err
}

// rowsAfter reads some of the rows behind an id, so that a long journal is not held in memory.
func rowsAfter(ctx context.Context, tx *sql.Tx, id int64) (some []row, err error) {
	rows, err := tx.QueryContext(ctx, `SELECT `+rowColumns+` FROM event WHERE id > ? ORDER BY id LIMIT 1000`, id)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var r row
		if err := r.scan(rows); err != nil {
			return nil, err
		}
		some = append(some, r)
	}
	return some, rows.Err()
}
