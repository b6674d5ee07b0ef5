package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/figures"
)

// Worked is a finished job with what it did when.
type Worked struct {
	Row
	Line []narrator.Stretch // all of it, whatever the steps

	edition int64
	steps   []byte
}

// WorkedOn is a job, open or finished, as it stands now, with what it did when.
func WorkedOn(j *narrator.Job, now narrator.Moment) Worked {
	s := labour.Of(j, now)
	w := Worked{Row: openRow(j, s), Line: j.Timeline(now)}
	if !j.Open() {
		w.Ended = j.End.Time()
	}
	return w
}

// longestJob is how long before a day a job that was worked on then may have begun.
const longestJob = 60 * 24 * time.Hour

// Between lists the finished jobs that began before to and ended after from, the newest first, of one bay or, with "", of all. What began more
// than 60 days before from is left out.
func (a *Archive) Between(ctx context.Context, from, to time.Time, bay string) ([]Worked, error) {
	var all []Worked
	condition, args := "", []any{int64(narrator.MomentOf(from.Add(-longestJob))) * numbered, int64(narrator.MomentOf(to)) * numbered, narrator.MomentOf(from)}
	index := "job_in_order"
	if bay != "" {
		condition, args, index = "bay = ? AND ", append([]any{bay}, args...), "job_by_bay"
	}
	err := a.each(ctx, func(r *sql.Rows) error {
		var w Worked
		var line []byte
		var err error
		if w.Row, _, _, err = scan(r, &w.edition, &w.steps, &line); err == nil {
			w.Line, err = unpackLine(line, narrator.MomentOf(w.Started))
		}
		all = append(all, w)
		return err
	}, `SELECT `+listed+`, job.edition, steps, line
		FROM (SELECT id FROM job INDEXED BY `+index+` WHERE `+condition+`id >= ? AND id < ? AND ended > ?) AS found
		CROSS JOIN job ON job.id = found.id JOIN edition ON edition.id = job.edition JOIN packed ON packed.id = job.id ORDER BY job.id DESC`, args...)
	return all, err
}

// Long is a step that ran long in a job.
type Long struct {
	Job Row
	figures.Late
}

// atOnce is of how many procedures the limits are worked out while a page waits; few is how many jobs of a procedure cost next to nothing.
const (
	atOnce = 3
	few    = 100
)

// RanLong lists the steps that ran long in some jobs, held against the other jobs of their procedures as they were when every hundredth of
// them was finished. Where the limits of many procedures are not known yet they are worked out in the background, and missing is how many of the jobs
// were not held against any.
func (a *Archive) RanLong(ctx context.Context, jobs []Worked) (all []Long, missing int, err error) {
	left := atOnce
	outlines := map[int64]figures.Edition{}
	known := map[string]kept{}
	for _, w := range jobs {
		e, there := outlines[w.edition]
		if !there {
			var text string
			if err := a.db.QueryRowContext(ctx, `SELECT outline FROM edition WHERE id = ?`, w.edition).Scan(&text); err != nil {
				return nil, 0, a.broken(err)
			}
			if err := json.Unmarshal([]byte(text), &e); err != nil {
				return nil, 0, a.broken(err)
			}
			outlines[w.edition] = e
		}
		limits, there := known[w.Procedure]
		if !there {
			if limits, err = a.limits(ctx, w.Procedure, &left); err != nil {
				return nil, 0, err
			}
			known[w.Procedure] = limits
		}
		if limits.jobs == 0 {
			missing++
			continue
		}
		steps, err := unpackSteps(nil, w.steps, e.Outline)
		if err != nil {
			return nil, 0, a.broken(err)
		}
		for _, late := range limits.RanLong(figures.Sample{Started: w.Started, Why: w.Why, Steps: steps}) {
			all = append(all, Long{w.Row, late})
		}
	}
	if left < 0 {
		a.going.Go(func() { _ = a.warm(a.life) })
	}
	return all, missing, nil
}

// kept are the limits of a procedure as they were worked out from so many jobs.
type kept struct {
	figures.Limits
	stamp, jobs int64
}

// limits are those of a procedure, worked out anew when one in a hundred of its jobs is new. That is done for as many large procedures as are left,
// which is counted down; beyond, older ones are given, without jobs where there are none.
func (a *Archive) limits(ctx context.Context, id string, left *int) (kept, error) {
	var stamp, jobs int64
	err := a.db.QueryRowContext(ctx, `SELECT coalesce(max(changed), -1), coalesce(sum(jobs), 0) FROM edition JOIN tally ON tally.edition = edition.id WHERE procedure = ?`, id).
		Scan(&stamp, &jobs)
	if err != nil {
		return kept{}, a.broken(err)
	}
	a.limiting.Lock()
	was, there := a.limited[id]
	a.limiting.Unlock()
	if there && (was.stamp == stamp || was.jobs <= jobs && 100*(jobs-was.jobs) < was.jobs) {
		return was, nil
	}
	if jobs > few {
		if *left--; *left < 0 {
			return was, nil
		}
	}
	f, err := a.gather(ctx, id) // nobody waits meanwhile
	if err != nil {
		return kept{}, err
	}
	was = kept{f.Limits(), stamp, jobs}
	a.limiting.Lock()
	defer a.limiting.Unlock()
	a.limited[id] = was
	return was, nil
}
