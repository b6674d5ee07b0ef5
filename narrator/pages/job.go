package pages

import (
	"errors"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/figures"
	"stepcaller/procedures"
)

// jobPage is what a job's page shows.
type jobPage struct {
	Sheet     labour.Sheet
	Title     string
	Machine   string
	Open      bool
	Dictated  bool // it had no procedure
	From, To  time.Time
	Book      *against // nil where no hours are booked
	Shares    []share  // of the elapsed time
	Line      timeline
	Steps     []stepRow
	Patterns  []pattern
	Readings  []strip
	Findings  []finding
	Parts     []part
	Memos     []note
	Spells    []spell
	Others    int            // jobs that it is held against
	Comebacks labour.Seconds // of everybody, in jobs that came back from this one
	Corrected []correction
	Remarks   []remark
	Moved     moved
	Form      *form // to correct and to remark; nil where nothing can be written
	Wrong     string

	write writer
}

// At is the time of the day of something on the sheet.
func (p jobPage) At(s labour.Seconds) string {
	return p.write.time(p.From.Add(time.Duration(float64(s) * float64(time.Second))))
}

// Efficiency is book time over worked time.
func (p jobPage) Efficiency() float64 { return *p.Sheet.Efficiency }

// Shared reports whether a step's expected time is a share of the book's.
func (p jobPage) Shared() bool {
	return slices.ContainsFunc(p.Steps, func(s stepRow) bool { return s.Basis == figures.FromBook })
}

// Learnt reports whether a step's expected time was learnt from other jobs.
func (p jobPage) Learnt() bool {
	return slices.ContainsFunc(p.Steps, func(s stepRow) bool { return s.Basis == figures.Learnt })
}

// against is worked time beside the book's, in per cent of the longer.
type against struct {
	Worked, Book float64
	Over         labour.Seconds // worked less book
}

// Beyond is the bar of what was worked beyond the book.
func (a against) Beyond() float64 { return max(0, a.Worked-a.Book) }

// share is what one activity is of the elapsed time.
type share struct {
	What   string
	Length labour.Seconds
	X      float64 // in per cent
	Width  float64
}

// stepRow is a step beside what it should take. Bars are in per cent of the longest.
type stepRow struct {
	labour.Step
	Worked, Expected float64        // bars
	Low, High        float64        // bar of the interval that the next time was to lie in; High is 0 for none
	Upper            labour.Seconds // end of that interval
	Long             bool           // it ran long
	What             []string       // what happened in one that ran long
	Basis            figures.Basis  // of the expected time
	Now              bool
}

// Beyond is the bar of what was worked beyond the expected time.
func (r stepRow) Beyond() float64 { return max(0, r.Worked-r.Expected) }

// Between is the bar of the interval.
func (r stepRow) Between() float64 { return r.High - r.Low }

// finding is one with what it is about.
type finding struct {
	labour.Finding
	Title  string
	Number int // of the step
	Notes  []note
}

// part is a part of the job, with the numbers of the steps that name it, "" where only the whole job does.
type part struct {
	procedures.Part
	Steps string
}

// Several reports whether more than one step names it.
func (p part) Several() bool { return strings.Contains(p.Steps, ",") }

// partsOf lists each part of a procedure once.
func partsOf(p *procedures.Procedure) []part {
	var all []part
	add := func(of procedures.Part, step string) {
		i := slices.IndexFunc(all, func(has part) bool { return has.Part.String() == of.String() })
		if i < 0 {
			i, all = len(all), append(all, part{Part: of})
		}
		if all[i].Steps += step; step != "" {
			all[i].Steps = strings.TrimPrefix(all[i].Steps, ", ")
		}
	}
	for _, of := range p.Parts {
		add(of, "")
	}
	for i, step := range p.Steps {
		for _, of := range step.Parts {
			add(of, ", "+strconv.Itoa(i+1))
		}
	}
	return all
}

// note is a recording to be played.
type note struct {
	labour.Memo
	Source string // its address
	Step   int    // number of the step in which it was spoken
	When   time.Time
}

// job reads the job that a request names, up to now. Where there is none a page says so, and ok is false.
func (s *server) job(w http.ResponseWriter, r *http.Request) (j *narrator.Job, now narrator.Moment, ok bool) {
	id := r.PathValue("job")
	if s.Store == nil {
		s.nothingYet(w, r)
		return nil, 0, false
	}
	log, err := s.Store.Log(r.Context(), id)
	if errors.Is(err, journal.ErrNoJob) || err == nil && id == "" {
		s.fail(w, r, http.StatusNotFound, s.Tongue.F("There is no job %s.", id),
			s.Tongue.F("A job's number is its day and its place on that day, such as 2000-01-01-1. The list of jobs has them all."))
		return nil, 0, false
	}
	if err == nil {
		j, err = narrator.NewJob(log)
	}
	if err == nil {
		now, err = s.known(r, j)
	}
	if err != nil {
		s.broken(w, r, err)
		return nil, 0, false
	}
	return j, now, true
}

// known is the moment up to which a job's time is known: nobody knows what happened after the program stopped.
func (s *server) known(r *http.Request, j *narrator.Job) (narrator.Moment, error) {
	now := narrator.MomentOf(s.Now())
	if !j.Open() {
		return max(now, j.Last()), nil
	}
	alive, err := s.Store.LastBeat(r.Context())
	return max(j.Last(), min(alive, now)), err
}

// broken tells of a fault that is nobody's mistake.
func (s *server) broken(w http.ResponseWriter, r *http.Request, err error) {
	s.fail(w, r, http.StatusInternalServerError, s.Tongue.F("The journal cannot be read."), err.Error())
}

