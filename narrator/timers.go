package narrator

import (
	"slices"
	"strings"

	"stepcaller/procedures"
)

// Timer is a wait that was started. A timer that is started again takes the place of the one before.
type Timer struct {
	Name    string // as the procedure names it, or the phrase that a caution waits to hear
	Caution string // the caution that it belongs to, as read aloud; "" for a timer of the procedure
	Step    string // id of the step that started it
	From    Moment
	Length  Span
	Rang    bool // its end was announced
	Seq     int64

	arrivals int // how many came before it
}

// End is when the timer runs out.
func (t Timer) End() Moment { return t.From.Add(t.Length) }

func (j *Job) timed(e Event) {
	j.Timers = slices.DeleteFunc(j.Timers, func(t Timer) bool { return t.Name == e.Timer && t.Caution == e.Caution })
	j.Timers = append(j.Timers, Timer{Name: e.Timer, Caution: e.Caution, Step: e.Step, From: e.At, Length: e.Length, Seq: e.Seq,
		arrivals: len(j.Arrivals)})
}

func (j *Job) rang(e Event) {
	for i := range j.Timers {
		if t := &j.Timers[i]; t.Seq == e.Ref {
			t.Rang = true
		}
	}
}

// timer is the timer of the procedure with this name that was started last, nil for none.
func (j *Job) timer(name string) *Timer {
	for i := range j.Timers {
		if t := &j.Timers[i]; t.Name == name && t.Caution == "" {
			return t
		}
	}
	return nil
}

// running reports whether a timer was started and has not run out by a moment.
func (j *Job) running(name string, at Moment) bool {
	t := j.timer(name)
	return t != nil && t.End() > at
}

// runningTimers names the timers of the procedure that have not run out by a moment, with what they have left.
func (w wording) runningTimers(j *Job, at Moment) []string {
	var names []string
	for _, t := range j.Timers {
		if t.Caution == "" && t.End() > at {
			names = append(names, t.Name+", "+w.length(t.End().Since(at)))
		}
	}
	return names
}

// busyUntil is when the last timer ends for which the current step waits.
func (j *Job) busyUntil() Moment {
	step := &j.Procedure.Steps[j.Step]
	var end Moment
	for _, t := range j.Timers {
		if t.Step == step.ID || t.Caution == "" && slices.Contains(step.Await, t.Name) {
			end = later(end, t.End())
		}
	}
	return end
}

// startTimers starts the timers of a step that start at this moment of it. What is only waited for is not started again while
// it runs.
func (d *decision) startTimers(step int, from procedures.TimerStart, at Moment) {
	j := d.job()
	for _, t := range j.Procedure.Steps[step].Timers {
		if t.From == from && (from == procedures.AtEnd || !j.running(t.Name, at) && !j.startedHere(t.Name)) {
			d.startTimer(step, t, at)
		}
	}
}

// startedHere reports whether a timer was started in this visit to the step at another bay: a job that is taken over reads its step again.
func (j *Job) startedHere(name string) bool {
	t := j.timer(name)
	return t != nil && j.boundary != 0 && t.arrivals == len(j.Arrivals)
}

func (d *decision) startTimer(step int, t procedures.Timer, at Moment) {
	j := d.job()
	d.record(j.ID, at, Timed, Detail{Step: j.Procedure.Steps[step].ID, Timer: t.Name, Length: Minutes(t.Minutes)})
}

// startByWord starts the step's timer that waits for the word, or its first timer over again. On a step without timers it starts the one
// that the step waits for and that nobody has started.
func (d *decision) startByWord(h Heard) {
	j := d.job()
	at := j.Step
	if len(j.Procedure.Steps[at].Timers) == 0 {
		at = j.forgottenTimer()
	}
	if at < 0 {
		d.reply(replyNoTimer)
		return
	}
	timers := j.Procedure.Steps[at].Timers
	start := timers[0]
	for _, t := range timers {
		if t.From == procedures.ByWord && !j.running(t.Name, h.From) {
			start = t
			break
		}
	}
	d.startTimer(at, start, h.From)
	d.changed(h)
	d.reply("%s: %s from now.", capital(start.Name), d.words.length(Minutes(start.Minutes)))
}

