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

// Latest is how many jobs of a procedure are looked at one by one, the latest; sums are of all. The end of an 80 % interval by rank of so
// many times stands where 10 % ± 0.7 of the next ones lie beyond it (the standard error of a share, √(p(1-p)/n)): more of them, which are older, would
// move it less than the shop's own ways of working do in a year.
const Latest = 2000

// keptFigures is of how many procedures the figures stay worked out. Those of a long one take some 3 MB.
const keptFigures = 12

// known is what was worked out and stays so until a job of the procedure changes.
type known struct {
	figures   map[string]remembered[*figures.Figures] // by procedure
	summaries map[string]remembered[Summary]
	asked     int64 // how often
}

// remembered is something about a procedure as it stood at one change.
type remembered[T any] struct {
	of    T
	stamp int64
	asked int64 // when it was asked for last
}

func newKnown() known {
	return known{map[string]remembered[*figures.Figures]{}, map[string]remembered[Summary]{}, 0}
}

// Procedure is what all finished jobs of a procedure tell together; [ErrNoProcedure] where there are none. It is shared: nobody changes it.
func (a *Archive) Procedure(ctx context.Context, id string) (*figures.Figures, error) {
	a.asking.Lock()
	defer a.asking.Unlock()
	var stamp int64
	if err := a.db.QueryRowContext(ctx, `SELECT coalesce(max(changed), -1) FROM edition WHERE procedure = ?`, id).Scan(&stamp); err != nil {
		return nil, a.broken(err)
	}
	a.known.asked++
	was, there := a.known.figures[id]
	if !there || was.stamp != stamp {
		f, err := a.gather(ctx, id)
		if err != nil {
			return nil, err
		}
		was = remembered[*figures.Figures]{f, stamp, 0}
	}
	was.asked = a.known.asked
	a.known.figures[id] = was
	if len(a.known.figures) > keptFigures {
		oldest := id
		for other, of := range a.known.figures {
			if of.asked < a.known.figures[oldest].asked {
				oldest = other
			}
		}
		delete(a.known.figures, oldest)
	}
	return was.of, nil
}

// gather reads the samples of a procedure and works its figures out.
func (a *Archive) gather(ctx context.Context, id string) (*figures.Figures, error) {
	editions, newest, err := a.outlines(ctx, id)
	if err != nil {
		return nil, err
	}
	if newest == 0 {
		return nil, fmt.Errorf("%w: %q", ErrNoProcedure, id)
	}
	sums, err := a.sums(ctx, id)
	if err != nil {
		return nil, err
	}
	jobs := 0
	for _, sum := range sums {
		jobs += sum.Jobs
	}
	g := figures.Gather(editions[newest], len(editions), min(jobs, a.latest))
	var s figures.Sample
	err = a.each(ctx, func(r *sql.Rows) error {
		var edition, worked, person, comebacks int64
		var started narrator.Moment
		var packed sql.RawBytes
		if err := r.Scan(&s.Job, &edition, &started, &s.Technician, &worked, &person, &s.Book, &s.Why, &s.Corrected, &comebacks, &packed); err != nil {
			return err
		}
		s.Started, s.Worked, s.Person, s.Comebacks = started.Time(), seconds(worked), seconds(person), seconds(comebacks)
		var err error
		if s.Steps, err = unpackSteps(s.Steps[:0], packed, editions[edition].Outline); err != nil {
			return err
		}
		g.Add(s)
		return nil
	}, `SELECT job.job, edition, started, alone, worked, person, book, why, corrected, comebacks, steps
		FROM (SELECT id FROM job WHERE procedure = ? ORDER BY id DESC LIMIT ?) AS last CROSS JOIN job ON job.id = last.id JOIN packed ON packed.id = job.id ORDER BY job.id`,
		id, a.latest)
	if err != nil {
		return nil, err
	}
	g.Among(sums)
	return g.Figures(), nil
}

// outlines are the editions of a procedure by which jobs were done, and the one of the newest job, 0 where there is none.
func (a *Archive) outlines(ctx context.Context, id string) (editions map[int64]figures.Edition, newest int64, err error) {
	editions = map[int64]figures.Edition{}
	err = a.each(ctx, func(r *sql.Rows) error {
		var edition int64
		var text string
		var e figures.Edition
		if err := r.Scan(&edition, &text); err != nil {
			return err
		}
		err := json.Unmarshal([]byte(text), &e)
		editions[edition] = e
		return err
	}, `SELECT id, outline FROM edition WHERE procedure = ? AND EXISTS (SELECT 1 FROM tally WHERE edition = edition.id AND jobs > 0)`, id)
	if err != nil || len(editions) == 0 {
		return editions, 0, err
	}
	err = a.db.QueryRowContext(ctx, `SELECT edition FROM job WHERE procedure = ? ORDER BY id DESC LIMIT 1`, id).Scan(&newest)
	return editions, newest, a.broken(err)
}

