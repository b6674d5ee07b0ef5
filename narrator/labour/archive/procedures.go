package archive

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/figures"
	"stepcaller/narrator/labour/study"
)

// ErrNoProcedure says that no job by a procedure is finished.
var ErrNoProcedure = errors.New("no finished job by this procedure")

// known is what was worked out from the cache as it stood at one change.
type known struct {
	change    int64
	figures   map[string]*figures.Figures // by procedure
	summaries []Summary
	back      map[string][]Comeback
}

// ask runs do with what is known, which no one else does meanwhile. What became old is forgotten first.
func (a *Archive) ask(ctx context.Context, do func(*known) error) error {
	a.asking.Lock()
	defer a.asking.Unlock()
	var change int64
	if err := a.db.QueryRowContext(ctx, `SELECT change FROM state`).Scan(&change); err != nil {
		return a.broken(err)
	}
	if a.known == nil || a.known.change != change {
		back, err := a.comebacks(ctx)
		if err != nil {
			return err
		}
		a.known = &known{change: change, figures: map[string]*figures.Figures{}, back: back}
	}
	return do(a.known)
}

// Procedure is what all finished jobs of a procedure tell together; [ErrNoProcedure] where there are none. It is shared: nobody changes it.
func (a *Archive) Procedure(ctx context.Context, id string) (f *figures.Figures, err error) {
	err = a.ask(ctx, func(k *known) error {
		if f = k.figures[id]; f != nil {
			return nil
		}
		f, err = a.gather(ctx, id, k.back)
		if err == nil {
			k.figures[id] = f
		}
		return err
	})
	return f, err
}

// gather reads the samples of a procedure and works its figures out.
func (a *Archive) gather(ctx context.Context, id string, back map[string][]Comeback) (*figures.Figures, error) {
	editions, newest, err := a.outlines(ctx, id)
	if err != nil {
		return nil, err
	}
	if newest == 0 {
		return nil, fmt.Errorf("%w: %q", ErrNoProcedure, id)
	}
	var jobs int
	if err := a.db.QueryRowContext(ctx, `SELECT count(*) FROM job WHERE procedure = ?`, id).Scan(&jobs); err != nil {
		return nil, a.broken(err)
	}
	g := figures.Gather(editions[newest], len(editions), jobs)
	var s figures.Sample
	err = a.each(ctx, func(r *sql.Rows) error {
		var edition, worked, person int64
		var started narrator.Moment
		var packed sql.RawBytes
		if err := r.Scan(&s.Job, &edition, &started, &s.Technician, &worked, &person, &s.Book, &s.Why, &s.Corrected, &packed); err != nil {
			return err
		}
		s.Started, s.Worked, s.Person = started.Time(), seconds(worked), seconds(person)
		s.Comebacks = 0
		for _, c := range back[s.Job] {
			s.Comebacks += c.Worked
		}
		var err error
		if s.Steps, err = unpack(s.Steps[:0], packed, editions[edition].Outline); err != nil {
			return err
		}
		g.Add(s)
		return nil
	}, `SELECT job.job, edition, started, alone, worked, person, book, why, corrected, times FROM job JOIN steps ON steps.job = job.id
		WHERE procedure = ? ORDER BY started, job.job`, id)
	if err != nil {
		return nil, err
	}
	return g.Figures(), nil
}

// outlines are the editions of a procedure by which jobs were done, and the one of the newest job, 0 where there is none.
func (a *Archive) outlines(ctx context.Context, id string) (editions map[int64]figures.Edition, newest int64, err error) {
	editions = map[int64]figures.Edition{}
	err = a.each(ctx, func(r *sql.Rows) error {
		var text string
		var e figures.Edition
		if err := r.Scan(&newest, &text); err != nil { // the last row's stays
			return err
		}
		err := json.Unmarshal([]byte(text), &e)
		editions[newest] = e
		return err
	}, `SELECT edition.id, outline FROM edition JOIN (SELECT edition, max(started) AS last FROM job WHERE procedure = ? GROUP BY edition) AS used
		ON used.edition = edition.id ORDER BY last`, id)
	return editions, newest, err
}

