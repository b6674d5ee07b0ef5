package narrator

import (
	"fmt"
	"slices"
	"strings"

	"stepcaller/procedures"
)

// accounted is an open item that somebody has spoken for.
type accounted struct {
	item, state string
	reason      string // why it stays so; "" when it was put right by hand
	arrivals    int    // how many came before it
}

// askFinish closes a job in order: every open item is spoken for, then the tools are counted, then a yes is wanted.
func (d *decision) askFinish(h Heard) {
	j := d.job()
	if items := j.LeftAfter(); len(items) > 0 {
		it := items[0]
		text := d.words.item(it) + " " + d.words.putRightNow(it.Kind)
		if n := j.unfinished(); n > 0 && d.bay.Dialogue.Question.Kind != AskPutRight {
			// Before a string of answers: perhaps the word was not meant.
			text = d.words.N(n, "%d step not done.", "%d steps not done.") + " " + text
		}
		d.ask(Question{Kind: AskPutRight, Word: h, Item: it.Name, State: it.Kind.State, Patience: lookTime}, text)
		return
	}
	if !j.toolsCounted() {
		d.ask(Question{Kind: AskTools, Word: h, Patience: lookTime}, d.words.toolsOut(j))
		return
	}
	d.ask(Question{Kind: AskFinish, Word: h}, d.words.finish(j, h.From))
}

// putRight takes whether an item that stands in the way of finishing is put right by now.
func (d *decision) putRight(q Question, h Heard, yes bool) {
	j := d.look(q.Job)
	if j == nil || !j.Open() || j.ID != d.active {
		return
	}
	if !yes {
		q.Kind, q.Patience = AskWhyOpen, 0
		d.ask(q, d.words.F(replyWhyOpen))
		return
	}
	d.record(j.ID, h.From, PutRight, Detail{Item: q.Item, State: q.State})
	d.askFinish(q.Word)
}

// keepOpen takes the reason why an item cannot be put right now: the job stays open and stands still for it.
func (d *decision) keepOpen(q Question, h Heard) {
	j := d.look(q.Job)
	if j == nil || !j.Open() {
		return
	}
	d.record(j.ID, h.From, PutRight, Detail{Item: q.Item, State: q.State, Reason: h.Word})
	if j.Held() == nil {
		d.record(j.ID, q.Word.From, Held, Detail{Reason: h.Word})
	}
	said := d.words.F("Not finished.")
	for _, it := range d.look(q.Job).LeftAfter() {
		if it.Is(q.Item, q.State) {
			said += " " + d.words.item(it)
		}
	}
	d.say(said)
	d.say(d.words.held(h.Word))
}

// SpokenFor is the reason that was given for leaving an item as it is, "" when none was.
func (j *Job) SpokenFor(item procedures.Item) string {
	for i := len(j.accounted) - 1; i >= 0; i-- {
		if a := j.accounted[i]; item.Is(a.item, a.state) {
			return a.reason
		}
	}
	return ""
}

// putRightByHand takes out of a ledger what was put right by hand since the step that left it so was last begun.
func (j *Job) putRightByHand(l *procedures.Ledger) {
	for _, a := range j.accounted {
		item, there := l.Find(a.item, a.state)
		if !there || a.reason != "" {
			continue
		}
		begun := slices.ContainsFunc(j.Arrivals[min(a.arrivals, len(j.Arrivals)):], func(v Arrival) bool { return v.Step == item.Step })
		if !begun {
			l.PutRight(item)
		}
	}
}

// levelsMissed names the fluids whose level is to be rechecked and was not since they were last filled.
func (j *Job) levelsMissed() []string {
	var names []string
	for i := range j.Procedure.Steps {
		for _, fluid := range j.Procedure.Steps[i].Level {
			if j.Gate(i) == GateOpen && !slices.Contains(names, fluid) && !j.levelled(fluid) {
				names = append(names, fluid)
			}
		}
	}
	return names
}

func (j *Job) levelled(fluid string) bool {
	level := false
	for _, a := range j.Arrivals {
		step := &j.Procedure.Steps[a.Step]
		if a.Shut {
			continue
		}
		if slices.ContainsFunc(step.Fill, func(f string) bool { return strings.EqualFold(f, fluid) }) {
			level = false
		}
		if slices.Contains(step.Level, fluid) {
			level = true
		}
	}
	return level
}

