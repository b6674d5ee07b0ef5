package pages

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
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
	RanLong      int  // how many steps, of which these are some
	NotHeld      int  // jobs of which that is still being worked out
	Nothing      bool // nothing was ever recorded

	Bays         []string // to choose from, none where there is one alone
	Bay          string   // that is chosen, "" for all
	Jobs         int      // worked on
	First        int      // number of the first lane
	Previous, On string   // addresses of the lanes around these, "" for none
}

// lanesDrawn is how many jobs of a day are drawn on one page, longShown how many steps that ran long are told.
const (
	lanesDrawn = 100
	longShown  = 30
)

// lane is what one job did on the day.
type lane struct {
	archive.Row
	Line  []span
	OnDay labour.Seconds // worked
}

// longToday is a step of the day that ran long.
type longToday struct {
	archive.Long
	What []string
}

// Last is the number of the last lane.
func (p dayPage) Last() int { return p.First + len(p.Lanes) - 1 }

// Efficiency is the finished jobs' book time over their worked time, 0 where there is none.
func (p dayPage) Efficiency() float64 {
	if p.Took <= 0 {
		return 0
	}
	return p.Book * 3600 / float64(p.Took)
}

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
	page := dayPage{Day: day, IsToday: !now.Before(day) && now.Before(next), Before: day.AddDate(0, 0, -1).Format(time.DateOnly), Nothing: s.Store == nil, Bay: r.URL.Query().Get("bay")}
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

// onDay lists the jobs that may have been worked on between two moments, and of those with figures the finished ones apart.
func (s *server) onDay(r *http.Request, from, to time.Time, bay string) (all, finished []archive.Worked, err error) {
	var open []string
	if s.Archive == nil {
		entries, err := s.Store.Jobs(r.Context(), journal.Filter{})
		if err != nil {
			return nil, nil, err
		}
		for _, e := range entries {
			if e.Start.Time().Before(to) && (e.Open() || e.End.Time().After(from)) {
				open = append(open, e.ID)
			}
		}
	} else {
		if err := s.Archive.CatchUp(r.Context()); err != nil {
			return nil, nil, err
		}
		if finished, err = s.Archive.Between(r.Context(), from, to, bay); err != nil {
			return nil, nil, err
		}
		begun, err := s.Archive.Unfinished(r.Context(), bay)
		if err != nil {
			return nil, nil, err
		}
		for _, o := range begun {
			if o.Started.Before(to) {
				open = append(open, o.Job)
			}
		}
	}
	all = slices.Clone(finished)
	for _, id := range open {
		j, err := s.fold(r, id)
		if err != nil {
			return nil, nil, err
		}
		now, err := s.known(r, j)
		if err != nil {
			return nil, nil, err
		}
		all = append(all, archive.WorkedOn(j, now))
	}
	slices.SortFunc(all, func(a, b archive.Worked) int {
		return cmp.Or(cmp.Compare(a.Bay, b.Bay), a.Started.Compare(b.Started), cmp.Compare(a.Job, b.Job))
	})
	return all, finished, nil
}

// fold reads a job.
func (s *server) fold(r *http.Request, id string) (*narrator.Job, error) {
	if s.Archive != nil {
		return s.Archive.Job(r.Context(), id)
	}
	log, err := s.Store.Log(r.Context(), id)
	if err != nil {
		return nil, err
	}
	return narrator.NewJob(log)
}

