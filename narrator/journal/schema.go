package journal

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
)

// applicationID marks journal.db as ours in its header: "Stcl". The first migration writes it.
const applicationID = 0x5374636c

//go:embed migrations/*.sql
var migrations embed.FS

// schema is how a database stands towards this program.
type schema struct {
	fresh   bool  // nothing of ours, nor of anybody else's, is in it
	ours    bool  // it carries our application id
	version int64 // the last migration applied
}

// schemaOf reads how a database stands without writing to it.
func schemaOf(ctx context.Context, db *sql.DB) (schema, error) {
	var id, version, tables int64
	err := db.QueryRowContext(ctx, `PRAGMA application_id`).Scan(&id)
	if err == nil {
		err = db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema
			WHERE type = 'table' AND name NOT IN ('goose_db_version', 'sqlite_sequence')`).Scan(&tables)
	}
	if err == nil && id == applicationID {
		err = db.QueryRowContext(ctx, `SELECT max(version_id) FROM goose_db_version WHERE is_applied`).Scan(&version)
	}
	return schema{fresh: id == 0 && tables == 0, ours: id == applicationID, version: version}, err
}

// check refuses a database that this program must leave alone.
func (s schema) check(newest int64) error {
	switch {
	case s.fresh:
		return nil
	case !s.ours:
		return fmt.Errorf("%w; choose another folder", ErrForeign)
	case s.version > newest:
		return fmt.Errorf("%w (schema %d, this program knows %d); install the newer program", ErrNewer, s.version, newest)
	}
	return nil
}

// newestSchema is the last migration that this program knows.
func newestSchema() (int64, error) {
	files, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil || len(files) == 0 {
		return 0, errors.Join(errors.New("no migrations are built in"), err)
	}
	newest, err := goose.NumericComponent(files[len(files)-1])
	for _, m := range programmed() {
		newest = max(newest, m.Version)
	}
	return newest, err
}

// programmed are the migrations that SQL alone cannot do.
func programmed() []*goose.Migration {
	return []*goose.Migration{goose.NewGoMigration(sumsSince, &goose.GoFunc{RunTx: addSums}, nil)}
}

// sumsSince is the schema from which on every event has a sum.
const sumsSince = 3

// migrate brings a database of ours, or a fresh one, to the newest schema. Each migration is one transaction.
func migrate(ctx context.Context, db *sql.DB) error {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	provider, err := goose.NewProvider(goose.DialectSQLite3, db, files, goose.WithDisableGlobalRegistry(true), goose.WithGoMigrations(programmed()...))
	if err != nil {
		return err
	}
	_, err = provider.Up(ctx)
	return err
}
