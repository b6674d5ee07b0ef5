package archive

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/figures"
	"stepcaller/procedures"
)

// Query says which finished jobs are wanted. The zero Query wants all.
type Query struct {
	Text       string    // words that must all occur in a job's id, procedure, vehicle, work order, technicians or what was typed in
	Procedure  string    // id, "" for any
	Technician string    // who was on it, "" for anybody
	Kind       string    // who pays, "" for any
	Bay        string    // that began it, "" for any
	From, To   time.Time // jobs begun at From or later and before To; zero for no limit
	Offset     int       // how many to pass over
	Limit      int       // how many at most, 0 for all
}

// Row is one job in a list.
type Row struct {
	Job         string         `json:"job"`
	Bay         string         `json:"bay"`       // that began it, "" where there is one alone
	Procedure   string         `json:"procedure"` // id
	Title       string         `json:"title"`     // of the procedure
	Machine     string         `json:"machine"`
	Technicians []string       `json:"technicians"` // in the order of joining
	Order       string         `json:"order"`       // work-order number, "" for none
	Kind        string         `json:"kind"`
	Earlier     string         `json:"earlier"` // job that a comeback comes back from, "" for none
	Started     time.Time      `json:"started_at"`
	Ended       time.Time      `json:"ended_at,omitzero"` // zero while the job is open
	Worked      labour.Seconds `json:"worked_s"`
	Paused      labour.Seconds `json:"paused_s"`
	Unsure      labour.Seconds `json:"unsure_s"`
	Gap         labour.Seconds `json:"gap_s"`
	Person      labour.Seconds `json:"person_worked_s"` // of everybody together
	BookHours   float64        `json:"book_hours"`
	Efficiency  *float64       `json:"efficiency"` // book over worked; null without either, and for a comeback, which nobody pays
	Corrected   bool           `json:"corrected"`  // its times, afterwards
	Comebacks   []Comeback     `json:"comebacks"`  // oldest first
	Why         figures.Why    `json:"why"`        // it is no sample, "" for a sample
}

// Comeback is a later job that came back from an earlier one, or from one that came back from it.
type Comeback struct {
	Job    string         `json:"job"`
	Worked labour.Seconds `json:"worked_s"` // by everybody
}

// listed are the columns of a row, for scan.
const listed = `job.id, job.job, job.bay, job.procedure, title, machine, crew, order_no, job.kind, earlier, started, ended, worked, paused, unsure,
	gap, person, book, why, corrected, comebacks`

// Bays lists every bay that began a job, by name; "" is among them where there are jobs without one.
func (a *Archive) Bays(ctx context.Context) (all []string, err error) {
	err = a.each(ctx, func(rows *sql.Rows) error {
		var name string
		err := rows.Scan(&name)
		all = append(all, name)
		return err
	}, `SELECT name FROM bay ORDER BY name`)
	return all, err
}

// scan reads what listed names; more may follow. It tells the job's number, and whether others came back from it.
func scan(r *sql.Rows, more ...any) (row Row, id int64, cameBack bool, err error) {
	var crew string
	var started, ended narrator.Moment
	var worked, paused, unsure, gap, person, comebacks int64
	var book procedures.Hours
	err = r.Scan(append([]any{&id, &row.Job, &row.Bay, &row.Procedure, &row.Title, &row.Machine, &crew, &row.Order, &row.Kind, &row.Earlier, &started, &ended,
		&worked, &paused, &unsure, &gap, &person, &book, &row.Why, &row.Corrected, &comebacks}, more...)...)
	row.Technicians = names(crew)
	row.Started, row.Ended = started.Time(), ended.Time()
	row.Worked, row.Paused, row.Unsure, row.Gap, row.Person = seconds(worked), seconds(paused), seconds(unsure), seconds(gap), seconds(person)
	row.BookHours, row.Comebacks = float64(book)/100, []Comeback{}
	if row.Why != figures.Comeback {
		row.Efficiency = figures.Efficiency(row.BookHours, row.Worked)
	}
	return row, id, comebacks > 0, err
}

// Unfinished is a job that is not finished, in brief.
type Unfinished struct {
	Job        string
	Bay        string // that began it, "" where there is one alone
	File       string // of its procedure, as named when it began
	Order      string // work-order number, "" for none
	Technician string // who began it, "" for nobody named
	Started    time.Time
}

