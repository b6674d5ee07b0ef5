package journal

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// What can be wrong with a journal, for errors.Is. The errors returned add where, and what to do.
var (
	ErrSequence  = errors.New("events out of sequence")
	ErrNoJob     = errors.New("no such job")
	ErrNoJournal = errors.New("there is no journal here")
	ErrInUse     = errors.New("the journal is in use")
	ErrForeign   = errors.New("this file is not a journal of this program")
	ErrNewer     = errors.New("the journal was written by a newer program")
	ErrDiskFull  = errors.New("the disk is full")
	ErrReadOnly  = errors.New("the journal cannot be written to")
	ErrDamaged   = errors.New("the journal is damaged")
	ErrLocked    = errors.New("the journal is locked by another program")
	ErrDisk      = errors.New("the disk reports an error")
)

// SequenceError says which event does not continue its job's log.
type SequenceError struct {
	Job  string // "" for the bay
	Seq  int64  // of the event refused
	Want int64  // the Seq that comes next
}

// Error says whether the event is there already or would leave a hole.
func (e *SequenceError) Error() string {
	of := "of job " + e.Job
	if e.Job == "" {
		of = "of the bay"
	}
	if e.Seq < e.Want {
		return fmt.Sprintf("event %d %s is out of sequence: it is recorded already, %d comes next", e.Seq, of, e.Want)
	}
	return fmt.Sprintf("event %d %s is out of sequence: it would leave a hole, %d comes next", e.Seq, of, e.Want)
}

// Unwrap returns [ErrSequence].
func (e *SequenceError) Unwrap() error { return ErrSequence }

// NoJob is [ErrNoJob] for a job that a store does not have.
func NoJob(job string) error {
	return fmt.Errorf("%w: %q is not in the journal; list the jobs to find its number", ErrNoJob, job)
}

// fault translates what the database or the file system reports about path. Errors of our own pass through with the deed
// in front.
func fault(deed, path string, err error) error {
	if err == nil {
		return nil
	}
	mend, what := diagnose(err)
	if what == nil {
		return fmt.Errorf("%s %s: %w", deed, path, err)
	}
	return fmt.Errorf("%s %s: %w; %s (%w)", deed, path, what, mend, err)
}

// diagnose names the fault in the words of the person who has to mend it; nil for an error that speaks for itself.
func diagnose(err error) (mend string, what error) {
	const (
		mendFull     = "nothing of this was recorded: free some space on that disk and do it again"
		mendReadOnly = "let the program's user own the folder and all files in it, on a disk that is mounted for writing"
		mendDamaged  = "copy the whole folder to a safe place before anything else, then let `stepcaller verify` tell what is wrong and what can be saved"
		mendLocked   = "close whatever else has the journal open, such as a database browser or a backup, and do it again"
		mendDisk     = "copy the whole folder to another disk, and test this one"
	)
	var db *sqlite.Error
	switch {
	case errors.As(err, &db):
		switch primary := db.Code() & 0xff; primary {
		case sqlite3.SQLITE_FULL:
			return mendFull, ErrDiskFull
		case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
			return mendReadOnly, ErrReadOnly
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
			return mendDamaged, ErrDamaged
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
			return mendLocked, ErrLocked
		case sqlite3.SQLITE_IOERR:
			return mendDisk, ErrDisk
		}
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return mendFull, ErrDiskFull
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return mendReadOnly, ErrReadOnly
	case errors.Is(err, syscall.EIO):
		return mendDisk, ErrDisk
	}
	return "", nil
}
