package archive

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/figures"
	"stepcaller/procedures"
)

// told is what a job's log tells, ready to be stored.
type told struct {
	id     string
	fault  error // it could not be read, else nil
	opened narrator.Event
	job    *narrator.Job // nil where it is not finished
	hash   [sha256.Size]byte
	sheet  labour.Sheet
	sample figures.Sample
	steps  []byte
	line   []byte
	text   string
}

// tell reads a job and works out what it tells. It writes nothing, and may be called from several goroutines.
func (a *Archive) tell(ctx context.Context, id string) (t told, err error) {
	log, err := a.store.Log(ctx, id)
	if err != nil {
		return t, err
	}
	t.id, t.opened = id, log[0]
	if !stillOpen(log) {
		a.fold(log, &t)
	}
	return t, nil
}

// fold works out what a log that has an end tells. It may have been taken back.
func (a *Archive) fold(log []narrator.Event, t *told) {
	var job *narrator.Job
	if t.hash, job, t.fault = a.read(log); t.fault != nil || job.Open() {
		return
	}
	t.job, t.sheet = job, labour.Of(job, job.End)
	t.sample = figures.SampleOf(job, t.sheet)
	t.steps, t.line, t.text = packSteps(t.sample.Steps, job.Procedure), packLine(job.Timeline(job.End)), searched(job, t.sheet)
}

// stillOpen reports whether a log that begins as logs do has no end, so that it need not be folded.
func stillOpen(log []narrator.Event) bool {
	if log[0].Kind != narrator.Opened {
		return false
	}
	for _, e := range log {
		if e.Kind == narrator.Finished {
			return false
		}
	}
	return true
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
			for other := range a.loaded { // any
				delete(a.loaded, other)
				break
			}
		}
		a.loaded[hash] = p
		a.mu.Unlock()
	}
	job, err = narrator.JobOf(p, log)
	return hash, job, err
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
	return strings.ToLower(strings.Join(words, "\n")) + "\n\n" // so that two letters are always followed by a third
}

func millis(s labour.Seconds) int64 { return int64(s*1000 + 0.5) }

// bayOf is the bay that began a job, by the job's name in the shop; "" for one of this bay alone.
func bayOf(job string) string {
	_, bay, _ := strings.Cut(job, ".")
	return bay
}

// writing is a transaction that says the same things for many jobs: each statement is prepared once.
type writing struct {
	tx       *sql.Tx
	prepared map[string]*sql.Stmt
	said     []int64 // numbers of the jobs whose letters are still to be written
}

func (w *writing) statement(ctx context.Context, query string) (s *sql.Stmt, err error) {
	if s = w.prepared[query]; s == nil {
		if s, err = w.tx.PrepareContext(ctx, query); err == nil { // #nosec G701 -- texts of this package; the transaction closes it
			w.prepared[query] = s
		}
	}
	return s, err
}

func (w *writing) exec(ctx context.Context, query string, args ...any) error {
	s, err := w.statement(ctx, query)
	if err == nil {
		_, err = s.ExecContext(ctx, args...)
	}
	return err
}

// row reads one row; found is false where there is none.
func (w *writing) row(ctx context.Context, into []any, query string, args ...any) (found bool, err error) {
	s, err := w.statement(ctx, query)
	if err != nil {
		return false, err
	}
	err = s.QueryRowContext(ctx, args...).Scan(into...)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, err
}

// replace stores what one job tells, in place of what it told before.
func (w *writing) replace(ctx context.Context, t told) error {
	earlier, err := w.forget(ctx, t.id)
	if err != nil {
		return err
	}
	switch {
	case t.fault != nil:
		err = w.exec(ctx, `INSERT INTO passed_over (job, why) VALUES (?, ?)`, t.id, t.fault.Error())
	case t.job == nil:
		err = w.exec(ctx, `INSERT INTO open_job (job, bay, file, order_no, technician, started) VALUES (?, ?, ?, ?, ?, ?)`,
			t.id, bayOf(t.id), t.opened.Procedure, t.opened.Order, t.opened.Technician, t.opened.At)
	default:
		err = w.store(ctx, t)
	}
	if err == nil {
		err = w.exec(ctx, `INSERT OR IGNORE INTO bay (name) VALUES (?)`, bayOf(t.id))
	}
	if err == nil && earlier != "" {
		err = w.cameBack(ctx, earlier)
	}
	if err == nil && t.job != nil && t.sheet.Earlier != earlier {
		err = w.cameBack(ctx, t.sheet.Earlier)
	}
	return err
}

// forget takes out what a job told, and says from which job it came back.
func (w *writing) forget(ctx context.Context, id string) (earlier string, err error) {
	for _, query := range []string{`DELETE FROM passed_over WHERE job = ?`, `DELETE FROM open_job WHERE job = ?`} {
		if err := w.exec(ctx, query, id); err != nil {
			return "", err
		}
	}
	var number int64
	var crew string
	found, err := w.row(ctx, []any{&number, &crew, &earlier}, `SELECT id, crew, earlier FROM job WHERE job = ?`, id)
	if !found || err != nil {
		return "", err
	}
	for _, name := range names(crew) {
		if err := w.exec(ctx, `DELETE FROM crew WHERE name = ? AND id = ?`, name, number); err != nil {
			return "", err
		}
	}
	for _, query := range []string{`DELETE FROM job WHERE id = ?`, `DELETE FROM packed WHERE id = ?`, `DELETE FROM said WHERE id = ?`, `DELETE FROM letters WHERE rowid = ?`} {
		if err := w.exec(ctx, query, number); err != nil {
			return "", err
		}
	}
	return earlier, nil
}