// occasion is when the last road test, or the engine's last start, was begun.
func (j *Job) occasion(when procedures.Again) (at Moment, happened bool) {
	for _, a := range j.Arrivals {
		step := &j.Procedure.Steps[a.Step]
		if !a.Shut && (step.Drives || when == procedures.AfterHeat && step.Starts) {
			at, happened = a.At, true
		}
	}
	return at, happened
}

const (
	replyWhyOpen       = "Why does it stay so?"
	replyTorqueUnasked = "Torque not asked for on step %s."
	replyTorqueHalf    = "Torque not complete: %s."
	replyNewUnsaid     = "New ones not confirmed: %s."
	replyTorqueAgain   = "Torque again: %s."
	replyNoReading     = "No reading: %s."
	replyNoLevel       = "Level not rechecked: %s."
	replyStillRunning  = "Still running: %s."
)

// finish names what may have been forgotten, and asks.
func (w wording) finish(j *Job, now Moment) string {
	var parts []string
	add := func(text string, names []string, between string) {
		if len(names) > 0 {
			parts = append(parts, w.F(text, strings.Join(names, between)))
		}
	}
	if n := j.unfinished(); n > 0 {
		parts = append(parts, w.N(n, "%d step not done.", "%d steps not done."))
	}
	add(replyTorqueUnasked, j.missedTorques(), ", ")
	add(replyTorqueHalf, w.halfTightened(j), "; ")
	add(replyNewUnsaid, w.newMissed(j), "; ")
	add(replyTorqueAgain, w.againDue(j), "; ")
	add(replyNoReading, w.missedReadings(j), "; ")
	add(replyNoLevel, j.levelsMissed(), "; ")
	add(replyStillRunning, w.runningTimers(j, now), "; ")
	if text := w.openFindings(j); text != "" {
		parts = append(parts, text)
	}
	if unsure := Sum(j.Timeline(now)).Unsure; unsure > 0 {
		parts = append(parts, w.unaccounted(unsure))
	}
	return strings.Join(append(parts, w.F(replyFinishIt)), " ")
}

// missedTorques lists the numbers of begun steps with a torque that nobody called for.
func (j *Job) missedTorques() []string {
	var steps []string
	for i := range j.Procedure.Steps {
		if j.begun(i) && len(missed(j, i)) > 0 {
			steps = append(steps, fmt.Sprint(i+1))
		}
	}
	return steps
}

// onStep names something with the step that it belongs to.
func (w wording) onStep(name string, index int) string { return w.F("%s, step %d", name, index+1) }

// halfTightened names the fasteners of begun steps that a walk left in the middle, and those of several rounds that were read out and
// never gone round.
func (w wording) halfTightened(j *Job) []string {
	var names []string
	for i := range j.Procedure.Steps {
		if !j.begun(i) {
			continue
		}
		s := &j.Procedure.Steps[i]
		for entry, t := range s.Torque {
			at := j.progress[place{s.ID, t.Fastener}]
			walked := at != nil && len(at.done) > 0
			_, more := j.nextTurn(i, entry)
			if more && (walked || len(t.Rounds()) > 1 && called(j, i, t)) {
				names = append(names, w.onStep(procedures.SpokenFastener(t.Fastener), i))
			}
		}
	}
	return names
}

// newMissed names the fasteners of begun steps that are replaced every time and were not confirmed as new.
func (w wording) newMissed(j *Job) []string {
	var names []string
	for i := range j.Procedure.Steps {
		s := &j.Procedure.Steps[i]
		for _, t := range s.Torque {
			at := j.progress[place{s.ID, t.Fastener}]
			if t.New && j.begun(i) && (at == nil || !at.once) {
				names = append(names, w.onStep(procedures.SpokenFastener(t.Fastener), i))
			}
		}
	}
	return names
}

// againDue names the fasteners that want their torque once more: after the road test or the first heat, since which nobody
// asked for it.
func (w wording) againDue(j *Job) []string {
	var names []string
	calls := j.Calls()
	for i := range j.Procedure.Steps {
		if !j.begun(i) {
			continue
		}
		for _, t := range j.Procedure.Steps[i].Torque {
			for _, when := range t.Again {
				after, happened := j.occasion(when)
				again := happened && slices.ContainsFunc(calls, func(c Call) bool { return !c.Undone && c.Fastener == t.Fastener && c.At > after })
				if text := procedures.SpokenFastener(t.Fastener) + ", " + w.F(againText(when)); !again && !slices.Contains(names, text) {
					names = append(names, text)
				}
			}
		}
	}
	return names
}

func againText(when procedures.Again) string {
	if when == procedures.AfterHeat {
		return "after heat"
	}
	return "after road test"
}