// Summary is one procedure in a list.
type Summary struct {
	Procedure  string    `json:"procedure"` // id
	Title      string    `json:"title"`
	Machine    string    `json:"machine"`
	BookHours  float64   `json:"book_hours"`
	Jobs       int       `json:"jobs"`       // finished
	Samples    int       `json:"samples"`    // of them
	Median     float64   `json:"median_min"` // of the samples, 0 without
	Efficiency *float64  `json:"efficiency"` // of the samples together; null without
	CameBack   int       `json:"came_back"`  // jobs from which others came back
	Last       time.Time `json:"last"`       // when the newest job began
}

// Procedures lists the procedures by which jobs were finished, by title.
func (a *Archive) Procedures(ctx context.Context) (all []Summary, err error) {
	err = a.ask(ctx, func(k *known) error {
		if k.summaries == nil {
			k.summaries, err = a.summaries(ctx, k.back)
		}
		all = slices.Clone(k.summaries)
		return err
	})
	return all, err
}

func (a *Archive) summaries(ctx context.Context, back map[string][]Comeback) ([]Summary, error) {
	type sums struct {
		Summary
		edition int64
		worked  []float64
		book    float64
		spent   labour.Seconds
	}
	found := map[string]*sums{}
	err := a.each(ctx, func(r *sql.Rows) error {
		var job, id string
		var edition, worked, book int64
		var started narrator.Moment
		var why figures.Why
		if err := r.Scan(&job, &id, &edition, &started, &worked, &book, &why); err != nil {
			return err
		}
		s := found[id]
		if s == nil {
			s = &sums{Summary: Summary{Procedure: id}}
			found[id] = s
		}
		s.Jobs++
		s.edition, s.Last, s.BookHours = edition, started.Time(), float64(book)/100
		if len(back[job]) > 0 {
			s.CameBack++
		}
		if why == figures.IsSample {
			s.worked = append(s.worked, float64(seconds(worked))/60)
			s.spent += seconds(worked)
			s.book += float64(book) / 100
		}
		return nil
	}, `SELECT job, procedure, edition, started, worked, book, why FROM job ORDER BY started, job`)
	if err != nil {
		return nil, err
	}
	all := []Summary{}
	for _, s := range found {
		if err := a.db.QueryRowContext(ctx, `SELECT title, machine FROM edition WHERE id = ?`, s.edition).Scan(&s.Title, &s.Machine); err != nil {
			return nil, a.broken(err)
		}
		s.Samples = len(s.worked)
		if s.Samples > 0 {
			s.Median = study.Median(s.worked)
		}
		s.Efficiency = figures.Efficiency(s.book, s.spent)
		all = append(all, s.Summary)
	}
	slices.SortFunc(all, func(x, y Summary) int {
		return cmp.Or(cmp.Compare(x.Title, y.Title), cmp.Compare(x.Procedure, y.Procedure))
	})
	return all, nil
}

// Job folds a job, open or finished, from its log. Jobs share their procedure.
func (a *Archive) Job(ctx context.Context, id string) (*narrator.Job, error) {
	log, err := a.store.Log(ctx, id)
	if err != nil {
		return nil, err
	}
	_, job, err := a.read(log)
	return job, err
}

// Sheet draws up the sheet of a job, open or finished, as it stands now.
func (a *Archive) Sheet(ctx context.Context, id string, now narrator.Moment) (labour.Sheet, error) {
	job, err := a.Job(ctx, id)
	if err != nil {
		return labour.Sheet{}, err
	}
	return labour.Of(job, now), nil
}

// Review holds a job's sheet against what is known of its procedure.
func (a *Archive) Review(ctx context.Context, s labour.Sheet) (figures.Review, error) {
	f, err := a.Procedure(ctx, s.Procedure)
	if err != nil && !errors.Is(err, ErrNoProcedure) {
		return figures.Review{}, err
	}
	return f.Review(s), nil
}