// numbered is how many numbers there are for jobs that began at one moment; more of them spill over into the next.
const numbered = 64

// number is a free one for a job that began then.
func (w *writing) number(ctx context.Context, started narrator.Moment) (n int64, err error) {
	first := int64(started) * numbered
	_, err = w.row(ctx, []any{&n}, `SELECT coalesce(max(id) + 1, ?1) FROM job WHERE id >= ?1 AND id < ?1 + ?2`, first, numbered)
	for taken := err == nil; taken; n++ {
		if taken, err = w.row(ctx, []any{new(int64)}, `SELECT id FROM job WHERE id = ?`, n); !taken || err != nil {
			break
		}
	}
	return n, err
}

// store stores a finished job.
func (w *writing) store(ctx context.Context, t told) error {
	j, s, sample := t.job, t.sheet, t.sample
	edition, err := w.edition(ctx, t.hash, j.Procedure)
	if err != nil {
		return err
	}
	id, err := w.number(ctx, j.Start)
	if err != nil {
		return err
	}
	bay, crew := bayOf(t.id), "\n"
	for _, of := range s.Technicians {
		crew += of.Name + "\n"
		if err := w.exec(ctx, `INSERT OR IGNORE INTO crew (name, id, procedure, kind, bay) VALUES (?, ?, ?, ?, ?)`, of.Name, id, s.Procedure, s.Kind, bay); err != nil {
			return err
		}
	}
	err = w.exec(ctx, `INSERT INTO job (job, id, bay, edition, procedure, crew, alone, order_no, kind, earlier, started, ended, worked, paused, unsure, gap,
		person, book, why, corrected, comebacks) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?,
		(`+cameFrom+`))`,
		t.id, id, bay, edition, s.Procedure, crew, sample.Technician, s.Order, s.Kind, s.Earlier, j.Start, j.End, millis(s.Worked), millis(s.Paused), millis(s.Unsure), millis(s.Gap),
		millis(sample.Person), sample.Book, sample.Why, sample.Corrected)
	if err == nil {
		err = w.exec(ctx, `INSERT INTO packed (id, steps, line) VALUES (?, ?, ?)`, id, t.steps, t.line)
	}
	if err == nil {
		err = w.exec(ctx, `INSERT INTO said (id, text) VALUES (?, ?)`, id, t.text)
	}
	w.said = append(w.said, id)
	return err
}

// letters writes the letters of all jobs that were stored: together, as each statement makes a piece of the index by itself.
func (w *writing) letters(ctx context.Context) error {
	all, err := json.Marshal(w.said)
	if err != nil {
		return err
	}
	return w.exec(ctx, `INSERT INTO letters (rowid, text) SELECT id, text FROM said WHERE id IN (SELECT value FROM json_each(?)) ORDER BY id`, string(all))
}

// cameFrom sums up the jobs that came back from one, the first argument, whether at once or by way of another comeback.
const cameFrom = `WITH RECURSIVE back(job) AS (SELECT job FROM job WHERE earlier = ?1 AND earlier <> '' AND job <> ?1
	UNION SELECT job.job FROM back CROSS JOIN job ON job.earlier = back.job AND job.earlier <> '' WHERE job.job <> ?1)
	SELECT coalesce(sum(person), 0) FROM back CROSS JOIN job USING (job)`

// cameBack sums up anew what came back from a job, and from those that it came back from itself.
func (w *writing) cameBack(ctx context.Context, id string) error {
	for seen := map[string]bool{}; id != "" && !seen[id]; {
		seen[id] = true
		err := w.exec(ctx, `UPDATE job SET comebacks = (`+cameFrom+`) WHERE job = ?1`, id)
		if err != nil {
			return err
		}
		from := ""
		if _, err := w.row(ctx, []any{&from}, `SELECT earlier FROM job WHERE job = ?`, id); err != nil {
			return err
		}
		id = from
	}
	return nil
}

// edition is the number of a procedure file that is stored, which it is when it is not yet.
func (w *writing) edition(ctx context.Context, hash [sha256.Size]byte, p *procedures.Procedure) (id int64, err error) {
	found, err := w.row(ctx, []any{&id}, `SELECT id FROM edition WHERE hash = ?`, hash[:])
	if found || err != nil {
		return id, err
	}
	outline, err := json.Marshal(figures.EditionOf(p))
	if err != nil {
		return 0, err
	}
	_, err = w.row(ctx, []any{&id}, `INSERT INTO edition (hash, procedure, title, machine, outline) VALUES (?, ?, ?, ?, ?) RETURNING id`,
		hash[:], p.ID, p.Title, p.Machine, string(outline))
	return id, err
}

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