// sums are what all jobs of a procedure add up to.
func (a *Archive) sums(ctx context.Context, id string) (figures.Sums, error) {
	all := figures.Sums{}
	err := a.each(ctx, func(r *sql.Rows) error {
		var why figures.Why
		var s figures.Sum
		err := r.Scan(&why, &s.Jobs, &s.Worked, &s.Person, &s.Book, &s.CameBack, &s.Comebacks)
		all[why] = s
		return err
	}, `SELECT why, sum(jobs), sum(worked), sum(person), sum(book), sum(came_back), sum(comebacks)
		FROM edition JOIN tally ON tally.edition = edition.id WHERE procedure = ? GROUP BY why HAVING sum(jobs) > 0`, id)
	return all, err
}

// Summary is one procedure in a list.
type Summary struct {
	Procedure  string    `json:"procedure"` // id
	Title      string    `json:"title"`
	Machine    string    `json:"machine"`
	BookHours  float64   `json:"book_hours"`
	Jobs       int       `json:"jobs"`       // finished
	Samples    int       `json:"samples"`    // of them
	Median     float64   `json:"median_min"` // of the samples among the latest, as the figures look at them; 0 without
	Efficiency *float64  `json:"efficiency"` // of the samples together; null without
	CameBack   int       `json:"came_back"`  // jobs from which others came back
	Last       time.Time `json:"last"`       // when the newest job began
}

// Procedures lists the procedures by which jobs were finished, by title.
func (a *Archive) Procedures(ctx context.Context) ([]Summary, error) {
	a.asking.Lock()
	defer a.asking.Unlock()
	stamps := map[string]int64{}
	err := a.each(ctx, func(r *sql.Rows) error {
		var id string
		var stamp int64
		err := r.Scan(&id, &stamp)
		stamps[id] = stamp
		return err
	}, `SELECT procedure, max(changed) FROM edition GROUP BY procedure`)
	if err != nil {
		return nil, err
	}
	all := []Summary{}
	for id, stamp := range stamps {
		was, there := a.known.summaries[id]
		if !there || was.stamp != stamp {
			s, err := a.summary(ctx, id)
			if err != nil {
				return nil, err
			}
			was = remembered[Summary]{of: s, stamp: stamp}
			a.known.summaries[id] = was
		}
		if was.of.Jobs > 0 {
			all = append(all, was.of)
		}
	}
	slices.SortFunc(all, func(x, y Summary) int {
		return cmp.Or(cmp.Compare(x.Title, y.Title), cmp.Compare(x.Procedure, y.Procedure))
	})
	return all, nil
}

func (a *Archive) summary(ctx context.Context, id string) (Summary, error) {
	s := Summary{Procedure: id}
	sums, err := a.sums(ctx, id)
	if err != nil {
		return s, err
	}
	for why, sum := range sums {
		s.Jobs, s.CameBack = s.Jobs+sum.Jobs, s.CameBack+sum.CameBack
		if why == figures.IsSample {
			s.Samples, s.Efficiency = sum.Jobs, figures.Efficiency(float64(sum.Book)/100, seconds(sum.Worked))
		}
	}
	if s.Jobs == 0 {
		return s, nil
	}
	var book int64
	var started narrator.Moment
	err = a.db.QueryRowContext(ctx, `SELECT title, machine, book, started FROM job JOIN edition ON edition.id = job.edition WHERE job.procedure = ? ORDER BY job.id DESC LIMIT 1`, id).
		Scan(&s.Title, &s.Machine, &book, &started)
	if err != nil {
		return s, a.broken(err)
	}
	s.BookHours, s.Last = float64(book)/100, started.Time()
	var worked []float64
	err = a.each(ctx, func(r *sql.Rows) error {
		var millis int64
		err := r.Scan(&millis)
		worked = append(worked, float64(seconds(millis))/60)
		return err
	}, `SELECT worked FROM job INDEXED BY sample_by_procedure WHERE procedure = ?1 AND why = ''
		AND id >= coalesce((SELECT id FROM job WHERE procedure = ?1 ORDER BY id DESC LIMIT 1 OFFSET ?2 - 1), 0)`, id, a.latest)
	if len(worked) > 0 {
		s.Median = study.Median(worked)
	}
	return s, err
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
	r := f.Review(s)
	var comebacks int64 // an older job is not among those that the figures look at
	err = a.db.QueryRowContext(ctx, `SELECT why, comebacks FROM job WHERE job = ?`, s.Job).Scan(&r.Why, &comebacks)
	if errors.Is(err, sql.ErrNoRows) {
		return r, nil
	}
	r.Comebacks = float64(seconds(comebacks)) / 60
	return r, a.broken(err)
}
