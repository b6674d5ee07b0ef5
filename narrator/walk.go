package narrator

import (
	"slices"

	"stepcaller/procedures"
)

// Turn is one fastener in one round of a tightening: what a walk calls, and what one word says is done.
type Turn struct {
	Entry  int // index among the torques of its step
	Stage  int // from 1
	Number int // of the fastener, from 1
}

// Walk is the going round of a step's torques, fastener by fastener. What is done is in the job; only that somebody is going round is
// here. The zero Walk goes round nothing.
type Walk struct {
	Job   string
	Step  int  // index
	Entry int  // index of the tightening being gone round
	All   bool // those of a single round are gone round as well where their order matters
}

// progress is how far a tightening of a step has come.
type progress struct {
	done    map[Turn]bool
	renewed bool // the new ones are in
	once    bool // they were, in this visit to the step or in one before
}

// place names a tightening: same-named fasteners of one step are one to it.
type place struct{ step, fastener string }

func (j *Job) progressOf(e Event) *progress {
	at := place{e.Step, e.Fastener}
	if j.progress == nil {
		j.progress = map[place]*progress{}
	}
	if j.progress[at] == nil {
		j.progress[at] = &progress{done: map[Turn]bool{}}
	}
	return j.progress[at]
}

func (j *Job) tightened(e Event) { j.progressOf(e).done[Turn{Stage: e.Stage, Number: e.Number}] = true }

func (j *Job) renewed(e Event) {
	at := j.progressOf(e)
	at.renewed, at.once = e.On, at.once || e.On
}

// beginAnew forgets what was tightened in a step that is come to again, but for what was left in the middle.
func (j *Job) beginAnew(step int) {
	s := &j.Procedure.Steps[step]
	for _, t := range s.Torque {
		at := j.progress[place{s.ID, t.Fastener}]
		middle := false
		for i := range s.Torque {
			_, more := j.nextTurn(step, i)
			middle = middle || more && s.Torque[i].Fastener == t.Fastener
		}
		if at != nil && !middle {
			*at = progress{done: map[Turn]bool{}, once: at.once}
		}
	}
}

// nextTurn is the first turn of a tightening that is not done; more is false once all are.
func (j *Job) nextTurn(step, entry int) (next Turn, more bool) {
	s := &j.Procedure.Steps[step]
	t := &s.Torque[entry]
	at := j.progress[place{s.ID, t.Fastener}]
	before := s.RoundsBefore(entry)
	for stage := range t.Rounds() {
		for _, number := range inOrder(t) {
			if at == nil || !at.done[Turn{Stage: before + stage + 1, Number: number}] {
				return Turn{entry, stage + 1, number}, true
			}
		}
	}
	return Turn{}, false
}

func inOrder(t *procedures.Tightening) []int {
	if t.Order == "" {
		return procedures.AsListed.Sequence(t.Count)
	}
	return t.Order.Sequence(t.Count)
}

// Begun returns the turn at which the current step's tightening stands that was left in the middle; ok is false where none was.
func (j *Job) Begun() (next Turn, ok bool) { return j.begunIn(j.Step) }

func (j *Job) begunIn(step int) (next Turn, ok bool) {
	s := &j.Procedure.Steps[step]
	for i, t := range s.Torque {
		at := j.progress[place{s.ID, t.Fastener}]
		if at == nil || len(at.done) == 0 {
			continue
		}
		if next, more := j.nextTurn(step, i); more {
			return next, true
		}
	}
	return Turn{}, false
}

// notDone lists the numbers of the fasteners whose turn of a stage is still to come.
func (j *Job) notDone(step int, at Turn) []int {
	s := &j.Procedure.Steps[step]
	t := &s.Torque[at.Entry]
	progress := j.progress[place{s.ID, t.Fastener}]
	var numbers []int
	for _, n := range inOrder(t) {
		if progress == nil || !progress.done[Turn{Stage: s.RoundsBefore(at.Entry) + at.Stage, Number: n}] {
			numbers = append(numbers, n)
		}
	}
	slices.Sort(numbers)
	return numbers
}

// wantsNew reports whether new fasteners are still to be confirmed for a tightening.
func (j *Job) wantsNew(step int, t *procedures.Tightening) bool {
	at := j.progress[place{j.Procedure.Steps[step].ID, t.Fastener}]
	return t.New && (at == nil || !at.renewed)
}

// Turn returns the turn that the next "next" says is done; ok is false while nobody goes round.
func (b *Bay) Turn() (next Turn, ok bool) { return b.Dialogue.Walk.turn(b.Job()) }

