// Package archive keeps what finished jobs tell of labour in a database of its own, so that many of them are put side by side quickly.
//
// It is a cache: the file figures.db in the data folder may be deleted at any time and decides nothing. All of it is worked out from the
// journal, by [Archive.Refresh]; a file that another version of the program wrote is thrown away and worked out anew.
package archive

import (
	"context"
	"crypto/sha256"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"

	_ "modernc.org/sqlite" // the driver that connect names

	"stepcaller/narrator/journal"
	"stepcaller/procedures"
)

// ErrForeign says that figures.db is not a file of this program, so it is left alone.
var ErrForeign = errors.New("this file is not a cache of this program")

// applicationID marks figures.db as ours in its header: "Stcf".
const applicationID = 0x53746366

// version is that of what is stored: tables, and how it is worked out. Raise it with every change of either.
const version = 5

//go:embed schema.sql
var schema string

// Archive is the cache of finished jobs in a data folder. Its methods may be called from any goroutine, and several processes may have
// it open.
type Archive struct {
	path  string
	store journal.Store
	db    *sql.DB

	latest int // how many jobs of a procedure its figures are worked out from

	life     context.Context
	end      context.CancelFunc // of life
	going    sync.WaitGroup     // what is done in the background
	watch    sync.Mutex         // guards catching
	catching *catching          // nil while nobody catches up
	warmed   atomic.Bool
	warming  sync.Mutex

	asking sync.Mutex // guards known
	known  known

	limiting sync.Mutex // guards limited
	limited  map[string]kept

	mu     sync.Mutex                                  // guards loaded
	loaded map[[sha256.Size]byte]*procedures.Procedure // by the file's text
}

// Open opens the cache in a data folder, or creates it. Jobs are read from the store, which stays the caller's to close, after the archive.
func Open(dir string, store journal.Store) (*Archive, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("open figures: %w", err)
	}
	a := &Archive{path: filepath.Join(dir, "figures.db"), store: store, loaded: map[[sha256.Size]byte]*procedures.Procedure{},
		latest: Latest, limited: map[string]kept{}, known: newKnown()}
	a.life, a.end = context.WithCancel(context.Background())
	if err := a.open(context.Background()); err != nil {
		return nil, errors.Join(fmt.Errorf("open %s: %w", a.path, err), a.Close())
	}
	return a, nil
}

func (a *Archive) open(ctx context.Context) error {
	if err := a.create(); err != nil {
		return err
	}
	if err := a.connect(); err != nil {
		return err
	}
	var id, has, tables int64
	for pragma, value := range map[string]*int64{"PRAGMA application_id": &id, "PRAGMA user_version": &has, "SELECT count(*) FROM sqlite_schema": &tables} {
		if err := a.db.QueryRowContext(ctx, pragma).Scan(value); err != nil {
			return a.broken(err)
		}
	}
	switch {
	case id == applicationID && has == version:
		return nil
	case id == applicationID:
		if err := a.remove(); err != nil {
			return err
		}
	case id != 0 || tables != 0:
		return fmt.Errorf("%w; move it out of the data folder", ErrForeign)
	}
	return a.write(ctx, func(tx *sql.Tx) error {
		var done int64 // by another process, since it was looked at
		if err := tx.QueryRowContext(ctx, "PRAGMA user_version").Scan(&done); err != nil || done == version {
			return err
		}
		_, err := tx.ExecContext(ctx, fmt.Sprintf("%s; PRAGMA application_id = %d; PRAGMA user_version = %d", schema, applicationID, version))
		return err
	})
}

// create makes an empty file for its owner alone, where there is none.
func (a *Archive) create() error {
	f, err := os.OpenFile(a.path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return f.Close()
}

func (a *Archive) connect() (err error) {
	name := url.URL{Scheme: "file", Path: a.path,
		RawQuery: "_pragma=busy_timeout(10000)&_pragma=foreign_keys(1)&_pragma=journal_mode(WAL)&_pragma=synchronous(NORMAL)&_pragma=cache_size(-8000)&_txlock=immediate"}
	a.db, err = sql.Open("sqlite", name.String())
	if err == nil {
		a.db.SetMaxOpenConns(4)
	}
	return err
}

// remove deletes the cache and begins an empty one. A process that still has the old one open keeps it until it closes.
func (a *Archive) remove() error {
	if err := a.db.Close(); err != nil {
		return err
	}
	for _, beside := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(a.path + beside); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return errors.Join(a.create(), a.connect())
}

// Close gives the cache up, and ends what goes on in the background. Every later call is an error.
func (a *Archive) Close() error {
	a.end()
	a.going.Wait()
	if a.db == nil {
		return nil
	}
	return a.broken(a.db.Close())
}

// write runs one transaction: all of what do does, or nothing.
func (a *Archive) write(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := a.db.BeginTx(ctx, nil)
	if err != nil {
		return a.broken(err)
	}
	if err := do(tx); err != nil {
		if back := tx.Rollback(); back != nil && !errors.Is(back, sql.ErrTxDone) {
			err = errors.Join(err, back)
		}
		return a.broken(err)
	}
	return a.broken(tx.Commit())
}

// each runs a query and calls row for each of its rows, up to the first error.
func (a *Archive) each(ctx context.Context, row func(*sql.Rows) error, query string, args ...any) (err error) {
	rows, err := a.db.QueryContext(ctx, query, args...)
	if err != nil {
		return a.broken(err)
	}
	defer func() { err = a.broken(errors.Join(err, rows.Close())) }()
	for rows.Next() {
		if err := row(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// broken adds to what the database reports where that was and what to do.
func (a *Archive) broken(err error) error {
	var said *mended
	if err == nil || errors.As(err, &said) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return &mended{a.path, err}
}

type mended struct {
	path string
	err  error
}

func (m *mended) Error() string {
	return fmt.Sprintf("%s: %v; if free space does not help, delete the file: it is worked out anew from the journal", m.path, m.err)
}

func (m *mended) Unwrap() error { return m.err }