// nothingYet is the page where nothing was ever recorded.
func (s *server) nothingYet(w http.ResponseWriter, r *http.Request) {
	s.fail(w, r, http.StatusNotFound, s.Tongue.F("No job was recorded yet."), s.Tongue.F("Start one at the terminal: stepcaller start PROCEDURE"))
}

func (s *server) jobPage(w http.ResponseWriter, r *http.Request) { s.showJob(w, r, http.StatusOK, "") }

// showJob shows a job, with what was wrong with a form that was sent.
func (s *server) showJob(w http.ResponseWriter, r *http.Request, status int, wrong string) {
	j, now, ok := s.job(w, r)
	if !ok {
		return
	}
	page := s.review(j, now)
	s.held(r, &page)
	page.Moved = s.moved(r.Context(), j, page.Sheet)
	page.Wrong = wrong
	if !page.Moved.Gone {
		page.Form = s.form(r, j, now, page.Sheet)
	}
	s.show(w, r, status, "job", s.Tongue.F("Job %s", j.ID), page)
}

// review draws a job up to a moment.
func (s *server) review(j *narrator.Job, now narrator.Moment) jobPage {
	line := j.Timeline(now)
	sheet := labour.Of(j, now)
	p := j.Procedure
	page := jobPage{write: s.write, Sheet: sheet, Title: p.Title, Machine: p.Machine, Open: j.Open(), Dictated: j.Dictation != nil, From: j.Start.Time(),
		To:   j.Start.Time().Add(time.Duration(float64(sheet.Elapsed) * float64(time.Second))),
		Line: s.write.timelineOf(j, line, sheet), Patterns: patterns(p, sheet), Readings: s.write.strips(sheet.Readings)}
	page.Book, page.Shares = bookOf(sheet), sharesOf(sheet)
	page.Steps = stepRows(sheet)
	page.Memos = notes(j, sheet, line)
	page.Findings = s.findings(p, sheet, page.Memos)
	page.Parts = partsOf(p)
	page.Spells, page.Corrected, page.Remarks = spells(j, line), corrected(page.From, sheet), remarked(sheet)
	return page
}

func bookOf(sheet labour.Sheet) *against {
	if sheet.BookHours <= 0 {
		return nil
	}
	book := labour.Seconds(sheet.BookHours * 3600)
	whole := float64(max(book, sheet.Worked))
	return &against{Worked: 100 * float64(sheet.Worked) / whole, Book: 100 * float64(book) / whole, Over: sheet.Worked - book}
}

func sharesOf(sheet labour.Sheet) []share {
	if sheet.Elapsed <= 0 {
		return nil
	}
	var all []share
	x := 0.0
	for _, s := range []share{{What: "worked", Length: sheet.Worked}, {What: "paused", Length: sheet.Paused}, {What: "unsure", Length: sheet.Unsure},
		{What: "gap", Length: sheet.Gap}} {
		if s.Length <= 0 {
			continue
		}
		s.X, s.Width = x, 100*float64(s.Length)/float64(sheet.Elapsed)
		x += s.Width
		all = append(all, s)
	}
	return all
}

func stepRows(sheet labour.Sheet) []stepRow {
	longest := labour.Seconds(1)
	for _, step := range sheet.Steps {
		longest = max(longest, step.Worked)
		if step.Expected != nil {
			longest = max(longest, *step.Expected)
		}
	}
	var rows []stepRow
	for _, step := range sheet.Steps {
		row := stepRow{Basis: figures.Basis(step.ExpectedFrom), Step: step, Worked: 100 * float64(step.Worked) / float64(longest), Now: sheet.State == labour.Open && step.Ended == sheet.Elapsed}
		if step.Expected != nil {
			row.Expected = 100 * float64(*step.Expected) / float64(longest)
		}
		rows = append(rows, row)
	}
	return rows
}

// notes lists what was recorded, with the step in which it was said.
func notes(j *narrator.Job, sheet labour.Sheet, line []narrator.Stretch) []note {
	var all []note
	for _, m := range sheet.Memos {
		n := note{Memo: m, Source: "/jobs/" + j.ID + "/memos/" + path.Base(m.File)}
		at := j.Start.Add(narrator.Span(float64(m.At) * narrator.Rate))
		n.When = at.Time()
		for _, s := range line {
			if s.From <= at && at < s.To {
				n.Step = s.Step + 1
			}
		}
		all = append(all, n)
	}
	return all
}

func (s *server) findings(p *procedures.Procedure, sheet labour.Sheet, memos []note) []finding {
	var all []finding
	for _, f := range sheet.Findings {
		row := finding{Finding: f, Title: s.Tongue.F("Finding %d", f.Number)}
		if i, ok := p.Index(f.Step); ok {
			row.Number = i + 1
		}
		switch choice, _ := p.Choice(f.Choice); {
		case f.Choice != "":
			row.Title = choice.Ask
		case f.Reading != "":
			row.Title = f.Reading
			if f.Position != "" {
				row.Title += ", " + f.Position
			}
		}
		for _, m := range memos {
			for _, file := range f.Notes {
				if m.File == file {
					row.Notes = append(row.Notes, m)
				}
			}
		}
		all = append(all, row)
	}
	return all
}

// spell is a stretch of the job in the table beside the drawing.
type spell struct {
	From, To time.Time
	Length   labour.Seconds
	What     string
	Reason   string
	Step     int
	Title    string
}

func spells(j *narrator.Job, line []narrator.Stretch) []spell {
	var all []spell
	for _, s := range line {
		all = append(all, spell{From: s.From.Time(), To: s.To.Time(), Length: labour.Seconds(s.Length().Seconds()), What: string(s.What), Reason: s.Reason,
			Step: s.Step + 1, Title: j.Procedure.Steps[s.Step].Heading()})
	}
	return all
}
