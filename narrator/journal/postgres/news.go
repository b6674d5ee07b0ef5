package postgres

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"
)

// news is a connection on which the shop tells that something has changed. One goroutine uses it.
type news struct {
	conn    *pgx.Conn
	closing context.Context // over once the bay's connection is given up
	close   context.CancelFunc
}

// Await implements [courier.Shop]. Where the connection was lost, and with the first call, it returns as soon as there is one, since nobody knows what was missed.
func (b *Bay) Await(ctx context.Context) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	defer context.AfterFunc(b.news.closing, func() { cancel(errClosed) })()
	err := b.news.await(ctx, b.db)
	if err != nil && ctx.Err() != nil {
		err = context.Cause(ctx)
	}
	if errors.Is(err, errClosed) {
		b.news.hangUp()
	}
	return b.db.fault("wait for", err)
}

func (n *news) await(ctx context.Context, db *database) error {
	if n.conn == nil || n.conn.IsClosed() {
		return n.listen(ctx, db)
	}
	if _, err := n.conn.WaitForNotification(ctx); err != nil {
		return err
	}
	return nil
}

// listen opens the connection.
func (n *news) listen(ctx context.Context, db *database) error {
	pooled, err := db.Acquire(ctx)
	if err != nil {
		return err
	}
	var channel string
	if err := pooled.QueryRow(ctx, `SELECT stepcaller.channel()`).Scan(&channel); err != nil {
		pooled.Release()
		return err
	}
	n.conn = pooled.Hijack()
	_, err = n.conn.Exec(ctx, `LISTEN `+pgx.Identifier{channel}.Sanitize())
	return err
}

func (n *news) hangUp() {
	if n.conn != nil {
		ctx, cancel := context.WithTimeout(context.Background(), connectLimit)
		defer cancel()
		_ = n.conn.Close(ctx) // the server notices by itself
	}
}