func (w Walk) turn(j *Job) (next Turn, ok bool) {
	if j == nil || w.Job != j.ID || w.Step != j.Step || !j.Open() || j.Dictation != nil {
		return Turn{}, false
	}
	return j.nextTurn(w.Step, w.Entry)
}

// leavesWalk are the words that end going round: the next "next" is the next step again.
func leavesWalk(c procedures.Command) bool {
	switch c {
	case procedures.Stop, procedures.PreviousStep, procedures.HoldJob, procedures.LeaveTonight, procedures.FinishJob, procedures.OtherJob:
		return true
	}
	return false
}

// leaveWalk ends going round, and says where to one who stops.
func (d *decision) leaveWalk(tell bool) {
	_, on := d.next.Walk.turn(d.job())
	d.next.Walk = Walk{}
	if on && tell {
		d.say(d.words.walkLeft(d.job()))
	}
}

// walkOn takes up a tightening that was left in the middle, for somebody who comes back to it, and reports whether there is one. The
// fastener is called again: what was on the wrench when the work stopped is not taken as done.
func (d *decision) walkOn() bool {
	j := d.job()
	if j.Held() != nil || j.Wants() != "" || j.unreached() || j.Dictation != nil {
		return false
	}
	at, ok := j.Begun()
	if !ok {
		return false
	}
	d.next.Walk = j.walkAt(at)
	d.say(d.words.goingRound(j, at))
	d.callTurn(at, true)
	return true
}

// walkAt is the going round of the current step's torques from a turn on.
func (j *Job) walkAt(at Turn) Walk {
	t := &j.Procedure.Steps[j.Step].Torque[at.Entry]
	return Walk{Job: j.ID, Step: j.Step, Entry: at.Entry, All: len(t.Rounds()) == 1}
}

// torque reads the torques of the step, takes up one that was left in the middle, or repeats what the walk called.
func (d *decision) torque(h Heard) {
	j := d.job()
	step := &j.Procedure.Steps[j.Step]
	if len(step.Torque) == 0 && len(step.Loosening) == 0 {
		d.reply(replyNoTorque)
		return
	}
	if at, ok := d.next.Walk.turn(j); ok {
		d.callTurn(at, true)
		return
	}
	if at, ok := j.Begun(); ok {
		d.called(h, &step.Torque[at.Entry])
		d.next.Walk = j.walkAt(at)
		d.callTurn(at, true)
		return
	}
	for _, l := range step.Loosening {
		d.say(d.words.loosening(l))
	}
	d.readTorques(h, 0)
}

// readTorques reads the torques of the step from one on, as far as the first that has several rounds: that one is gone round at once.
func (d *decision) readTorques(h Heard, from int) {
	j := d.job()
	torques := j.Procedure.Steps[j.Step].Torque
	for i := from; i < len(torques); i++ {
		t := &torques[i]
		d.called(h, t)
		d.say(d.words.torque(*asCalled(&j.Procedure.Steps[j.Step], i)))
		if _, more := j.nextTurn(j.Step, i); more && len(t.Rounds()) > 1 {
			d.goRound(h, i)
			return
		}
	}
	d.goRound(h, len(torques))
}

// called notes that a torque was read out for use, once a visit.
func (d *decision) called(h Heard, t *procedures.Tightening) {
	if j := d.job(); !called(j, j.Step, *t) {
		d.record(j.ID, h.From, Called, Detail{Step: j.Procedure.Steps[j.Step].ID, Fastener: t.Fastener, Value: t.Value.String(),
			NewtonMetres: t.Value.NewtonMetres()})
		d.changed(h)
	}
}

// goRound follows the reading of torques as far as entry to: new ones are asked for, then the walk begins at to, or is offered where
// an order matters.
func (d *decision) goRound(h Heard, to int) {
	j := d.job()
	torques := j.Procedure.Steps[j.Step].Torque
	for i := range torques[:min(to+1, len(torques))] {
		if t := &torques[i]; j.wantsNew(j.Step, t) {
			d.ask(Question{Kind: AskRenewed, Word: h, Step: j.Step, Slot: i, Patience: lookTime, Walk: to}, d.words.newIn(t))
			return
		}
	}
	if to < len(torques) {
		d.next.Walk = Walk{Job: j.ID, Step: j.Step, Entry: to}
		d.callNext(h, to)
		return
	}
	for i := range torques {
		if _, more := j.nextTurn(j.Step, i); more && ordered(&torques[i]) {
			d.ask(Question{Kind: AskWalk, Word: h, Step: j.Step, Slot: i}, d.words.F(replyBoltByBolt))
			return
		}
	}
}