// Unfinished lists the jobs that are not finished, the newest first, of one bay or, with "", of all.
func (a *Archive) Unfinished(ctx context.Context, bay string) ([]Unfinished, error) {
	all := []Unfinished{}
	err := a.each(ctx, func(r *sql.Rows) error {
		var o Unfinished
		var started narrator.Moment
		err := r.Scan(&o.Job, &o.Bay, &o.File, &o.Order, &o.Technician, &started)
		o.Started = started.Time()
		all = append(all, o)
		return err
	}, `SELECT job, bay, file, order_no, technician, started FROM open_job WHERE ?1 IN ('', bay) ORDER BY started DESC, job DESC`, bay)
	return all, err
}

// OpenJobs lists the jobs that are not finished as they stand now, or at their last event where that is later, the newest first.
func (a *Archive) OpenJobs(ctx context.Context, now narrator.Moment) ([]Row, error) {
	open, err := a.Unfinished(ctx, "")
	if err != nil {
		return nil, err
	}
	rows := []Row{}
	for _, o := range open {
		j, err := a.Job(ctx, o.Job)
		if err != nil {
			return nil, err
		}
		rows = append(rows, openRow(j, labour.Of(j, max(now, j.Last()))))
	}
	slices.SortFunc(rows, func(a, b Row) int { return cmp.Or(b.Started.Compare(a.Started), cmp.Compare(b.Job, a.Job)) })
	return rows, nil
}

func openRow(j *narrator.Job, s labour.Sheet) Row {
	row := Row{Job: s.Job, Bay: bayOf(s.Job), Procedure: s.Procedure, Title: j.Procedure.Title, Machine: j.Procedure.Machine, Technicians: []string{}, Order: s.Order, Kind: s.Kind,
		Earlier: s.Earlier, Started: s.StartedAt, Worked: s.Worked, Paused: s.Paused, Unsure: s.Unsure, Gap: s.Gap, Person: max(s.Worked, s.PersonWorked),
		BookHours: s.BookHours, Comebacks: []Comeback{}}
	for _, t := range s.Technicians {
		row.Technicians = append(row.Technicians, t.Name)
	}
	return row
}

func names(crew string) []string {
	return slices.DeleteFunc(strings.Split(crew, "\n"), func(name string) bool { return name == "" })
}

func seconds(millis int64) labour.Seconds { return labour.Seconds(millis) / 1000 }

// comebacks tells, in rows, the jobs that came back from some of them, whether at once or by way of another comeback.
func (a *Archive) comebacks(ctx context.Context, rows []Row, from []string) error {
	wanted, err := json.Marshal(from)
	if err != nil {
		return err
	}
	back := map[string][]Comeback{}
	err = a.each(ctx, func(r *sql.Rows) error {
		var from string
		var c Comeback
		var person int64
		err := r.Scan(&from, &c.Job, &person)
		c.Worked = seconds(person)
		back[from] = append(back[from], c)
		return err
	}, `WITH RECURSIVE back(root, job) AS (SELECT value, value FROM json_each(?)
			UNION SELECT root, job.job FROM back CROSS JOIN job ON job.earlier = back.job AND job.earlier <> '')
		SELECT root, job.job, person FROM back CROSS JOIN job USING (job) WHERE root <> job.job ORDER BY job.id`, string(wanted))
	for i := range rows {
		rows[i].Comebacks = append(rows[i].Comebacks, back[rows[i].Job]...)
	}
	return err
}

// Totals are the sums of some jobs.
type Totals struct {
	Jobs       int            `json:"jobs"`
	BookHours  float64        `json:"book_hours"` // of comebacks none: nobody pays them
	Worked     labour.Seconds `json:"worked_s"`
	Paused     labour.Seconds `json:"paused_s"`
	Unsure     labour.Seconds `json:"unsure_s"`
	Gap        labour.Seconds `json:"gap_s"`
	Person     labour.Seconds `json:"person_worked_s"`
	Efficiency *float64       `json:"efficiency"` // book over worked; null without either
}

// TotalOf adds jobs up.
func TotalOf(rows []Row) Totals {
	t := Totals{Jobs: len(rows)}
	for _, r := range rows {
		if r.Why != figures.Comeback {
			t.BookHours += r.BookHours
		}
		t.Worked += r.Worked
		t.Paused += r.Paused
		t.Unsure += r.Unsure
		t.Gap += r.Gap
		t.Person += r.Person
	}
	t.Efficiency = figures.Efficiency(t.BookHours, t.Worked)
	return t
}
