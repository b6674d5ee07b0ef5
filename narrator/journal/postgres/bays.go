package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

// BayState is how a bay stands, as the shop knows it.
type BayState struct {
	Name    string
	Heard   time.Time    // when it spoke to the shop last, zero for never
	Mark    journal.Mark // the shop's, of the latest event in a job that the bay has or had
	Rest    courier.Rest // what it had still to send then
	Revoked bool         // it may no longer come in
}

// querier is a pool, a connection or a transaction.
type querier interface {
	Query(ctx context.Context, query string, args ...any) (pgx.Rows, error)
}

func baysOf(ctx context.Context, q querier, shop int32) ([]BayState, error) {
	rows, err := q.Query(ctx, `SELECT b.bay, b.heard, b.events, b.jobs, b.notes,
			coalesce((SELECT max(j.mark) FROM stepcaller.tenure t JOIN stepcaller.job j USING (shop, job) WHERE t.shop = b.shop AND t.bay = b.bay), 0),
			NOT b.open
		FROM stepcaller.bay b WHERE b.shop = $1 ORDER BY b.bay`, shop)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(from pgx.CollectableRow) (b BayState, err error) {
		var heard *time.Time
		err = from.Scan(&b.Name, &heard, &b.Rest.Events, &b.Rest.Jobs, &b.Rest.Notes, &b.Mark, &b.Revoked)
		if heard != nil {
			b.Heard = *heard
		}
		return b, err
	})
}

// Bays lists the shop's bays by name.
func (s *Shop) Bays(ctx context.Context) ([]BayState, error) {
	id, err := s.which(ctx)
	if err != nil {
		return nil, err
	}
	bays, err := baysOf(ctx, s.db, id)
	return bays, s.db.fault("ask", err)
}
