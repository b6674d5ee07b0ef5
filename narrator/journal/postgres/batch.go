package postgres

import (
	"context"
	"encoding/json"
	"fmt"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

// columns are the events of a batch as the shop takes them, an array a column.
type columns struct {
	marks, seqs, acts, ats, noteds, refs []int64
	jobs, kinds, details                 []string
	headings                             []*string // nil for events that neither open a job nor hand it over
}

// columnsOf takes events of a bay apart.
func columnsOf(bay string, events []journal.Marked) (c columns, err error) {
	for _, e := range events {
		var heading *string
		if e.Kind == narrator.Opened || e.Kind == narrator.Handed {
			short := e.Event
			short.Text = ""
			text, err := encode(short)
			if err != nil {
				return columns{}, err
			}
			heading = &text
		}
		c.marks, c.seqs, c.acts, c.refs = append(c.marks, int64(e.Mark)), append(c.seqs, e.Seq), append(c.acts, e.Act), append(c.refs, e.Ref)
		c.ats, c.noteds = append(c.ats, int64(e.At)), append(c.noteds, int64(e.Noted))
		c.jobs, c.kinds = append(c.jobs, courier.InShop(bay, e.Job)), append(c.kinds, string(e.Kind))
		c.headings, c.details = append(c.headings, heading), append(c.details, e.Raw)
	}
	return c, nil
}

// append sends events in one transaction: as a batch of a journal, or without one (nil) each as the next of its job.
func (b *Bay) append(ctx context.Context, deed string, journalID *string, after journal.Mark, events []journal.Marked) error {
	bay, _, err := b.Bay(ctx)
	if err != nil {
		return err
	}
	c, err := columnsOf(bay, events)
	if err != nil {
		return err
	}
	var last string // print of the last event
	if len(events) > 0 {
		last = courier.Print(events[len(events)-1])
	}
	_, err = b.db.Exec(ctx, `SELECT stepcaller.append($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
		journalID, after, last, c.marks, c.jobs, c.seqs, c.acts, c.ats, c.noteds, c.refs, c.kinds, c.headings, c.details)
	return inBay(bay, b.db.fault(deed, err))
}

func encode(e narrator.Event) (string, error) {
	text, err := json.Marshal(e.Detail)
	if err != nil {
		return "", fmt.Errorf("append event %d of job %q: %w", e.Seq, e.Job, err)
	}
	return string(text), nil
}
