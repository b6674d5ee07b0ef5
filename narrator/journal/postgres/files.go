package postgres

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator/journal/courier"
)

// Has implements [courier.Files].
func (b *Bay) Has(ctx context.Context, kind courier.FileKind, name, sum string) (bytes int64, whole bool, err error) {
	err = b.db.QueryRow(ctx, `SELECT bytes, all_of_it FROM stepcaller.has($1, $2, $3)`, kind, name, sum).Scan(&bytes, &whole)
	return bytes, whole, b.db.fault("ask", err)
}

// Put implements [courier.Files].
func (b *Bay) Put(ctx context.Context, f courier.File, offset int64, piece []byte) error {
	if piece == nil {
		piece = []byte{}
	}
	var wrong string
	err := b.db.QueryRow(ctx, `SELECT stepcaller.put($1, $2, $3, $4, $5, $6, $7)`, f.Kind, f.Name, f.Sum, f.Size, f.Parent, offset, piece).Scan(&wrong)
	if err == nil && wrong != "" {
		err = fmt.Errorf("%w: file %s: %s; send it from its beginning", courier.ErrDamaged, f.Name, wrong)
	}
	return b.db.fault("send to", err)
}

// Files implements [courier.Files].
func (b *Bay) Files(ctx context.Context, kind courier.FileKind) ([]courier.File, error) {
	return b.db.files(ctx, `stepcaller.files($1)`, kind)
}

// files reads what a list of files says.
func (d *database) files(ctx context.Context, from string, args ...any) ([]courier.File, error) {
	rows, err := d.Query(ctx, `SELECT kind, name, sum, size, parent, bay FROM `+from, args...)
	if err != nil {
		return nil, d.fault("ask", err)
	}
	files, err := pgx.CollectRows(rows, func(from pgx.CollectableRow) (f courier.File, err error) {
		return f, from.Scan(&f.Kind, &f.Name, &f.Sum, &f.Size, &f.Parent, &f.Bay)
	})
	return files, d.fault("ask", err)
}

// Get implements [courier.Files].
func (b *Bay) Get(ctx context.Context, kind courier.FileKind, name, sum string, offset int64, size int) (piece []byte, err error) {
	err = b.db.QueryRow(ctx, `SELECT stepcaller.get($1, $2, $3, $4, $5)`, kind, name, sum, offset, size).Scan(&piece)
	return piece, b.db.fault("fetch from", err)
}

// Withdraw implements [courier.Files].
func (b *Bay) Withdraw(ctx context.Context, technician string) error {
	return b.call(ctx, "withdraw a voice from", `SELECT stepcaller.withdraw($1)`, technician)
}