// timersDue is when the next timer has to be announced, zero for never. Nothing is announced into a spoken note or to
// somebody on a road test.
func (b *Bay) timersDue() Moment {
	if b.Dialogue.Recording || b.Job() != nil && b.Job().driving() {
		return 0
	}
	var due Moment
	for _, j := range b.Jobs {
		if !j.Here() {
			continue
		}
		for _, t := range j.Timers {
			if !t.Rang && (due == 0 || t.End() < due) {
				due = t.End()
			}
		}
	}
	return due
}

// ring announces every timer that has run out.
func (d *decision) ring() {
	if d.next.Recording || d.job() != nil && d.job().driving() {
		return
	}
	act := d.act
	d.act = 0
	for _, id := range sortedJobs(d.bay.Jobs) {
		j := d.look(id)
		if !j.Here() {
			continue
		}
		for _, t := range slices.Clone(j.Timers) {
			if !t.Rang && t.End() <= d.now {
				d.record(id, t.End(), Rang, Detail{Timer: t.Name, Ref: t.Seq})
				d.say(d.words.rang(j, t, id == d.active))
			}
		}
	}
	d.act = act
}

const (
	replyNoTimer  = "No timer on this step."
	replyNoTimers = "No timer is running."
)

func (w wording) rang(j *Job, t Timer, here bool) string {
	text := w.F("%s: time is up.", capital(t.Name))
	if t.Caution != "" {
		text = capital(w.F("%s are over. Say: %s.", w.length(t.Length), t.Name))
	}
	for i := range j.Procedure.Steps {
		for _, own := range j.Procedure.Steps[i].Timers {
			if t.Caution == "" && own.Name == t.Name && own.Say != "" {
				text = full(own.Say)
			}
		}
	}
	if !here {
		text = bare(j.Procedure.Title) + ": " + text
	}
	return text
}

// howLong tells how long each timer still runs, of this job and of the others.
func (d *decision) howLong(at Moment) string {
	var parts []string
	for _, id := range sortedJobs(d.bay.Jobs) {
		j := d.look(id)
		if !j.Here() {
			continue
		}
		for _, t := range j.Timers {
			if t.End() <= at {
				continue
			}
			part := t.Name + ", " + d.words.length(t.End().Since(at))
			if id != d.active {
				part = bare(j.Procedure.Title) + ": " + part
			}
			parts = append(parts, part)
		}
	}
	if len(parts) == 0 {
		return d.words.F(replyNoTimers)
	}
	return capital(strings.Join(parts, "; ")) + "."
}

// await names what has not run out yet and should have before the current step.
func (w wording) await(j *Job, at Moment) []string {
	var texts []string
	for _, name := range j.Procedure.Steps[j.Step].Await {
		switch t := j.timer(name); {
		case t != nil && t.End() > at:
			texts = append(texts, w.F("Wait: %s, %s left.", name, w.length(t.End().Since(at))))
		case t == nil && j.begun(j.timerStep(name)):
			texts = append(texts, w.F("Wait: %s is not started.", name))
		}
	}
	return texts
}

// forgottenTimer is the index of the step whose timer the current step waits for though nobody has started it, -1 for none.
func (j *Job) forgottenTimer() int {
	for _, name := range j.Procedure.Steps[j.Step].Await {
		if at := j.timerStep(name); at >= 0 && j.timer(name) == nil && j.begun(at) {
			return at
		}
	}
	return -1
}

// timerStep is the index of the step that a timer belongs to, -1 for none.
func (j *Job) timerStep(name string) int {
	for i := range j.Procedure.Steps {
		if slices.ContainsFunc(j.Procedure.Steps[i].Timers, func(t procedures.Timer) bool { return t.Name == name }) {
			return i
		}
	}
	return -1
}
