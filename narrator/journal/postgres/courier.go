package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

// Arrived implements [courier.Shop].
func (b *Bay) Arrived(ctx context.Context, journalID string) (mark journal.Mark, last string, err error) {
	err = b.db.QueryRow(ctx, `SELECT mark, print FROM stepcaller.arrived($1)`, journalID).Scan(&mark, &last)
	return mark, last, b.db.fault("ask", err)
}

// Send implements [courier.Shop]. All is one statement, so that a cut leaves the batch and its mark both there or both not.
func (b *Bay) Send(ctx context.Context, batch courier.Batch) error {
	return b.append(ctx, "send to", &batch.Journal, batch.After, batch.Events)
}

// Told implements [courier.Shop].
func (b *Bay) Told(ctx context.Context, rest courier.Rest) error {
	return b.call(ctx, "tell", `SELECT stepcaller.told($1, $2, $3)`, rest.Events, rest.Jobs, rest.Notes)
}

// Release implements [courier.Shop].
func (b *Bay) Release(ctx context.Context, job string, seq int64, to string) error {
	return b.call(ctx, "hand over in", `SELECT stepcaller.release($1, $2, $3)`, job, seq, to)
}

// Offers implements [courier.Shop].
func (b *Bay) Offers(ctx context.Context, all bool) ([]courier.Offer, error) {
	rows, err := b.db.Query(ctx, `SELECT job, bay, to_bay, released, heading, seq, at FROM stepcaller.offers($1)`, all)
	if err != nil {
		return nil, b.db.fault("ask", err)
	}
	offers, err := pgx.CollectRows(rows, func(from pgx.CollectableRow) (o courier.Offer, err error) {
		var heading string
		if err := from.Scan(&o.Job, &o.Bay, &o.To, &o.Released, &heading, &o.Seq, &o.At); err != nil {
			return o, err
		}
		opened, err := readHeading(o.Job, heading)
		o.Procedure, o.Order = opened.Procedure, opened.Order
		return o, err
	})
	if err != nil {
		return nil, b.db.fault("ask", err)
	}
	bay, _, err := b.Bay(ctx)
	for i := range offers {
		if o := &offers[i]; err == nil && (o.Bay == bay || o.Released && (o.To == "" || o.To == bay)) { // the log is shown of no other
			err = b.describe(ctx, o)
		}
	}
	return offers, err
}

// describe reads the log of a job that this bay may claim, or has claimed.
func (b *Bay) describe(ctx context.Context, o *courier.Offer) error {
	rows, err := b.db.events(ctx, eventsOf+`stepcaller.job_log($1)`, o.Job)
	if err != nil {
		return b.db.fault("ask", err)
	}
	log := make([]narrator.Event, len(rows))
	for i, r := range rows {
		log[i] = r.Event
	}
	o.Describe(log)
	return nil
}

// Claim implements [courier.Shop].
func (b *Bay) Claim(ctx context.Context, job string, force bool) ([]narrator.Event, error) {
	rows, err := b.db.events(ctx, eventsOf+`stepcaller.claim($1, $2)`, job, force)
	log := make([]narrator.Event, len(rows))
	for i, r := range rows {
		log[i] = r.inShop()
	}
	return log, b.db.fault("take a job over from", err)
}

// Branch implements [courier.Shop].
func (b *Bay) Branch(ctx context.Context, job string, after int64) error {
	return b.call(ctx, "open another story in", `SELECT stepcaller.branch($1, $2)`, job, after)
}

// Lost implements [courier.Shop].
func (b *Bay) Lost(ctx context.Context) ([]courier.Loss, error) {
	rows, err := b.db.Query(ctx, `SELECT job, bay, after, at FROM stepcaller.lost()`)
	if err != nil {
		return nil, b.db.fault("ask", err)
	}
	losses, err := pgx.CollectRows(rows, func(from pgx.CollectableRow) (l courier.Loss, err error) {
		return l, from.Scan(&l.Job, &l.By, &l.After, &l.At)
	})
	return losses, b.db.fault("ask", err)
}
