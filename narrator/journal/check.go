package journal

import (
	"context"
	"database/sql"
	"fmt"
)

// Check implements [OnDisk]: SQLite looks at the structure of its file, every event is held against its sum, marks are looked through
// for holes, and every job is counted, those too of which so much is missing that they are no longer listed.
func (s *SQLite) Check(ctx context.Context) []Finding {
	c := &checker{path: s.path}
	acknowledged, err := readLast(s.dir) // before the events, as a writer may be at work
	if err != nil {
		c.found = append(c.found, Finding{What: err.Error()})
	}
	err = s.each(ctx, `PRAGMA integrity_check`, func(rows *sql.Rows) error {
		var line string
		err := rows.Scan(&line)
		if err == nil && line != "ok" {
			c.found = append(c.found, Finding{What: fmt.Sprintf("%s: %v: %s", s.path, ErrDamaged, line)})
		}
		return err
	})
	if err == nil {
		err = s.each(ctx, `SELECT job, count(*), max(seq) FROM event GROUP BY job HAVING count(*) <> max(seq)`, func(rows *sql.Rows) error {
			var job string
			var events, last int64
			err := rows.Scan(&job, &events, &last)
			c.found = append(c.found, Finding{Job: job, What: fmt.Sprintf("the last event is number %d, but there are only %d", last, events)})
			return err
		})
	}
	if err == nil {
		err = s.each(ctx, `SELECT `+s.columns()+` FROM event NOT INDEXED ORDER BY id`, func(rows *sql.Rows) error {
			var r row
			err := r.scan(rows)
			if err == nil {
				c.row(r, s.version >= sumsSince)
			}
			return err
		})
	}
	if err != nil {
		c.found = append(c.found, Finding{What: fault("check", s.path, err).Error()})
	} else if Mark(c.last.id) < acknowledged {
		c.hole(acknowledged + 1)
	}
	return c.found
}

// checker looks at the rows of a journal in the order in which they became durable.
type checker struct {
	path  string
	found []Finding
	last  row
}

func (c *checker) row(r row, summed bool) {
	if r.id != c.last.id+1 {
		c.hole(Mark(r.id))
	}
	c.last = r
	if summed && !r.sum.Valid {
		c.found = append(c.found, Finding{Job: r.Job, Seq: r.Seq, What: "it has no sum, so nobody can tell whether it is what was recorded"})
		return
	}
	if _, err := r.event(); err != nil {
		c.found = append(c.found, Finding{Job: r.Job, Seq: r.Seq, What: err.Error()})
	}
}

// hole tells that events are gone between the latest row and a mark.
func (c *checker) hole(next Mark) {
	gone := int64(next) - c.last.id - 1
	if gone <= 0 { // marks fall: SQLite tells
		return
	}
	after := "at the beginning"
	if c.last.id > 0 {
		after = fmt.Sprintf("behind event %d of job %q, noted at %s", c.last.Seq, c.last.Job, c.last.Noted.Time().Format("2006-01-02T15:04:05Z"))
	}
	c.found = append(c.found, Finding{Gone: gone, What: fmt.Sprintf("events were acknowledged and are gone, %d of them, %s; look for them in a backup", gone, after)})
}
