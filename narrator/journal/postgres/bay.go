package postgres

import (
	"context"
	"errors"
	"sync"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

// bayConnections are enough for a courier and for whoever looks on meanwhile.
const bayConnections = 4

// Bay is a shop as one of its bays reaches it. It implements [journal.Store] over what this bay wrote or took over, by the bay's own names of jobs, and
// [courier.Shop]. All methods may be called from any goroutine.
type Bay struct {
	db   *database
	news news

	mu         sync.Mutex
	name, shop string // "" until the shop was asked
}

var (
	_ journal.Store = (*Bay)(nil)
	_ courier.Shop  = (*Bay)(nil)
)

// OpenBay opens a shop by the address that its administrator gave to a bay. It does not wait for the network: whether the shop can be reached, knows the bay and has the
// right schema is found out with the first call, and with each call after the connection was lost.
func OpenBay(address string) (*Bay, error) {
	db, err := open(address, bayConnections, nil)
	if err != nil {
		return nil, err
	}
	return newBay(db), nil
}

func newBay(db *database) *Bay {
	closing, closed := context.WithCancel(context.Background())
	return &Bay{db: db, news: news{closing: closing, close: closed}}
}

// Bay implements [courier.Shop].
func (b *Bay) Bay(ctx context.Context) (bay, shop string, err error) {
	b.mu.Lock()
	bay, shop = b.name, b.shop
	b.mu.Unlock()
	if b.news.closing.Err() != nil {
		return "", "", b.db.fault("ask", errClosed)
	}
	if bay != "" {
		return bay, shop, nil
	}
	err = b.db.QueryRow(ctx, `SELECT bay, shop FROM stepcaller.whoami()`).Scan(&bay, &shop)
	if err != nil {
		return "", "", b.db.fault("ask", err)
	}
	b.mu.Lock()
	b.name, b.shop = bay, shop
	b.mu.Unlock()
	return bay, shop, nil
}

// Close gives up all connections. Calls in progress are waited for.
func (b *Bay) Close() error {
	b.news.close()
	b.db.Close()
	return nil
}

var errClosed = errors.New("the connection is closed; open it again")

// call runs a function of the shop that returns nothing.
func (b *Bay) call(ctx context.Context, deed, statement string, args ...any) error {
	_, err := b.db.Exec(ctx, statement, args...)
	return b.db.fault(deed, err)
}

// inBay names, in an error, the job as the bay does.
func inBay(bay string, err error) error {
	var s *journal.SequenceError
	if errors.As(err, &s) {
		s.Job = courier.InBay(bay, s.Job)
	}
	return err
}
