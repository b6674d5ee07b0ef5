package journal

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"stepcaller/narrator"
)

// Report is what an examination of a data folder found.
type Report struct {
	Findings []Finding // notes among them
	Jobs     int       // in the journal, as far as it can be read
	Events   int64
	Memos    int
	Latest   narrator.Moment // when the latest event of a job that can be read was noted
	Running  bool            // a writer is at work
	// Safe are the jobs that are as they were recorded. Where something is wrong that concerns no certain job, these are the finished ones
	// alone, but for what was written about them later.
	Safe []string
	// Rescue is what can be read of a damaged journal, nil for one that is whole or has a writer at work.
	Rescue *Salvage
}

// Whole reports whether everything that was recorded is there as it was recorded.
func (r Report) Whole() bool {
	return !slices.ContainsFunc(r.Findings, func(f Finding) bool { return !f.Note })
}

// Examine reads everything in a data folder, changes nothing, and tells what is wrong: with the database, with what the events say, with the memos,
// each of which is given to sound (nil to read them as any file), and with recordings that were cut off. A folder in which nothing was
// ever recorded is [ErrNoJournal]; a newer program's journal is an error too, and so is another program's file where this one never recorded.
func Examine(ctx context.Context, dir string, sound ReadMemo) (Report, error) {
	if sound == nil {
		sound = readable
	}
	var r Report
	r.Running = locked(dir)
	acknowledged, unread := readLast(dir)
	ours := acknowledged > 0 || unread != nil
	s, err := Open(dir, Reader)
	switch {
	case errors.Is(err, ErrNewer), !ours && (errors.Is(err, ErrForeign) || errors.Is(err, ErrNoJournal)):
		return r, err
	case errors.Is(err, ErrNoJournal):
		r.Findings = append(r.Findings, Finding{Gone: int64(acknowledged), What: fmt.Sprintf("the journal is gone, with all of its %d events", acknowledged)})
	case err != nil:
		r.Findings = append(r.Findings, Finding{What: err.Error()})
	default:
		defer s.Close()
		if err := s.hold(ctx); err != nil {
			r.Findings = append(r.Findings, Finding{What: err.Error()})
			break
		}
		r.Findings = verify(ctx, s, s.Check(ctx), s.Memos(), sound)
		r.count(ctx, s)
	}
	memos := NewMemos(dir)
	kept, err := memos.Kept()
	left, errLeft := memos.Leftovers()
	if err := errors.Join(err, errLeft); err != nil {
		r.Findings = append(r.Findings, Finding{What: err.Error()})
	}
	r.Memos = len(kept)
	for _, m := range left {
		if !r.Running {
			r.Findings = append(r.Findings, Finding{Job: m.Job, Note: true, What: fmt.Sprintf("the recording %s was cut off; it is kept when the program starts next", m.Path)})
		}
	}
	if !r.Whole() && !r.Running {
		rescue, err := Rescue(dir)
		if err == nil {
			r.Rescue = &rescue
		} else if !errors.Is(err, ErrNoJournal) {
			r.Findings = append(r.Findings, Finding{What: err.Error()})
		}
	}
	return r, nil
}

// hold has a reader see the journal as it stands at its next look, whatever a writer adds meanwhile, until it is closed.
func (s *SQLite) hold(ctx context.Context) error {
	s.db.SetMaxOpenConns(1) // the transaction is that connection's
	_, err := s.db.ExecContext(ctx, `BEGIN`)
	return fault("read", s.path, err)
}

// count tells what is in the journal and which jobs are safe.
func (r *Report) count(ctx context.Context, s *SQLite) {
	entries, err := s.Jobs(ctx, Filter{})
	if err != nil {
		return // found before
	}
	wrong := map[string]bool{}
	for _, f := range r.Findings {
		if !f.Note {
			wrong[f.Job] = true
		}
	}
	r.Jobs = len(entries)
	for _, e := range entries {
		r.Events += e.Events
		log, err := s.Log(ctx, e.ID)
		if err != nil || len(log) == 0 {
			continue
		}
		r.Latest = max(r.Latest, log[len(log)-1].Noted)
		if !wrong[e.ID] && (!wrong[""] || e.End != 0) {
			r.Safe = append(r.Safe, e.ID)
		}
	}
	bay, err := s.Log(ctx, "")
	if err == nil {
		r.Events += int64(len(bay))
	}
}
