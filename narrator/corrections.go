package narrator

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// Correction is what a technician said afterwards of a stretch of a job's time, in writing. It lies over all that was heard of that time,
// whenever it was heard; of corrections that overlap the last counts. What it lies over stays in the log: see [Job.AsHeard].
type Correction struct {
	Seq        int64 // of its event
	From, To   Moment
	What       Activity // Working or Paused
	Reason     string   // of a pause
	Why        string   // why it is corrected
	Technician string   // who corrects
	Made       Moment
	Undone     bool // withdrawn by who made it
}

// Remark is what a technician wrote about a step, or about the whole job.
type Remark struct {
	Seq        int64  // of its event
	Step       string // id, "" for the whole job
	Text       string
	Technician string // who wrote it
	Made       Moment
	Undone     bool // withdrawn by who wrote it
}

// Corrections lists every correction in the order made, those withdrawn included.
func (j *Job) Corrections() []Correction {
	var all []Correction
	undone := j.undone()
	for _, e := range j.log {
		if e.Kind == Corrected {
			c := correction(e)
			c.Undone = undone[e.Act]
			all = append(all, c)
		}
	}
	return all
}

func correction(e Event) Correction {
	c := Correction{Seq: e.Seq, From: e.From, To: e.At, What: Paused, Reason: e.Reason, Why: e.Why, Technician: e.Technician, Made: e.Noted}
	if e.Worked {
		c.What = Working
	}
	return c
}

func (c Correction) spell() Spell {
	return Spell{Seq: c.Seq, What: c.What, Reason: c.Reason, From: c.From, To: c.To}
}

// Remarks lists every remark in the order written, those withdrawn included.
func (j *Job) Remarks() []Remark {
	var all []Remark
	undone := j.undone()
	for _, e := range j.log {
		if e.Kind == Remarked {
			all = append(all, Remark{Seq: e.Seq, Step: e.Step, Text: e.Value, Technician: e.Technician, Made: e.Noted, Undone: undone[e.Act]})
		}
	}
	return all
}

// Check implements [Typed]: people correct the times at which they were on the job themselves, never the future. A job that was opened
// without a name takes any.
func (in Correct) Check(b *Bay) error {
	j, err := b.signed(in.Job, in.Technician)
	if err != nil {
		return err
	}
	if err := in.checkWhat(b.Settings.Reasons); err != nil {
		return err
	}
	if err := checkText("why it is corrected", in.Why); err != nil {
		return err
	}
	end, until := j.End, "it ended"
	if j.Open() {
		end, until = later(in.At, j.Start), "its time is known up to"
	}
	switch {
	case in.From >= in.To:
		return fmt.Errorf("from %s to %s is no time; the end comes after the start", day(in.From), day(in.To))
	case in.From < j.Start:
		return fmt.Errorf("job %s began %s; %s is before that", j.ID, day(j.Start), day(in.From))
	case in.To > end:
		return fmt.Errorf("job %s: %s %s; %s is after that", j.ID, until, day(end), day(in.To))
	case !j.presentThrough(in.Technician, in.From, in.To):
		return fmt.Errorf("%s was not on job %s all the time from %s to %s; whoever was on it corrects that", in.Technician, j.ID, day(in.From), day(in.To))
	}
	return nil
}

func (in Correct) checkWhat(reasons []string) error {
	reasons = append(slices.Clone(reasons), reasonHelp, reasonOtherJob, reasonNight, reasonRoadTest, reasonHandover)
	slices.Sort(reasons)
	reasons = slices.Compact(reasons)
	switch {
	case in.What != Working && in.What != Paused:
		return fmt.Errorf("time was either %q or %q, not %q", Working, Paused, in.What)
	case in.What == Working && in.Reason != "":
		return fmt.Errorf("time that was worked has no reason; leave %q out", in.Reason)
	case in.What == Paused && !slices.Contains(reasons, in.Reason):
		return fmt.Errorf("%q is no reason for a pause; use one of: %s", in.Reason, strings.Join(reasons, ", "))
	}
	return nil
}

// Check implements [Typed].
func (in Annotate) Check(b *Bay) error {
	j, err := b.signed(in.Job, in.Technician)
	if err != nil {
		return err
	}
	if _, ok := j.Procedure.Index(in.Step); in.Step != "" && !ok {
		return fmt.Errorf("job %s has no step %q", j.ID, in.Step)
	}
	return checkText("the remark", in.Text)
}

