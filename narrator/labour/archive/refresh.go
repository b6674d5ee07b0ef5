package archive

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/figures"
	"stepcaller/procedures"
)

// batch is how many jobs are worked in with one transaction.
const batch = 200

// keptProcedures is how many procedure files stay loaded.
const keptProcedures = 32

// Refresh works in what the journal has got since: jobs that were finished, and finished ones that got further events, such as
// corrections. It is cheap where there is nothing new. What it has done counts although it ends with an error, or is cancelled. A job that
// cannot be read is passed over ([Archive.PassedOver]).
func (a *Archive) Refresh(ctx context.Context) error {
	a.refreshing.Lock()
	defer a.refreshing.Unlock()
	changes, err := a.changed(ctx)
	if err != nil {
		return err
	}
	for len(changes) > 0 {
		n := min(batch, len(changes))
		if err := a.workIn(ctx, changes[:n]); err != nil {
			return err
		}
		changes = changes[n:]
	}
	return nil
}

// changed lists the jobs that got events since the last refresh. Where the job that was worked in last got none there, this is another
// journal, such as a backup put back: then what is kept is forgotten, and all jobs changed.
func (a *Archive) changed(ctx context.Context) ([]journal.Change, error) {
	var mark journal.Mark
	var last string
	if err := a.db.QueryRowContext(ctx, `SELECT mark, last FROM state`).Scan(&mark, &last); err != nil {
		return nil, a.broken(err)
	}
	if mark == 0 {
		return a.store.Changed(ctx, 0)
	}
	changes, err := a.store.Changed(ctx, mark-1)
	if err != nil {
		return nil, err
	}
	if slices.ContainsFunc(changes, func(c journal.Change) bool { return c.Job == last }) {
		return slices.DeleteFunc(changes, func(c journal.Change) bool { return c.Mark == mark }), nil
	}
	err = a.write(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `DELETE FROM job; DELETE FROM edition; DELETE FROM open_job; DELETE FROM passed_over;
			UPDATE state SET mark = 0, last = '', change = change + 1`)
		return err
	})
	if err != nil {
		return nil, err
	}
	return a.store.Changed(ctx, 0)
}

// workIn reads some jobs and stores what they tell.
func (a *Archive) workIn(ctx context.Context, changes []journal.Change) error {
	return a.write(ctx, func(tx *sql.Tx) error {
		stale := false
		for _, c := range changes {
			log, err := a.store.Log(ctx, c.Job)
			if err != nil {
				return err
			}
			changed, err := a.replace(ctx, tx, c.Job, log)
			if err != nil {
				return err
			}
			stale = stale || changed
		}
		done := changes[len(changes)-1]
		if _, err := tx.ExecContext(ctx, `UPDATE state SET change = change + ?`, stale); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `UPDATE state SET mark = ?, last = ? WHERE mark < ?`, done.Mark, done.Job, done.Mark)
		return err
	})
}

// replace stores what one job tells, in place of what it told before, and reports whether that makes a difference.
func (a *Archive) replace(ctx context.Context, tx *sql.Tx, id string, log []narrator.Event) (bool, error) {
	was, err := tx.ExecContext(ctx, `DELETE FROM job WHERE job = ?`, id)
	if err != nil {
		return false, err
	}
	gone, err := was.RowsAffected()
	if err != nil {
		return false, err
	}
	for _, forget := range []string{`DELETE FROM passed_over WHERE job = ?`, `DELETE FROM open_job WHERE job = ?`} {
		if _, err := tx.ExecContext(ctx, forget, id); err != nil {
			return false, err
		}
	}
	hash, job, err := a.read(log)
	if err != nil {
		_, err := tx.ExecContext(ctx, `INSERT INTO passed_over (job, why) VALUES (?, ?)`, id, err.Error())
		return true, err
	}
	if job.Open() {
		_, err := tx.ExecContext(ctx, `INSERT INTO open_job (job) VALUES (?)`, id)
		return gone > 0, err
	}
	edition, err := a.edition(ctx, tx, hash, job.Procedure)
	if err != nil {
		return false, err
	}
	sheet := labour.Of(job, job.End)
	return true, a.storeJob(ctx, tx, edition, job, sheet, figures.SampleOf(job, sheet))
}

