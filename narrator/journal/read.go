package journal

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"

	"stepcaller/narrator"
)

// Log implements [Store].
func (s *SQLite) Log(ctx context.Context, job string) ([]narrator.Event, error) {
	var log []narrator.Event
	err := s.each(ctx, `SELECT `+s.columns()+` FROM event WHERE job = ? ORDER BY seq`, func(rows *sql.Rows) error {
		var r row
		err := r.scan(rows)
		if err == nil {
			r.Event, err = r.event()
		}
		log = append(log, r.Event)
		return err
	}, job)
	if err != nil {
		return nil, fault("read", s.path, err)
	}
	if len(log) == 0 && job != "" {
		return nil, NoJob(job)
	}
	return log, nil
}

// Jobs implements [Store].
func (s *SQLite) Jobs(ctx context.Context, filter Filter) ([]Entry, error) {
	// The condition is the one of the index event_of_entry; the procedure's text is long and not wanted.
	log, last, err := s.events(ctx, `
		SELECT job, seq, act, at, noted, kind, CASE kind WHEN 'opened' THEN json_remove(detail, '$.text') ELSE detail END,
			(SELECT max(seq) FROM event AS all_of WHERE all_of.job = event.job)
		FROM event WHERE (seq = 1 OR kind IN ('opened', 'finished', 'undone', 'handed', 'taken over')) AND job <> '' ORDER BY job, seq`)
	if err != nil {
		return nil, fault("read", s.path, err)
	}
	var entries []Entry
	for from, to := 0, 0; from < len(log); from = to {
		for to < len(log) && log[to].Job == log[from].Job {
			to++
		}
		entries = append(entries, entry(log[from].Job, log[from:to], last[from]))
	}
	return List(entries, filter), nil
}

// Changed implements [Store].
func (s *SQLite) Changed(ctx context.Context, after Mark) (changes []Change, err error) {
	// "+job" keeps the index by job out of it, which would be read from end to end to group by it.
	err = s.each(ctx, `SELECT job, max(id) AS mark FROM event WHERE id > ? AND job <> '' GROUP BY +job ORDER BY mark`, func(rows *sql.Rows) error {
		var c Change
		err := rows.Scan(&c.Job, &c.Mark)
		changes = append(changes, c)
		return err
	}, after)
	return changes, fault("read", s.path, err)
}

// Since implements [Store].
func (s *SQLite) Since(ctx context.Context, after Mark, limit int) (events []Marked, err error) {
	err = s.each(ctx, `SELECT `+s.columns()+` FROM event WHERE id > ? ORDER BY id LIMIT ?`, func(rows *sql.Rows) error {
		var r row
		err := r.scan(rows)
		if err == nil {
			r.Event, err = r.event()
		}
		events = append(events, Marked{Mark: Mark(r.id), Event: r.Event, Raw: r.detail})
		return err
	}, after, limit)
	return events, fault("read", s.path, err)
}

// columns are those of a row in a database of this schema.
func (s *SQLite) columns() string {
	if s.version < sumsSince {
		return strings.Replace(rowColumns, "sum", "NULL", 1)
	}
	return rowColumns
}

// events reads the rows of a query: an event's columns in order, and a number that is returned beside it.
func (s *SQLite) events(ctx context.Context, query string, args ...any) (log []narrator.Event, numbers []int64, err error) {
	err = s.each(ctx, query, func(rows *sql.Rows) error {
		var e narrator.Event
		var detail string
		var number int64
		err := rows.Scan(&e.Job, &e.Seq, &e.Act, &e.At, &e.Noted, &e.Kind, &detail, &number)
		if err == nil {
			err = decode(detail, &e)
		}
		log, numbers = append(log, e), append(numbers, number)
		return err
	}, args...)
	return log, numbers, err
}

// each runs a query and calls row for each of its rows, up to the first error.
func (s *SQLite) each(ctx context.Context, query string, row func(*sql.Rows) error, args ...any) (err error) {
	rows, err := s.db.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		if err := row(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// NextJob implements [Store].
func (s *SQLite) NextJob(ctx context.Context, day time.Time) (string, error) {
	// "." follows "-", so that the range holds just the ids that begin with the day.
	from := dayPrefix(day)
	to := strings.TrimSuffix(from, "-") + "."
	var ids []string
	err := s.each(ctx, `SELECT job FROM event WHERE seq = 1 AND job >= ? AND job < ?`, func(rows *sql.Rows) error {
		var id string
		err := rows.Scan(&id)
		ids = append(ids, id)
		return err
	}, from, to)
	return NextID(day, ids), fault("read", s.path, err)
}

// LastBeat implements [Store].
func (s *SQLite) LastBeat(ctx context.Context) (narrator.Moment, error) {
	var at narrator.Moment
	err := s.db.QueryRowContext(ctx, `SELECT at FROM beat`).Scan(&at)
	return at, fault("read", s.path, err)
}

// LastSession implements [Store].
func (s *SQLite) LastSession(ctx context.Context) (Session, error) {
	var n Session
	err := s.db.QueryRowContext(ctx, `SELECT boot, since_boot, opened FROM session ORDER BY id DESC LIMIT 1`).
		Scan(&n.Boot, &n.SinceBoot, &n.Opened)
	if errors.Is(err, sql.ErrNoRows) {
		return Session{}, nil
	}
	return n, fault("read", s.path, err)
}
