package pages

import (
	"cmp"
	"net/http"
	"slices"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/labour/figures"
)

// dayPage is one day of the bay.
type dayPage struct {
	Day          time.Time
	IsToday      bool
	Before, Next string // dates
	Ticks        []tick
	Lanes        []lane
	Finished     int            // jobs that were finished on the day
	Book         float64        // their hours
	Took         labour.Seconds // worked on them, on whatever day
	Worked       labour.Seconds // on the day, on all jobs
	Still        []labour.Standstill
	Unsure, Gap  labour.Seconds
	Long         []longToday
	Nothing      bool // nothing was ever recorded
}

// lane is what one job did on the day.
type lane struct {
	Sheet  labour.Sheet
	Title  string
	Open   bool
	Line   []span
	Worked labour.Seconds // on the day
}

// longToday is a step of the day that ran long.
type longToday struct {
	Job, Title string
	Step       figures.Step
	Minutes    float64
	What       []string
}

// Efficiency is the finished jobs' book time over their worked time, 0 where there is none.
func (p dayPage) Efficiency() float64 {
	if p.Took <= 0 {
		return 0
	}
	return p.Book * 3600 / float64(p.Took)
}

// longestJob is how long before a day a job that was worked on then may have begun.
const longestJob = 60 * 24 * time.Hour

func (s *server) today(w http.ResponseWriter, r *http.Request) {
	now := s.Now().In(s.write.zone)
	day := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, s.write.zone)
	if text := r.URL.Query().Get("day"); text != "" {
		asked, err := time.ParseInLocation(time.DateOnly, text, s.write.zone)
		if err != nil {
			s.fail(w, r, http.StatusBadRequest, s.Tongue.F("%q is no date; write it as 2000-01-31.", text), "")
			return
		}
		day = asked
	}
	next := day.AddDate(0, 0, 1)
	page := dayPage{Day: day, IsToday: !now.Before(day) && now.Before(next), Before: day.AddDate(0, 0, -1).Format(time.DateOnly), Nothing: s.Store == nil}
	if !next.After(now) {
		page.Next = next.Format(time.DateOnly)
	}
	if s.Store != nil {
		if err := s.fillDay(r, &page, day, next); err != nil {
			s.broken(w, r, err)
			return
		}
	}
	s.show(w, r, http.StatusOK, "today", s.write.day(day), page)
}

// onDay lists the ids of the jobs that may have been worked on between two moments, oldest first.
func (s *server) onDay(r *http.Request, from, to time.Time) ([]string, error) {
	var ids []string
	if s.Archive == nil {
		entries, err := s.Store.Jobs(r.Context(), journal.Filter{})
		for _, e := range entries {
			if e.Start.Time().Before(to) && (e.Open() || e.End.Time().After(from)) {
				ids = append(ids, e.ID)
			}
		}
		slices.Sort(ids)
		return ids, err
	}
	rows, _, err := s.finished(r, archive.Query{From: from.Add(-longestJob), To: to})
	if err != nil {
		return nil, err
	}
	for _, row := range rows {
		if row.Ended.After(from) {
			ids = append(ids, row.Job)
		}
	}
	open, err := s.opened.list(r.Context())
	for _, o := range open {
		if o.Started.Before(to) {
			ids = append(ids, o.ID)
		}
	}
	slices.Sort(ids)
	return ids, err
}