// read folds a job from its log, with the procedure loaded once for all jobs that were done by the same file.
func (a *Archive) read(log []narrator.Event) (hash [sha256.Size]byte, job *narrator.Job, err error) {
	if len(log) == 0 || log[0].Kind != narrator.Opened {
		_, err = narrator.NewJob(log)
		return hash, nil, err
	}
	hash = sha256.Sum256([]byte(log[0].Text))
	a.mu.Lock()
	p := a.loaded[hash]
	a.mu.Unlock()
	if p == nil {
		var mistakes []procedures.Mistake
		if p, mistakes = procedures.Load(log[0].Procedure, []byte(log[0].Text)); p == nil {
			return hash, nil, fmt.Errorf("job %s: its procedure %q no longer loads: %v", log[0].Job, log[0].Procedure, mistakes)
		}
		a.mu.Lock()
		if len(a.loaded) >= keptProcedures {
			clear(a.loaded)
		}
		a.loaded[hash] = p
		a.mu.Unlock()
	}
	job, err = narrator.JobOf(p, log)
	return hash, job, err
}

// edition is the number of a procedure file that is stored, which it is when it is not yet.
func (a *Archive) edition(ctx context.Context, tx *sql.Tx, hash [sha256.Size]byte, p *procedures.Procedure) (id int64, err error) {
	err = tx.QueryRowContext(ctx, `SELECT id FROM edition WHERE hash = ?`, hash[:]).Scan(&id)
	if !errors.Is(err, sql.ErrNoRows) {
		return id, err
	}
	outline, err := json.Marshal(figures.EditionOf(p))
	if err != nil {
		return 0, err
	}
	err = tx.QueryRowContext(ctx, `INSERT INTO edition (hash, procedure, title, machine, outline) VALUES (?, ?, ?, ?, ?) RETURNING id`,
		hash[:], p.ID, p.Title, p.Machine, string(outline)).Scan(&id)
	return id, err
}

func (a *Archive) storeJob(ctx context.Context, tx *sql.Tx, edition int64, j *narrator.Job, s labour.Sheet, sample figures.Sample) error {
	var id int64
	crew := "\n"
	for _, t := range s.Technicians {
		crew += t.Name + "\n"
	}
	err := tx.QueryRowContext(ctx, `INSERT INTO job (job, edition, procedure, crew, alone, order_no, kind, earlier, started, ended, worked, paused, unsure, gap,
		person, book, why, corrected, search) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id`,
		j.ID, edition, s.Procedure, crew, sample.Technician, s.Order, s.Kind, s.Earlier, j.Start, j.End, millis(s.Worked), millis(s.Paused), millis(s.Unsure), millis(s.Gap),
		millis(sample.Person), sample.Book, sample.Why, sample.Corrected, searched(j, s)).Scan(&id)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO steps (job, times) VALUES (?, ?)`, id, pack(sample.Steps, j.Procedure))
	return err
}

// searched is what a search looks through: who, what, on which vehicle, and what was typed in.
func searched(j *narrator.Job, s labour.Sheet) string {
	words := []string{j.ID, s.Procedure, j.Procedure.Title, j.Procedure.Machine, s.Order, s.Odometer}
	for _, t := range s.Technicians {
		words = append(words, t.Name)
	}
	for _, f := range s.Facts {
		words = append(words, f.Value)
	}
	return strings.ToLower(strings.Join(words, "\n"))
}

func millis(s labour.Seconds) int64 { return int64(s*1000 + 0.5) }

// Passed is a job that could not be read.
type Passed struct {
	Job string `json:"job"`
	Why string `json:"why"`
}

// PassedOver lists the jobs that could not be read, by id. They are in the journal and lost to the figures alone.
func (a *Archive) PassedOver(ctx context.Context) ([]Passed, error) {
	all := []Passed{}
	err := a.each(ctx, func(rows *sql.Rows) error {
		var p Passed
		err := rows.Scan(&p.Job, &p.Why)
		all = append(all, p)
		return err
	}, `SELECT job, why FROM passed_over ORDER BY job`)
	return all, err
}