func (s *server) fillDay(r *http.Request, page *dayPage, day, next time.Time) error {
	var err error
	if s.Archive != nil {
		if page.Bays, err = s.bays(r); err != nil {
			return err
		}
	}
	jobs, finished, err := s.onDay(r, day, next, page.Bay)
	if err != nil {
		return err
	}
	from, to := narrator.MomentOf(day), narrator.MomentOf(next)
	var all []archive.Worked
	first, last := to, from
	for _, w := range jobs {
		w.Line = clipped(w.Line, from, to)
		if !slices.ContainsFunc(w.Line, func(l narrator.Stretch) bool { return l.What != narrator.Paused && l.What != narrator.NotRunning }) {
			continue // it stood still all day
		}
		all = append(all, w)
		for _, l := range w.Line {
			if l.What == narrator.Working || l.What == narrator.Unaccounted {
				first, last = min(first, l.From), max(last, l.To)
			}
		}
	}
	if len(all) == 0 {
		return nil
	}
	last = max(last, first.Add(narrator.Hour))
	shown := axis{at: []knot{{first, 0}, {last, 100}}}
	page.Ticks = shown.ticks(s.write.zone, 8)
	page.Jobs = len(all)
	offset := page.around(r, len(all))
	still := map[string]*labour.Standstill{}
	for i, w := range all {
		w.Line = clipped(w.Line, first, last)
		page.add(shown, w, i >= offset && i < offset+lanesDrawn, still)
	}
	for _, sum := range still {
		page.Still = append(page.Still, *sum)
	}
	slices.SortFunc(page.Still, func(a, b labour.Standstill) int {
		return cmp.Or(cmp.Compare(b.Paused, a.Paused), cmp.Compare(a.Reason, b.Reason))
	})
	s.ranLong(r, page, slices.DeleteFunc(finished, func(w archive.Worked) bool { return !page.finishedOn(w.Row) }))
	return nil
}

// around reads which lanes are asked for, and addresses those around them.
func (p *dayPage) around(r *http.Request, jobs int) (offset int) {
	query := r.URL.Query()
	offset, _ = strconv.Atoi(query.Get("offset"))
	offset = max(0, min(offset, (jobs-1)/lanesDrawn*lanesDrawn))
	p.First = offset + 1
	at := func(offset int) string {
		query.Set("offset", strconv.Itoa(offset))
		return "/today?" + query.Encode()
	}
	if offset > 0 {
		p.Previous = at(max(0, offset-lanesDrawn))
	}
	if offset+lanesDrawn < jobs {
		p.On = at(offset + lanesDrawn)
	}
	return offset
}

func (p *dayPage) finishedOn(r archive.Row) bool {
	return !r.Ended.IsZero() && !r.Ended.Before(p.Day) && r.Ended.Before(p.Day.AddDate(0, 0, 1))
}

// add adds a job's day up, and draws it where it is among those drawn.
func (p *dayPage) add(shown axis, w archive.Worked, drawn bool, still map[string]*labour.Standstill) {
	l := lane{Row: w.Row}
	for _, stretch := range joined(w.Line) {
		of := shown.span(stretch.From, stretch.To)
		of.What, of.Reason = string(stretch.What), stretch.Reason
		l.Line = append(l.Line, of)
		switch stretch.What {
		case narrator.Working:
			l.OnDay += of.Length
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
	p.Worked += l.OnDay
	if drawn {
		p.Lanes = append(p.Lanes, l)
	}
	if p.finishedOn(w.Row) {
		p.Finished++
		switch {
		case w.Why == figures.Comeback: // nobody pays for it again
			p.Took += w.Row.Worked
		case w.BookHours > 0:
			p.Book, p.Took = p.Book+w.BookHours, p.Took+w.Row.Worked
		}
	}
}

// ranLong tells the steps of finished jobs that ran long. The page is shown without what cannot be read.
func (s *server) ranLong(r *http.Request, page *dayPage, jobs []archive.Worked) {
	if s.Archive == nil {
		return
	}
	all, missing, err := s.Archive.RanLong(r.Context(), jobs)
	if err != nil {
		return
	}
	page.RanLong, page.NotHeld = len(all), missing
	sheets := map[string]labour.Sheet{}
	for _, l := range all[:min(len(all), longShown)] {
		sheet, there := sheets[l.Job.Job]
		if !there {
			if sheet, err = s.Archive.Sheet(r.Context(), l.Job.Job, 0); err != nil {
				continue
			}
			sheets[l.Job.Job] = sheet
		}
		number := l.Number // of the newest edition
		if i := slices.IndexFunc(sheet.Steps, func(row labour.Step) bool { return row.ID == l.ID }); i >= 0 {
			number = sheet.Steps[i].Number
		}
		page.Long = append(page.Long, longToday{l, s.write.happenings(figures.Happenings(sheet, number))})
	}
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