func ordered(t *procedures.Tightening) bool { return t.Count > 1 && t.Order != "" }

// newIn takes whether the new fasteners are in.
func (d *decision) newIn(q Question, h Heard, yes bool) {
	j := d.job()
	if !d.stillThere(q) {
		return
	}
	step := &j.Procedure.Steps[q.Step]
	d.record(j.ID, h.From, Renewed, Detail{Step: step.ID, Fastener: step.Torque[q.Slot].Fastener, On: yes})
	d.changed(h)
	if !yes {
		d.reply(replyNewFirst)
		return
	}
	d.goRound(q.Word, q.Walk)
}

// stillThere reports whether the step that a question was about is still the current one.
func (d *decision) stillThere(q Question) bool {
	j := d.job()
	return j != nil && j.ID == q.Job && j.Open() && j.Step == q.Step
}

// walkAll begins to go round the torques of the step whose order matters.
func (d *decision) walkAll(q Question, yes bool) {
	if !yes || !d.stillThere(q) {
		return
	}
	d.next.Walk = Walk{Job: q.Job, Step: q.Step, Entry: q.Slot, All: true}
	d.callNext(q.Word, q.Slot)
}

// tighten takes the word for it that the turn called last is done, and calls the next.
func (d *decision) tighten(h Heard, at Turn) {
	j := d.job()
	step := &j.Procedure.Steps[j.Step]
	t := &step.Torque[at.Entry]
	stage := t.Rounds()[at.Stage-1]
	done := Detail{Step: step.ID, Fastener: t.Fastener, Number: at.Number, Stage: step.RoundsBefore(at.Entry) + at.Stage, Value: stage.Name}
	if stage.Value != (procedures.Torque{}) {
		done.Value, done.NewtonMetres = stage.Value.String(), stage.Value.NewtonMetres()
		if w, _, ok := procedures.PickWrench(d.bay.Settings.Wrenches, stage.Value); ok {
			done.Wrench = w.Name
		}
	}
	d.record(j.ID, h.From, Tightened, done)
	d.changed(h)
	d.callNext(h, at.Entry)
}

// callNext calls the next turn of a tightening, or of the next one that is gone round, or says that all is done.
func (d *decision) callNext(h Heard, entry int) {
	j := d.job()
	torques := j.Procedure.Steps[j.Step].Torque
	walk := d.next.Walk
	for ; entry < len(torques); entry++ {
		at, more := j.nextTurn(j.Step, entry)
		if more && (entry == walk.Entry || walk.All && ordered(&torques[entry])) {
			if entry != walk.Entry {
				d.say(d.words.nowThe(asCalled(&j.Procedure.Steps[j.Step], entry)))
			}
			d.next.Walk.Entry = entry
			d.callTurn(at, entry != walk.Entry || h.Word != string(procedures.Next))
			return
		}
		if entry == walk.Entry && !more {
			d.say(d.words.allDone(&torques[entry]))
		}
		if !walk.All && entry+1 < len(torques) {
			d.next.Walk = Walk{}
			d.readTorques(h, entry+1)
			if _, on := d.next.Walk.turn(j); on || d.next.Question.Kind != NoQuestion {
				return
			}
			break
		}
	}
	d.next.Walk = Walk{}
	d.reply(replyWrenchBack)
}

// callTurn says which fastener is next, how far it is turned where that is new, and the wrench for it.
func (d *decision) callTurn(at Turn, whole bool) {
	j := d.job()
	t := &j.Procedure.Steps[j.Step].Torque[at.Entry]
	if whole || at.Number == inOrder(t)[0] {
		d.say(d.words.stage(t, at))
	}
	if at.Stage == 1 && at.Number == inOrder(t)[0] {
		d.say(d.words.numbering(t))
	}
	d.say(d.words.turn(t, at))
}

// wrenchInHand reports whether a torque of the current step was asked for and no walk over its torques came to its end, where the wrench
// is put back; and the next step, at an index, has no torque.
func (j *Job) wrenchInHand(next int) bool {
	steps := j.Procedure.Steps
	if next < len(steps) && len(steps[next].Torque) > 0 {
		return false
	}
	used := false
	for i, t := range steps[j.Step].Torque {
		if _, more := j.nextTurn(j.Step, i); !more {
			return false
		}
		used = used || called(j, j.Step, t)
	}
	return used
}
