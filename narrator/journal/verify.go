package journal

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"stepcaller/narrator"
)

// Finding is something that breaks an invariant.
type Finding struct {
	Job  string // "" for the bay or the journal as a whole
	Seq  int64  // of the event concerned, 0 for none
	What string // what is wrong, and what to do, without a full stop
	Gone int64  // how many events, of jobs that nobody can name, were acknowledged and are gone
	Note bool   // nothing recorded is lost or wrong by it
}

// String is the finding on one line.
func (f Finding) String() string {
	switch {
	case f.Job != "" && f.Seq != 0:
		return fmt.Sprintf("job %s, event %d: %s", f.Job, f.Seq, f.What)
	case f.Job != "":
		return fmt.Sprintf("job %s: %s", f.Job, f.What)
	case f.Seq != 0:
		return fmt.Sprintf("bay, event %d: %s", f.Seq, f.What)
	}
	return f.What
}

// OnDisk is a store with files of its own.
type OnDisk interface {
	Store
	Memos() *Memos
	Check(ctx context.Context) []Finding // what is wrong with the storage below
}

// Verify reads everything and returns all that breaks an invariant: events missing or out of order, jobs that cannot be
// rebuilt, words that concern an unknown job, memos without a file or without an event, and what the storage below finds
// wrong with itself. Parts of memos are no finding: one is open while somebody speaks. A sound store has no findings.
func Verify(ctx context.Context, s Store) []Finding {
	if disk, ok := s.(OnDisk); ok {
		return verify(ctx, s, disk.Check(ctx), disk.Memos(), readable)
	}
	return verify(ctx, s, nil, nil, nil)
}

// verify adds to what was found what the events tell, and the memos; nil for none.
func verify(ctx context.Context, s Store, found []Finding, memos *Memos, sound ReadMemo) []Finding {
	v := &verifier{findings: found, sound: sound, memos: map[string]namedMemo{}, unread: map[string]bool{}}
	jobs, err := s.Jobs(ctx, Filter{})
	v.trouble(err)
	known := map[string]bool{"": true}
	for _, j := range jobs {
		known[j.ID] = true
		log, err := s.Log(ctx, j.ID)
		if err != nil {
			v.find(j.ID, 0, "%v", err)
			v.unread[j.ID] = true
			continue
		}
		v.job(j, log)
	}
	bay, err := s.Log(ctx, "")
	v.trouble(err)
	v.log("", bay)
	for _, e := range bay {
		if e.Kind == narrator.Switched && err == nil && !known[e.Work] {
			v.find("", e.Seq, "it turns to job %s, which is not in the journal", e.Work)
		}
	}
	if memos != nil {
		v.files(memos)
	}
	return v.findings
}

// ReadMemo reads a memo that an event names to its end and says what is wrong with it. length is what the event tells.
type ReadMemo func(path string, length narrator.Span) error

// readable reads any file to its end.
func readable(path string, _ narrator.Span) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	_, err = io.Copy(io.Discard, f)
	return errors.Join(err, f.Close())
}

type verifier struct {
	findings []Finding
	sound    ReadMemo
	memos    map[string]namedMemo
	unread   map[string]bool // jobs
}

// namedMemo is a memo that an event names.
type namedMemo struct {
	length narrator.Span
	here   bool // its file must be on this disk
}

func (v *verifier) find(job string, seq int64, format string, args ...any) {
	v.findings = append(v.findings, Finding{Job: job, Seq: seq, What: fmt.Sprintf(format, args...)})
}

func (v *verifier) trouble(err error) {
	if err != nil {
		v.find("", 0, "%v", err)
	}
}

func (v *verifier) job(entry Entry, log []narrator.Event) {
	here := 0 // events before are another bay's, and so are their memos
	for i, e := range log {
		if e.Kind == narrator.TakenOver {
			here = i
		}
	}
	for i, e := range log {
		if e.Kind == narrator.Recorded {
			if _, twice := v.memos[e.File]; twice {
				v.find(e.Job, e.Seq, "the memo %s is named by two events", e.File)
			}
			v.memos[e.File] = namedMemo{length: e.Length, here: i >= here}
		}
	}
	if entry.Events != int64(len(log)) {
		v.find(entry.ID, 0, "the list of jobs counts %d events, the log has %d", entry.Events, len(log))
	}
	if !v.log(entry.ID, log) {
		return
	}
	if _, err := narrator.NewJob(log); err != nil {
		v.find(entry.ID, 0, "it cannot be rebuilt: %v", err)
	}
}

// log checks the order of a log and reports whether it is whole.
func (v *verifier) log(job string, log []narrator.Event) bool {
	whole := true
	acts := map[int64]bool{}
	for i, e := range log {
		acts[e.Act] = true
		switch want := int64(i + 1); {
		case e.Job != job:
			v.find(job, e.Seq, "it belongs to job %q", e.Job)
			whole = false
		case e.Seq != want && whole:
			v.find(job, want, "it is missing, %d follows", e.Seq)
			whole = false
		}
		if e.Noted < e.At {
			v.find(job, e.Seq, "it was noted before it happened")
		}
		if e.Kind == narrator.Hearing && (job == "" || e.Floor > 0 || e.Speech > 0) {
			v.find(job, e.Seq, "it tells of a noise of %g and speech of %g dBFS; levels belong to a job and are at most 0", e.Floor, e.Speech)
		}
		if e.Kind == narrator.Undone && !acts[e.Ref] {
			v.find(job, e.Seq, "it takes back act %d, which is not here", e.Ref)
		}
	}
	return whole
}

// files compares the memos named by events with those on the disk.
func (v *verifier) files(memos *Memos) {
	kept, err := memos.Kept()
	v.trouble(err)
	for _, m := range kept {
		if _, named := v.memos[m.File]; !named && !v.unread[m.Job] {
			v.findings = append(v.findings, Finding{Job: m.Job, Note: true,
				What: fmt.Sprintf("no event names the memo %s; listen to it, and note what it says", m.File)})
		}
	}
	var named []string
	for file, memo := range v.memos {
		if memo.here {
			named = append(named, file)
		}
	}
	slices.Sort(named)
	for _, file := range named {
		path := filepath.Join(memos.dir, filepath.FromSlash(file))
		if _, err := os.Stat(path + awaitedSuffix); err == nil {
			continue // it comes from another bay
		}
		err := v.sound(path, v.memos[file].length)
		memo, _, _ := memos.parse(filepath.Base(file))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			v.find(memo.Job, 0, "a memo is missing: %v; look for it in a backup", err)
		case err != nil:
			v.find(memo.Job, 0, "a memo cannot be read: %v; look for it in a backup", err)
		}
	}
}
