package postgres

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

// row is an event as the shop keeps it.
type row struct {
	narrator.Event // with the shop's id of its job, and in its detail the writing bay's ids
	bay            string
	term           int32
	mark           journal.Mark
	raw            string
}

// eventsOf begins a query whose rows [database.events] reads.
const eventsOf = `SELECT job, seq, act, at, noted, kind, detail::text, bay, term, mark FROM `

// inShop is the event with the shop's ids throughout.
func (r row) inShop() narrator.Event {
	e := r.Event
	courier.Rename(r.bay, &e)
	return e
}

// inBay is the event as a bay reads it: its own as it wrote them.
func (r row) inBay(bay string) narrator.Event {
	e := r.Event
	if r.bay != bay {
		courier.Rename(r.bay, &e)
	}
	e.Job = courier.InBay(bay, e.Job)
	return e
}

func (d *database) events(ctx context.Context, query string, args ...any) ([]row, error) {
	rows, err := d.Query(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(from pgx.CollectableRow) (r row, err error) {
		if err := from.Scan(&r.Job, &r.Seq, &r.Act, &r.At, &r.Noted, &r.Kind, &r.raw, &r.bay, &r.term, &r.mark); err != nil {
			return row{}, err
		}
		if err := json.Unmarshal([]byte(r.raw), &r.Detail); err != nil {
			return row{}, fmt.Errorf("%w: event %d of job %q: %w", journal.ErrDamaged, r.Seq, r.Job, err)
		}
		return r, nil
	})
}

// entriesOf begins a query whose rows [database.entries] reads.
const entriesOf = `SELECT job, coalesce(heading, '{}')::text, handing::text, began, ended, last FROM `

func (d *database) entries(ctx context.Context, query string, args ...any) ([]journal.Entry, error) {
	rows, err := d.Query(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(from pgx.CollectableRow) (e journal.Entry, err error) {
		var heading string
		var handing *string
		if err := from.Scan(&e.ID, &heading, &handing, &e.Start, &e.End, &e.Events); err != nil {
			return e, err
		}
		opened, err := readHeading(e.ID, heading)
		e.Procedure, e.Order, e.Odometer, e.Technician = opened.Procedure, opened.Order, opened.Odometer, opened.Technician
		if err == nil && handing != nil {
			opened, err = readHeading(e.ID, *handing)
			e.Gone, e.To = true, opened.To
		}
		return e, err
	})
}

// readHeading reads the detail of an event, without the procedure's text.
func readHeading(job, heading string) (d narrator.Detail, err error) {
	if err = json.Unmarshal([]byte(heading), &d); err != nil {
		err = fmt.Errorf("%w: the heading of job %q: %w", journal.ErrDamaged, job, err)
	}
	return d, err
}

func (d *database) changes(ctx context.Context, query string, args ...any) ([]journal.Change, error) {
	rows, err := d.Query(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(from pgx.CollectableRow) (c journal.Change, err error) {
		return c, from.Scan(&c.Job, &c.Mark)
	})
}