// Check implements [Typed]: only who wrote a thing withdraws it, and only once.
func (in Withdraw) Check(b *Bay) error {
	j, err := b.signed(in.Job, in.Technician)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(j.log, func(e Event) bool { return e.Seq == in.Seq && (e.Kind == Corrected || e.Kind == Remarked) })
	switch {
	case i < 0:
		return fmt.Errorf("job %s: event %d is neither a correction nor a remark", j.ID, in.Seq)
	case j.log[i].Technician != in.Technician:
		return fmt.Errorf("job %s: %s wrote that, and alone withdraws it", j.ID, j.log[i].Technician)
	case j.undone()[j.log[i].Act]:
		return fmt.Errorf("job %s: that is withdrawn already", j.ID)
	}
	return nil
}

// Check implements [Typed].
func (in Enter) Check(b *Bay) error {
	if _, err := b.own(in.Job); err != nil {
		return err
	}
	return CheckFact(in.Field, in.Value)
}

// About implements [Typed].
func (in Enter) About() string { return in.Job }

// About implements [Typed].
func (in Correct) About() string { return in.Job }

// About implements [Typed].
func (in Annotate) About() string { return in.Job }

// About implements [Typed].
func (in Withdraw) About() string { return in.Job }

// own finds a job that is this bay's.
func (b *Bay) own(job string) (*Job, error) {
	j := b.Jobs[job]
	switch {
	case j == nil:
		return nil, fmt.Errorf("there is no job %q", job)
	case j.gone && j.to == "":
		return nil, fmt.Errorf("job %s is handed over; write it at the bay that takes it on", job)
	case j.gone:
		return nil, fmt.Errorf("job %s is with bay %s; write it there", job, j.to)
	}
	return j, nil
}

// signed finds the job that somebody writes about, who must have been on it.
func (b *Bay) signed(job, technician string) (*Job, error) {
	j, err := b.own(job)
	switch {
	case err != nil:
		return nil, err
	case strings.TrimSpace(technician) == "":
		return nil, fmt.Errorf("job %s: who writes this? name the technician", job)
	}
	var crew []string
	for _, s := range j.Crew {
		if !slices.Contains(crew, s.Technician) {
			crew = append(crew, s.Technician)
		}
	}
	if len(crew) > 0 && !slices.Contains(crew, technician) {
		return nil, fmt.Errorf("job %s: %s was not on it; that is for %s to write", job, technician, strings.Join(crew, ", "))
	}
	return j, nil
}

// presentThrough reports whether somebody was on the job through a whole stretch of it. A job without names had anybody on it.
func (j *Job) presentThrough(technician string, from, to Moment) bool {
	shifts := slices.DeleteFunc(slices.Clone(j.Crew), func(s Shift) bool { return s.Technician != technician })
	slices.SortFunc(shifts, func(a, b Shift) int { return cmp.Compare(a.From, b.From) })
	for _, s := range shifts {
		if s.From <= from && (s.To == 0 || s.To > from) {
			if s.To == 0 || s.To >= to {
				return true
			}
			from = s.To
		}
	}
	return len(j.Crew) == 0
}

func checkText(what, text string) error {
	switch {
	case strings.TrimSpace(text) == "":
		return fmt.Errorf("%s is missing; write it down", what)
	case !utf8.ValidString(text):
		return fmt.Errorf("%s: the text is not UTF-8; save it as UTF-8", what)
	case len(text) > longestFact:
		return fmt.Errorf("%s: %d bytes; write at most %d", what, len(text), longestFact)
	}
	return nil
}

// day is a moment for whoever typed it, in the local zone.
func day(m Moment) string { return m.Time().Local().Format("2006-01-02 15:04:05") }

// write puts down what was typed about a job, unless something is wrong with it. It is an act of its own, of a number that the job has
// not had yet; undo by word passes over it.
func (d *decision) write(in Typed) {
	if in.Check(d.bay) != nil {
		return
	}
	for _, e := range d.bay.Jobs[in.About()].log {
		d.acts = max(d.acts, e.Act)
	}
	switch in := in.(type) {
	case Enter:
		d.record(in.Job, in.At, Entered, Detail{Field: in.Field, Value: in.Value})
	case Correct:
		d.record(in.Job, in.To, Corrected, Detail{From: in.From, Worked: in.What == Working, Reason: in.Reason, Why: in.Why, Technician: in.Technician})
	case Annotate:
		d.record(in.Job, in.At, Remarked, Detail{Step: in.Step, Value: in.Text, Technician: in.Technician})
	case Withdraw:
		for _, e := range d.bay.Jobs[in.Job].log {
			if e.Seq == in.Seq {
				d.record(in.Job, in.At, Undone, Detail{Ref: e.Act, Technician: in.Technician})
				return
			}
		}
	}
}
