package pages

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/procedures"
)

// form is what may be written to a job: corrections of one's own time, remarks, and the facts of its record.
type form struct {
	JobID        string
	Technicians  []string // of the job; none where anybody may write
	Reasons      []string
	Steps        []labour.Step
	Facts        []fact
	First, Last  string // limits of the times
	From, To     string // filled in, as are those below
	What, Reason string
	Why, Text    string
	Technician   string
	Step         string
}

// fact is a field of the job's record with what stands in it.
type fact struct {
	narrator.Field
	Value string
}

func (s *server) form(r *http.Request, j *narrator.Job, now narrator.Moment, sheet labour.Sheet) *form {
	if s.Change == nil {
		return nil
	}
	f := &form{JobID: j.ID, Reasons: s.Reasons, Steps: sheet.Steps, From: r.FormValue("from"), To: r.FormValue("to"), What: r.FormValue("what"),
		Reason: r.FormValue("reason"), Why: r.FormValue("why"), Text: r.FormValue("text"), Technician: r.FormValue("technician"), Step: r.FormValue("step")}
	if len(f.Reasons) == 0 {
		for _, reason := range procedures.DefaultReasons() {
			f.Reasons = append(f.Reasons, string(reason))
		}
	}
	for _, t := range sheet.Technicians {
		f.Technicians = append(f.Technicians, t.Name)
	}
	end := j.End
	if j.Open() {
		end = max(now, j.Start)
	}
	f.First, f.Last = s.write.local(j.Start.Time()), s.write.local(end.Time().Add(time.Second-1))
	for _, field := range narrator.Fields() {
		f.Facts = append(f.Facts, fact{field, j.Fact(field.Key)})
	}
	return f
}

// correct takes what a technician's time was.
func (s *server) correct(w http.ResponseWriter, r *http.Request) {
	s.change(w, r, "#written", func(j *narrator.Job, now narrator.Moment) (narrator.Typed, string) {
		end := j.End
		if j.Open() {
			end = now
		}
		from, ok := s.clockTime(r.FormValue("from"), j.Start, end)
		to, good := s.clockTime(r.FormValue("to"), j.Start, end)
		if !ok || !good {
			return nil, s.Tongue.F("Give the time from when to when, with its day.")
		}
		in := narrator.Correct{Job: j.ID, Technician: r.FormValue("technician"), From: from, To: to, What: narrator.Activity(r.FormValue("what")),
			Reason: r.FormValue("reason"), Why: strings.TrimSpace(r.FormValue("why"))}
		if in.What == narrator.Working {
			in.Reason = ""
		}
		return in, ""
	})
}

// clockTime reads a time of a job, to the second; a second outside the job means its end.
func (s *server) clockTime(text string, start, end narrator.Moment) (narrator.Moment, bool) {
	for _, layout := range []string{localLayout, "2006-01-02T15:04"} {
		t, err := time.ParseInLocation(layout, text, s.write.zone)
		if err != nil {
			continue
		}
		m := narrator.MomentOf(t)
		switch {
		case m < start && start.Since(m) < narrator.Second:
			m = start
		case m > end && m.Since(end) < narrator.Second:
			m = end
		}
		return m, true
	}
	return 0, false
}

// remark takes what a technician writes about a job or a step.
func (s *server) remark(w http.ResponseWriter, r *http.Request) {
	s.change(w, r, "#written", func(j *narrator.Job, _ narrator.Moment) (narrator.Typed, string) {
		return narrator.Annotate{Job: j.ID, Technician: r.FormValue("technician"), Step: r.FormValue("step"), Text: strings.TrimSpace(r.FormValue("text"))}, ""
	})
}

// withdraw takes a correction or a remark back, by who wrote it.
func (s *server) withdraw(w http.ResponseWriter, r *http.Request) {
	s.change(w, r, "#written", func(j *narrator.Job, _ narrator.Moment) (narrator.Typed, string) {
		event, err := strconv.ParseInt(r.FormValue("event"), 10, 64)
		if err != nil {
			return nil, s.Tongue.F("Choose what to withdraw on the job's page.")
		}
		return narrator.Withdraw{Job: j.ID, Technician: r.FormValue("technician"), Seq: event}, ""
	})
}

// enter takes a fact of the job's record.
func (s *server) enter(w http.ResponseWriter, r *http.Request) {
	s.change(w, r, "#record", func(j *narrator.Job, _ narrator.Moment) (narrator.Typed, string) {
		return narrator.Enter{Job: j.ID, Field: r.FormValue("field"), Value: strings.TrimSpace(r.FormValue("value"))}, ""
	})
}

// longestForm is how much a form may hold, in bytes.
const longestForm = 64 << 10

// change writes what a form says, and shows the job again: with what is wrong, or where it was written.
func (s *server) change(w http.ResponseWriter, r *http.Request, place string, typed func(*narrator.Job, narrator.Moment) (narrator.Typed, string)) {
	r.Body = http.MaxBytesReader(w, r.Body, longestForm)
	if err := r.ParseForm(); err != nil {
		s.fail(w, r, http.StatusBadRequest, s.Tongue.F("The form could not be read."), s.Tongue.F("Write less, and send it again."))
		return
	}
	j, now, ok := s.job(w, r)
	if !ok {
		return
	}
	if s.Change == nil {
		s.fail(w, r, http.StatusForbidden, s.Tongue.F("Nothing can be written here."), s.Tongue.F("These pages only show the journal."))
		return
	}
	in, wrong := typed(j, now)
	if wrong == "" {
		if err := s.Change(r.Context(), in); err != nil {
			wrong = err.Error()
		}
	}
	if wrong != "" {
		s.showJob(w, r, http.StatusUnprocessableEntity, wrong)
		return
	}
	http.Redirect(w, r, "/jobs/"+j.ID+place, http.StatusSeeOther)
}

// correction is one with the drawing's times.
type correction struct {
	labour.Correction
	Start, End time.Time
	Heard      []spell
}

// remark is one with the number of its step, 0 for the whole job.
type remark struct {
	labour.Remark
	Number int
}

func corrected(start time.Time, sheet labour.Sheet) []correction {
	at := func(s labour.Seconds) time.Time { return start.Add(time.Duration(float64(s) * float64(time.Second))) }
	var all []correction
	for _, c := range sheet.Corrections {
		row := correction{Correction: c, Start: at(c.From), End: at(c.To)}
		for _, w := range c.Was {
			row.Heard = append(row.Heard, spell{From: at(w.From), To: at(w.To), Length: w.To - w.From, What: w.What, Reason: w.Reason})
		}
		all = append(all, row)
	}
	return all
}

func remarked(sheet labour.Sheet) []remark {
	var all []remark
	for _, r := range sheet.Remarks {
		row := remark{Remark: r}
		if i := slices.IndexFunc(sheet.Steps, func(s labour.Step) bool { return s.ID == r.Step }); r.Step != "" && i >= 0 {
			row.Number = sheet.Steps[i].Number
		}
		all = append(all, row)
	}
	return all
}

// who is the field for a technician's name, by its id.
type who struct {
	ID          string
	Technicians []string
	Chosen      string
}

// Who is the field for the technician who writes.
func (f form) Who(id string) who { return who{id, f.Technicians, f.Technician} }
