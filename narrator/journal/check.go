package journal

import (
	"context"
	"database/sql"
	"fmt"
)

// Check implements [OnDisk]: SQLite looks at the structure of its file, and every job is counted, those too of which so
// much is missing that they are no longer listed.
func (s *SQLite) Check(ctx context.Context) []Finding {
	var found []Finding
	err := s.each(ctx, `PRAGMA quick_check`, func(rows *sql.Rows) error {
		var line string
		err := rows.Scan(&line)
		if err == nil && line != "ok" {
			found = append(found, Finding{What: fmt.Sprintf("%s: %v: %s", s.path, ErrDamaged, line)})
		}
		return err
	})
	if err == nil {
		err = s.each(ctx, `SELECT job, count(*), max(seq) FROM event GROUP BY job HAVING count(*) <> max(seq)`, func(rows *sql.Rows) error {
			var job string
			var events, last int64
			err := rows.Scan(&job, &events, &last)
			found = append(found, Finding{Job: job, What: fmt.Sprintf("the last event is number %d, but there are only %d", last, events)})
			return err
		})
	}
	if err != nil {
		found = append(found, Finding{What: fault("check", s.path, err).Error()})
	}
	return found
}
