package journal

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"stepcaller/narrator"
)

// Salvage is what can still be read of a journal.
type Salvage struct {
	Jobs   []string         // whose logs begin at their beginning
	Events []narrator.Event // in the order in which they became durable, each log without a hole
	Behind []narrator.Event // true, but what was before them in their log is lost
	Lost   []Finding        // what is known to be missing
}

// Rescue reads all events of the journal in a folder that are still what was recorded, by its pages, whether or not the database can be opened.
// It changes nothing. No writer may be at work, else the error is [ErrInUse].
func Rescue(dir string) (Salvage, error) {
	hold, err := takeLock(dir)
	if err != nil {
		return Salvage{}, err
	}
	defer func() { _ = hold.release() }()
	path := filepath.Join(dir, "journal.db")
	r, err := openRemains(path)
	if err != nil {
		return Salvage{}, fault("read", path, err)
	}
	defer r.close()
	if r.db == nil && r.wal == nil {
		return Salvage{}, fmt.Errorf("read %s: %w", dir, ErrNoJournal)
	}
	type place struct {
		job string
		seq int64
	}
	found := map[place]row{}
	r.each(func(e row) {
		at := place{e.Job, e.Seq}
		if old, there := found[at]; !there || !old.sum.Valid && e.sum.Valid {
			found[at] = e
		}
	})
	rows := make([]row, 0, len(found))
	for _, e := range found {
		rows = append(rows, e)
	}
	slices.SortFunc(rows, func(a, b row) int {
		return cmp.Or(cmp.Compare(a.id, b.id), cmp.Compare(a.Job, b.Job), cmp.Compare(a.Seq, b.Seq))
	})
	acknowledged, _ := readLast(dir)
	return sift(rows, acknowledged), nil
}

// sift orders what was found: logs as far as they have no hole, and the rest.
func sift(rows []row, acknowledged Mark) Salvage {
	var s Salvage
	next, waiting := map[string]int64{}, map[string]map[int64]row{}
	take := func(r row) bool {
		e, err := r.event()
		if err == nil {
			s.Events = append(s.Events, e)
			next[r.Job]++
		}
		return err == nil
	}
	for _, r := range rows {
		if waiting[r.Job] == nil {
			waiting[r.Job] = map[int64]row{}
		}
		waiting[r.Job][r.Seq] = r
		for {
			r, ready := waiting[r.Job][next[r.Job]+1]
			if !ready || !take(r) {
				break
			}
			delete(waiting[r.Job], r.Seq)
		}
	}
	jobs := make([]string, 0, len(waiting))
	for job := range waiting {
		jobs = append(jobs, job)
	}
	slices.Sort(jobs)
	for _, job := range jobs {
		if job != "" && next[job] > 0 {
			s.Jobs = append(s.Jobs, job)
		}
		behind := make([]narrator.Event, 0, len(waiting[job]))
		for _, r := range waiting[job] {
			if e, err := r.event(); err == nil {
				behind = append(behind, e)
			}
		}
		slices.SortFunc(behind, func(a, b narrator.Event) int { return cmp.Compare(a.Seq, b.Seq) })
		s.Behind = append(s.Behind, behind...)
		if len(behind) > 0 {
			s.Lost = append(s.Lost, Finding{Job: job, Seq: next[job] + 1, What: fmt.Sprintf("it is lost; %d events behind it are kept beside the journal, in %s", len(behind), behindFile)})
		}
	}
	s.cutBay()
	if gone := int64(acknowledged) - int64(len(rows)); gone > 0 {
		s.Lost = append(s.Lost, Finding{Gone: gone, What: fmt.Sprintf("%d of %d events are lost", gone, acknowledged)})
	}
	return s
}

// cutBay ends the bay's log before it turns to a job that is lost: no log may speak of one.
func (s *Salvage) cutBay() {
	at := slices.IndexFunc(s.Events, func(e narrator.Event) bool {
		return e.Job == "" && e.Kind == narrator.Switched && e.Work != "" && !slices.Contains(s.Jobs, e.Work)
	})
	if at < 0 {
		return
	}
	first, kept := s.Events[at], s.Events[:at:at]
	for _, e := range s.Events[at:] {
		if e.Job == "" {
			s.Behind = append(s.Behind, e)
		} else {
			kept = append(kept, e)
		}
	}
	s.Lost = append(s.Lost, Finding{Seq: first.Seq, What: fmt.Sprintf("it turns to job %s, which is lost; the bay's own log ends before it, and the rest of that is kept beside the journal, in %s",
		first.Work, behindFile)})
	s.Events = kept
}

// behindFile takes, in a folder of salvaged events, those that no log can take.
const behindFile = "behind-a-hole.jsonl"

// Save writes what was salvaged from a folder into a journal of its own, in another folder, which must not be there or be empty, and copies the
// spoken notes and the taught voices. Nothing in the old folder is changed.
func (s Salvage) Save(ctx context.Context, from, to string) (err error) {
	if names, err := os.ReadDir(to); err == nil && len(names) > 0 {
		return fmt.Errorf("save to %s: there is something in this folder already; name another", to)
	}
	j, err := Open(to, Writer)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	for some := range slices.Chunk(s.Events, 1000) {
		if err := j.Append(ctx, some); err != nil {
			return err
		}
	}
	if len(s.Events) > 0 {
		if err := j.Beat(ctx, s.Events[len(s.Events)-1].Noted); err != nil {
			return err
		}
	}
	if err := s.saveBehind(filepath.Join(to, behindFile)); err != nil {
		return err
	}
	return copyRest(from, to)
}

// copyRest copies what else is in a data folder: spoken notes, those too that are parts, taught voices, and whatever a backup takes.
func copyRest(from, to string) error {
	var errs []error
	err := filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if same, err := sameFolder(path, to); err != nil || same {
			return cmp.Or(err, fs.SkipDir)
		}
		name, err := filepath.Rel(from, path)
		if err == nil && d.Type().IsRegular() && (!leftOut(name) || strings.HasSuffix(name, partSuffix)) {
			final := filepath.Join(to, name)
			errs = append(errs, makeFolder(filepath.Dir(final)), copyFile(path, final), syncPath(filepath.Dir(final)))
		}
		return err
	})
	return errors.Join(append(errs, err)...)
}

// sameFolder reports whether two paths name one folder.
func sameFolder(a, b string) (bool, error) {
	one, err := os.Stat(a)
	if err != nil {
		return false, err
	}
	other, err := os.Stat(b)
	return err == nil && one.IsDir() && os.SameFile(one, other), err
}

// copyFile copies a file, with the time when it was last written, by which a note without an event is dated.
func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return fault("read", from, err)
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		return fault("read", from, err)
	}
	return fault("copy "+from+" to", to, fill(to, in, info.ModTime()))
}

// fill makes a file durable that was not there.
func fill(path string, from io.Reader, written time.Time) error {
	out, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, from)
	if err == nil {
		err = out.Sync()
	}
	if err = errors.Join(err, out.Close()); err != nil {
		return err
	}
	return os.Chtimes(path, written, written)
}

// saveBehind writes the events that no log can take, one a line; no file where there are none.
func (s Salvage) saveBehind(path string) error {
	if len(s.Behind) == 0 {
		return nil
	}
	var lines bytes.Buffer
	for _, e := range s.Behind {
		if err := json.NewEncoder(&lines).Encode(e); err != nil {
			return err
		}
	}
	return fault("write", path, fill(path, &lines, time.Now()))
}
