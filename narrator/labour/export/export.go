// Package export writes every job of a journal for other programs: as one CSV file a table, or as one JSON file with all sheets.
//
// It goes through the sheets once, one at a time, so that years of jobs take no more memory than one.
package export

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strings"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
	"stepcaller/procedures"
)

// Schema is the version of what is written. Tables and columns are only ever added to it.
const Schema = 1

// Sheets are the sheets of jobs, the oldest first. An [Unreadable] stands for a job whose sheet cannot be drawn up; any other error ends
// them.
type Sheets = iter.Seq2[labour.Sheet, error]

// From draws up the sheets of all jobs in a journal, open ones up to the last sign of life or to now, whichever was first.
func From(ctx context.Context, store journal.Store, now narrator.Moment) Sheets {
	return func(yield func(labour.Sheet, error) bool) {
		entries, err := store.Jobs(ctx, journal.Filter{})
		alive, err2 := store.LastBeat(ctx)
		if err := errors.Join(err, err2); err != nil {
			yield(labour.Sheet{}, fmt.Errorf("export: %w", err))
			return
		}
		known := map[string]*procedures.Procedure{} // by the text of the file
		for _, entry := range slices.Backward(entries) {
			s, err := sheet(ctx, store, entry.ID, min(alive, now), known)
			if ctx.Err() != nil {
				yield(labour.Sheet{}, fmt.Errorf("export job %s: %w", entry.ID, ctx.Err()))
				return
			}
			if err != nil {
				err = &Unreadable{entry.ID, err}
			}
			if !yield(s, err) {
				return
			}
		}
	}
}

func sheet(ctx context.Context, store journal.Store, id string, known narrator.Moment, files map[string]*procedures.Procedure) (labour.Sheet, error) {
	log, err := store.Log(ctx, id)
	if err != nil {
		return labour.Sheet{}, err
	}
	var job *narrator.Job
	if len(log) > 0 && files[log[0].Text] != nil {
		job, err = narrator.JobOf(files[log[0].Text], log)
	} else {
		job, err = narrator.NewJob(log)
	}
	if err != nil {
		return labour.Sheet{}, err
	}
	files[log[0].Text] = job.Procedure
	return labour.Of(job, max(job.Last(), known)), nil
}

// Unreadable is a job that is left out because it cannot be read.
type Unreadable struct {
	Job string
	Err error
}

func (u *Unreadable) Error() string { return fmt.Sprintf("job %s cannot be read: %v", u.Job, u.Err) }

func (u *Unreadable) Unwrap() error { return u.Err }

// Incomplete tells after a whole export which jobs it leaves out. What was written is sound.
type Incomplete struct{ Jobs []*Unreadable }

func (i *Incomplete) Error() string {
	lines := []string{fmt.Sprintf("export: %d left out:", len(i.Jobs))}
	for _, u := range i.Jobs {
		lines = append(lines, "  "+u.Error())
	}
	return strings.Join(lines, "\n")
}

// leave takes an unreadable job's error over and reports whether it was one.
func (i *Incomplete) leave(err error) bool {
	var u *Unreadable
	if errors.As(err, &u) {
		i.Jobs = append(i.Jobs, u)
		return true
	}
	return false
}

// error is i where a job was left out.
func (i *Incomplete) error() error {
	if len(i.Jobs) > 0 {
		return i
	}
	return nil
}

// JSON writes all sheets as one object: schema, written_at, invented, sheets, and unreadable, the ids of jobs that were left out; then it
// returns an [Incomplete] too. A sheet is what [labour.WriteJSON] writes.
func JSON(w io.Writer, at time.Time, invented bool, sheets Sheets) error {
	head, err := json.Marshal(at.UTC().Truncate(time.Second))
	if err != nil {
		return fmt.Errorf("export: %w", err)
	}
	if _, err := fmt.Fprintf(w, "{\"schema\":%d,\"written_at\":%s,\"invented\":%t,\"sheets\":[", Schema, head, invented); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	separator, left := "\n", Incomplete{}
	for s, err := range sheets {
		if left.leave(err) {
			continue
		}
		if err != nil {
			return err
		}
		var text strings.Builder
		text.WriteString(separator)
		e := json.NewEncoder(&text)
		e.SetEscapeHTML(false)
		if err := e.Encode(s); err != nil {
			return fmt.Errorf("export job %s: %w", s.Job, err)
		}
		if _, err := io.WriteString(w, strings.TrimSuffix(text.String(), "\n")); err != nil {
			return fmt.Errorf("export job %s: %w", s.Job, err)
		}
		separator = ",\n"
	}
	ids := []string{}
	for _, u := range left.Jobs {
		ids = append(ids, u.Job)
	}
	tail, err := json.Marshal(ids)
	if err != nil {
		return fmt.Errorf("export: %w", err)
	}
	if _, err := fmt.Fprintf(w, "\n],\"unreadable\":%s}\n", tail); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	return left.error()
}

// CSV writes one table as RFC 4180 has it, UTF-8: a header whose names carry the units, then its rows. What is null in JSON is empty. A text that a
// spreadsheet would take for a formula has an apostrophe before it. Jobs that cannot be read are left out, and an [Incomplete] names them.
func CSV(w io.Writer, table string, sheets Sheets) error {
	i := slices.IndexFunc(tables, func(t tableOf) bool { return t.name == table })
	if i < 0 {
		return fmt.Errorf("export: there is no table %q; choose one of %s", table, strings.Join(Tables(), ", "))
	}
	return write(sheets, tables[i:i+1], func(string) (io.Writer, error) { return w, nil })
}

// AllCSV writes every table, each to the writer that create gives for its name, in one go through the sheets.
func AllCSV(create func(table string) (io.Writer, error), sheets Sheets) error {
	return write(sheets, tables, create)
}

// Tables names the tables, in the order in which they are explained.
func Tables() []string {
	var names []string
	for _, t := range tables {
		names = append(names, t.name)
	}
	return names
}

func write(sheets Sheets, which []tableOf, create func(string) (io.Writer, error)) error {
	writers := make([]*csv.Writer, len(which))
	for i, t := range which {
		w, err := create(t.name)
		if err != nil {
			return fmt.Errorf("export table %s: %w", t.name, err)
		}
		writers[i] = csv.NewWriter(w)
		writers[i].UseCRLF = true
		if err := writers[i].Write(append([]string{"job"}, strings.Fields(t.columns)...)); err != nil {
			return fmt.Errorf("export table %s: %w", t.name, err)
		}
	}
	var left Incomplete
	for s, err := range sheets {
		if left.leave(err) {
			continue
		}
		if err != nil {
			return err
		}
		for i, t := range which {
			t.rows(s, func(cells ...any) {
				record := []string{s.Job}
				for _, c := range cells {
					record = append(record, cell(c))
				}
				_ = writers[i].Write(record) // the flush below tells
			})
		}
	}
	for i, t := range which {
		writers[i].Flush()
		if err := writers[i].Error(); err != nil {
			return fmt.Errorf("export table %s: %w", t.name, err)
		}
	}
	return left.error()
}
