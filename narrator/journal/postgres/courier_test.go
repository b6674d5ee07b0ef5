package postgres_test

import (
	"testing"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/courier/couriertest"
)

func TestABayKeepsTheCouriersContract(t *testing.T) {
	couriertest.Run(t, func(t *testing.T) couriertest.Fixture {
		s := newShop(t)
		bays := map[string]courier.Shop{}
		for _, name := range []string{"lift-2", "pit", "lift-3"} {
			bays[name] = s.bay(t, name)
		}
		return couriertest.Fixture{
			Bay:  func(name string) courier.Shop { return bays[name] },
			Held: func() []courier.Held { return s.held(t) },
			Rest: func(bay string) (r courier.Rest) {
				db := connect(t, s.url)
				if err := db.QueryRow(t.Context(), `SELECT events, jobs, notes FROM stepcaller.bay JOIN stepcaller.shop USING (shop) WHERE bay = $1 AND name = $2`, bay, s.name).Scan(&r.Events, &r.Jobs, &r.Notes); err != nil {
					t.Fatal(err)
				}
				return r
			},
		}
	})
}

// held reads all that a shop holds.
func (s shop) held(t *testing.T) (all []courier.Held) {
	t.Helper()
	db := connect(t, s.url)
	var h courier.Held
	rows, err := db.Query(t.Context(), `SELECT job, term, bay, after FROM stepcaller.tenure JOIN stepcaller.shop USING (shop) WHERE name = $1 ORDER BY job, term`, s.name)
	if err == nil {
		_, err = pgx.ForEachRow(rows, []any{&h.Job, &h.Term, &h.Bay, &h.After}, func() error { all = append(all, h); return nil })
	}
	for i := range all {
		h := &all[i]
		h.Events = nil
		if err == nil {
			rows, err = db.Query(t.Context(), `SELECT event.mark, job, seq, act, at, noted, kind, detail::text
				FROM stepcaller.event JOIN stepcaller.shop USING (shop) WHERE name = $1 AND job = $2 AND term = $3 ORDER BY seq`, s.name, h.Job, h.Term)
		}
		if err == nil {
			h.Events, err = pgx.CollectRows(rows, func(from pgx.CollectableRow) (e journal.Marked, err error) {
				return e, from.Scan(&e.Mark, &e.Job, &e.Seq, &e.Act, &e.At, &e.Noted, &e.Kind, &e.Raw)
			})
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	return all
}
