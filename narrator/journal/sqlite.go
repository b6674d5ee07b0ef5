package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"sync"

	_ "modernc.org/sqlite" // the driver that sqlite.open names
)

// Mode says what a journal is opened for.
type Mode int

// The modes.
const (
	Reader Mode = iota // to look: nothing is created, and a writer may be at work
	Writer             // to record: there is one at a time
)

// busyTimeout, in milliseconds, is how long a statement waits for another program's lock before it is ErrLocked.
const busyTimeout = 5000

// SQLite is the store in a folder of its own. It implements [OnDisk].
type SQLite struct {
	dir   string
	path  string
	db    *sql.DB
	beats *sql.DB // as db, but commits without waiting for the disk; nil for a reader
	lock  *lock   // nil for a reader

	version int64     // of the schema
	last    *lastMark // nil for a reader
	floor   Mark      // marks up to it are never given out again

	writing sync.Mutex // one transaction at a time: waiting here is fair and costs no polling
}

// Open opens the journal in a folder. A [Writer] creates what is missing, brings an older journal to the newest schema and
// keeps every other writer out ([ErrInUse]) until it is closed. A [Reader] finds [ErrNoJournal] where no writer has been,
// and may not append.
func Open(dir string, mode Mode) (*SQLite, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("open journal: %w", err)
	}
	s := &SQLite{dir: dir, path: filepath.Join(dir, "journal.db")}
	if mode == Writer {
		err = s.openWriter(context.Background())
	} else {
		err = s.openReader(context.Background())
	}
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

func (s *SQLite) openWriter(ctx context.Context) error {
	if err := makeFolder(s.dir); err != nil {
		return fault("create folder", s.dir, err)
	}
	var err error
	if s.lock, err = takeLock(s.dir); err != nil {
		return err
	}
	if err := s.create(); err != nil {
		return fault("create", s.path, err)
	}
	if _, err := s.inspect(ctx); err != nil {
		return err
	}
	if s.db, err = s.open("_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_txlock=immediate"); err == nil {
		err = migrate(ctx, s.db)
	}
	if err == nil {
		s.beats, err = s.open("_pragma=journal_mode(WAL)&_pragma=synchronous(NORMAL)&_txlock=immediate")
	}
	if err == nil {
		s.version, err = newestSchema()
	}
	if err == nil {
		err = s.db.QueryRowContext(ctx, `SELECT coalesce(max(id), 0) FROM event`).Scan(&s.floor)
	}
	if err == nil {
		// What was acknowledged and is gone keeps its marks: the hole says for ever that it was.
		acknowledged, _ := readLast(s.dir)
		s.floor = max(s.floor, acknowledged)
		s.last, err = openLast(s.dir, s.floor)
	}
	return fault("open", s.path, err)
}

func (s *SQLite) openReader(ctx context.Context) error {
	if _, err := os.Stat(s.path); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("open %s: %w; begin a job to make one, or name the right folder", s.dir, ErrNoJournal)
	} else if err != nil {
		return fault("open", s.path, err)
	}
	found, err := s.inspect(ctx)
	if err != nil {
		return err
	}
	if found.fresh {
		return fmt.Errorf("open %s: %w yet; begin a job to make one", s.dir, ErrNoJournal)
	}
	s.version = found.version
	s.db, err = s.open("mode=ro&_pragma=query_only(1)")
	return fault("open", s.path, err)
}

// create makes an empty database for the owner alone; SQLite gives the files beside it the same permissions. A database
// that exists is not touched, as closing it would drop the locks that SQLite holds on it in this process.
func (s *SQLite) create() error {
	f, err := os.OpenFile(s.path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close(), syncPath(s.dir))
}

// inspect looks at the database without writing to it, and refuses one that must be left alone.
func (s *SQLite) inspect(ctx context.Context) (schema, error) {
	newest, err := newestSchema()
	if err != nil {
		return schema{}, err
	}
	db, err := s.open("mode=ro&_pragma=query_only(1)")
	if err != nil {
		return schema{}, fault("open", s.path, err)
	}
	found, err := schemaOf(ctx, db)
	if err = errors.Join(err, db.Close()); err == nil {
		err = found.check(newest)
	}
	return found, fault("open", s.path, err)
}

func (s *SQLite) open(parameters string) (*sql.DB, error) {
	name := url.URL{Scheme: "file", Path: s.path, RawQuery: fmt.Sprintf("%s&_pragma=busy_timeout(%d)", parameters, busyTimeout)}
	return sql.Open("sqlite", name.String())
}

// Memos are the spoken notes beside the journal.
func (s *SQLite) Memos() *Memos { return NewMemos(s.dir) }

// Close gives up the journal and its lock.
func (s *SQLite) Close() error {
	s.writing.Lock()
	defer s.writing.Unlock()
	var errs []error
	for _, db := range []*sql.DB{s.beats, s.db} {
		if db != nil {
			errs = append(errs, fault("close", s.path, db.Close()))
		}
	}
	if s.last != nil {
		errs = append(errs, s.last.file.Close())
		s.last = nil
	}
	if s.lock != nil {
		errs = append(errs, fault("close", s.dir, s.lock.release()))
		s.lock = nil
	}
	return errors.Join(errs...)
}