func (s *server) fillDay(r *http.Request, page *dayPage, day, next time.Time) error {
	ids, err := s.onDay(r, day, next)
	if err != nil {
		return err
	}
	type worked struct {
		job  *narrator.Job
		line []narrator.Stretch
		now  narrator.Moment
	}
	from, to := narrator.MomentOf(day), narrator.MomentOf(next)
	var all []worked
	first, last := to, from
	for _, id := range ids {
		log, err := s.Store.Log(r.Context(), id)
		if err != nil {
			return err
		}
		j, err := narrator.NewJob(log)
		if err != nil {
			return err
		}
		now, err := s.known(r, j)
		if err != nil {
			return err
		}
		line := clipped(j.Timeline(now), from, to)
		if !slices.ContainsFunc(line, func(l narrator.Stretch) bool { return l.What != narrator.Paused && l.What != narrator.NotRunning }) {
			continue // it stood still all day
		}
		all = append(all, worked{j, line, now})
		for _, l := range line {
			if l.What == narrator.Working || l.What == narrator.Unaccounted {
				first, last = min(first, l.From), max(last, l.To)
			}
		}
	}
	if len(all) == 0 {
		return nil
	}
	shown := axis{at: []knot{{first, 0}, {max(last, first.Add(narrator.Hour)), 100}}}
	page.Ticks = shown.ticks(s.write.zone, 8)
	still := map[string]*labour.Standstill{}
	for _, of := range all {
		page.add(s, r, shown, of.job, clipped(of.line, first, max(last, first.Add(narrator.Hour))), of.now, still)
	}
	for _, sum := range still {
		page.Still = append(page.Still, *sum)
	}
	slices.SortFunc(page.Still, func(a, b labour.Standstill) int {
		return cmp.Or(cmp.Compare(b.Paused, a.Paused), cmp.Compare(a.Reason, b.Reason))
	})
	return nil
}

// add draws a job's day, and adds it up.
func (p *dayPage) add(s *server, r *http.Request, shown axis, j *narrator.Job, line []narrator.Stretch, now narrator.Moment, still map[string]*labour.Standstill) {
	sheet := labour.Of(j, now)
	l := lane{Sheet: sheet, Title: j.Procedure.Title, Open: j.Open()}
	for _, stretch := range joined(line) {
		of := shown.span(stretch.From, stretch.To)
		of.What, of.Reason = string(stretch.What), stretch.Reason
		l.Line = append(l.Line, of)
		switch stretch.What {
		case narrator.Working:
			l.Worked += of.Length
		case narrator.Unaccounted:
			p.Unsure += of.Length
		case narrator.NotRunning:
			p.Gap += of.Length
		case narrator.Paused:
			reason := cmp.Or(stretch.Reason, labour.Unstated)
			if still[reason] == nil {
				still[reason] = &labour.Standstill{Reason: reason}
			}
			still[reason].Paused += of.Length
			still[reason].Times++
		}
	}
	p.Worked += l.Worked
	p.Lanes = append(p.Lanes, l)
	if j.Open() || j.End.Time().Before(p.Day) || !j.End.Time().Before(p.Day.AddDate(0, 0, 1)) {
		return
	}
	p.Finished++
	if sheet.BookHours > 0 {
		p.Book, p.Took = p.Book+sheet.BookHours, p.Took+sheet.Worked
	}
	if s.Archive != nil {
		p.Long = append(p.Long, s.ranLong(r, j, sheet)...)
	}
}

// ranLong lists the steps of a finished job that ran long.
func (s *server) ranLong(r *http.Request, j *narrator.Job, sheet labour.Sheet) []longToday {
	f, err := s.Archive.Procedure(r.Context(), sheet.Procedure)
	if err != nil {
		return nil // the page is shown without
	}
	own := slices.IndexFunc(f.Runs, func(run figures.Run) bool { return run.Job == j.ID })
	var all []longToday
	for _, step := range f.Steps {
		i, there := slices.BinarySearchFunc(step.Times, own, func(t figures.Time, run int) int { return t.Run - run })
		if own >= 0 && there && step.Times[i].Long {
			all = append(all, longToday{Job: j.ID, Title: j.Procedure.Title, Step: step, Minutes: step.Times[i].Minutes,
				What: s.write.happenings(figures.Happenings(sheet, step.Number))})
		}
	}
	return all
}

// clipped is what of a timeline lies between two moments.
func clipped(line []narrator.Stretch, from, to narrator.Moment) []narrator.Stretch {
	var all []narrator.Stretch
	for _, s := range line {
		if s.From, s.To = max(s.From, from), min(s.To, to); s.From < s.To {
			all = append(all, s)
		}
	}
	return all
}
