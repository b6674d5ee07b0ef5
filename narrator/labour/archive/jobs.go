package archive

import (
	"cmp"
	"context"
	"database/sql"
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
	From, To   time.Time // jobs begun at From or later and before To; zero for no limit
	Offset     int       // how many to pass over
	Limit      int       // how many at most, 0 for all
}

// Row is one job in a list.
type Row struct {
	Job         string         `json:"job"`
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

// Jobs lists finished jobs, the newest first, and tells how many there are of which these are a part.
func (a *Archive) Jobs(ctx context.Context, q Query) ([]Row, int, error) {
	where, args := q.where()
	var total int
	if err := a.db.QueryRowContext(ctx, `SELECT count(*) FROM job`+where, args...).Scan(&total); err != nil {
		return nil, 0, a.broken(err)
	}
	var back map[string][]Comeback
	if err := a.ask(ctx, func(k *known) error { back = k.back; return nil }); err != nil {
		return nil, 0, err
	}
	limit := -1
	if q.Limit > 0 {
		limit = q.Limit
	}
	rows := []Row{}
	err := a.each(ctx, func(r *sql.Rows) error {
		row, err := scan(r)
		row.Comebacks = append([]Comeback{}, back[row.Job]...)
		rows = append(rows, row)
		return err
	}, `SELECT job.job, job.procedure, title, machine, crew, order_no, kind, earlier, started, ended, worked, paused, unsure,
		gap, person, book, why, corrected
		FROM (SELECT * FROM job`+where+` ORDER BY started DESC, job DESC LIMIT ? OFFSET ?) AS job JOIN edition ON edition.id = job.edition
		ORDER BY started DESC, job.job DESC`, append(args, limit, max(0, q.Offset))...)
	return rows, total, err
}

func (q Query) where() (string, []any) {
	var conditions []string
	var args []any
	only := func(condition string, arg any) {
		conditions, args = append(conditions, condition), append(args, arg)
	}
	for _, word := range strings.Fields(strings.ToLower(q.Text)) {
		only("instr(search, ?) > 0", word)
	}
	if q.Procedure != "" {
		only("procedure = ?", q.Procedure)
	}
	if q.Technician != "" {
		only("instr(crew, ?) > 0", "\n"+q.Technician+"\n")
	}
	if q.Kind != "" {
		only("kind = ?", q.Kind)
	}
	if !q.From.IsZero() {
		only("started >= ?", narrator.MomentOf(q.From))
	}
	if !q.To.IsZero() {
		only("started < ?", narrator.MomentOf(q.To))
	}
	if len(conditions) == 0 {
		return "", nil
	}
	return " WHERE " + strings.Join(conditions, " AND "), args
}

func scan(r *sql.Rows) (Row, error) {
	var row Row
	var crew string
	var started, ended narrator.Moment
	var worked, paused, unsure, gap, person int64
	var book procedures.Hours
	err := r.Scan(&row.Job, &row.Procedure, &row.Title, &row.Machine, &crew, &row.Order, &row.Kind, &row.Earlier, &started, &ended,
		&worked, &paused, &unsure, &gap, &person, &book, &row.Why, &row.Corrected)
	row.Technicians = names(crew)
	row.Started, row.Ended = started.Time(), ended.Time()
	row.Worked, row.Paused, row.Unsure, row.Gap, row.Person = seconds(worked), seconds(paused), seconds(unsure), seconds(gap), seconds(person)
	row.BookHours = float64(book) / 100
	if row.Why != figures.Comeback {
		row.Efficiency = figures.Efficiency(row.BookHours, row.Worked)
	}
	return row, err
}

// OpenJobs lists the jobs that are not finished as they stand now, or at their last event where that is later, the newest first.
func (a *Archive) OpenJobs(ctx context.Context, now narrator.Moment) ([]Row, error) {
	var ids []string
	err := a.each(ctx, func(r *sql.Rows) error {
		var id string
		err := r.Scan(&id)
		ids = append(ids, id)
		return err
	}, `SELECT job FROM open_job`)
	if err != nil {
		return nil, err
	}
	rows := []Row{}
	for _, id := range ids {
		j, err := a.Job(ctx, id)
		if err != nil {
			return nil, err
		}
		rows = append(rows, openRow(j, labour.Of(j, max(now, j.Last()))))
	}
	slices.SortFunc(rows, func(a, b Row) int { return cmp.Or(b.Started.Compare(a.Started), cmp.Compare(b.Job, a.Job)) })
	return rows, nil
}

func openRow(j *narrator.Job, s labour.Sheet) Row {
	row := Row{Job: s.Job, Procedure: s.Procedure, Title: j.Procedure.Title, Machine: j.Procedure.Machine, Technicians: []string{}, Order: s.Order, Kind: s.Kind,
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

// comebacks lists the jobs that came back, by every job that they came back from, whether at once or by way of another comeback.
func (a *Archive) comebacks(ctx context.Context) (map[string][]Comeback, error) {
	earlier := map[string]string{}
	var all []Comeback
	err := a.each(ctx, func(r *sql.Rows) error {
		var c Comeback
		var from string
		var person int64
		err := r.Scan(&c.Job, &from, &person)
		c.Worked = seconds(person)
		all, earlier[c.Job] = append(all, c), from
		return err
	}, `SELECT job, earlier, person FROM job WHERE earlier <> '' ORDER BY started, id`)
	back := map[string][]Comeback{}
	for _, c := range all {
		seen := map[string]bool{c.Job: true}
		for from := earlier[c.Job]; from != "" && !seen[from]; from = earlier[from] {
			seen[from] = true
			back[from] = append(back[from], c)
		}
	}
	return back, err
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
