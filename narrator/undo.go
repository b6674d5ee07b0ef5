package narrator

import "slices"

// undoable kinds change the job; what was merely said or asked cannot be taken back.
func undoable(k Kind) bool {
	switch k {
	case Arrived, Held, Resumed, Away, Settled, Because, Called, Recorded, Joined, Left, Finished, Switched,
		Decided, Answered, Timed, Measured, Found, Asked, Ruled, PutRight, Counted, Dictated,
		Tightened, Renewed:
		return true
	}
	return false
}

// undo takes back the latest act that changed the job, and says which.
func (d *decision) undo() {
	j := d.job()
	if j == nil {
		j = d.lastFinished()
	}
	if j == nil {
		d.reply(replyNothingToUndo)
		return
	}
	first := max(j.boundary, d.bay.boundary())
	if j.boundary == 0 { // all of its acts are this bay's
		first = max(first, j.log[0].Act)
	}
	act := max(lastAct(j.log, first), lastAct(d.bay.log, first))
	if act == 0 {
		d.reply(replyNothingToUndo)
		return
	}
	what := describe(j.log, act)
	turn := tightenedIn(j.log, act)
	d.takeBack(act)
	if j.Dictation != nil {
		d.notesBesides(j, act)
	}
	d.sayAll(d.words.undone(what, d.job()))
	if turn {
		d.torque(d.heard)
	}
}

// tightenedIn reports whether an act said that a fastener was tightened.
func tightenedIn(log []Event, act int64) bool {
	return slices.ContainsFunc(log, func(e Event) bool { return e.Act == act && e.Kind == Tightened })
}

// lastAct finds the latest act after first that changed something and was not taken back; 0 for none.
func lastAct(log []Event, first int64) int64 {
	undone := map[int64]bool{}
	for _, e := range log {
		if e.Kind == Undone {
			undone[e.Ref] = true
		}
	}
	for i := len(log) - 1; i >= 0; i-- {
		if e := log[i]; undoable(e.Kind) && !undone[e.Act] && e.Act > first {
			return e.Act
		}
	}
	return 0
}

// boundary is the act with which a job last left the bay or came to it; nothing up to there is taken back.
func (b *Bay) boundary() int64 {
	for i := len(b.log) - 1; i >= 0; i-- {
		if e := b.log[i]; e.Kind == Switched && e.On {
			return e.Act
		}
	}
	return 0
}

func (d *decision) lastFinished() *Job {
	var last *Job
	for _, j := range d.bay.Jobs {
		if !j.Open() && !j.gone && (last == nil || j.End > last.End) {
			last = j
		}
	}
	return last
}

// takeBack undoes an act wherever it left events: in one job, in two after a switch, in the bay.
func (d *decision) takeBack(act int64) {
	for _, id := range sortedJobs(d.bay.Jobs) {
		for _, e := range d.bay.Jobs[id].log {
			if e.Act == act && e.Act > d.bay.Jobs[id].boundary && undoable(e.Kind) {
				d.record(id, d.now, Undone, Detail{Ref: act})
				break
			}
		}
	}
	for _, e := range d.bay.log {
		if e.Act == act {
			d.record("", d.now, Undone, Detail{Ref: act})
			break
		}
	}
	d.active = d.activeWithout(act)
	d.next.Last, d.next.LastAct = Heard{}, 0
}

// activeWithout works out which job is active when an act never was.
func (d *decision) activeWithout(act int64) string {
	undone := map[int64]bool{act: true}
	for _, e := range d.bay.log {
		if e.Kind == Undone {
			undone[e.Ref] = true
		}
	}
	active := ""
	for _, e := range d.bay.log {
		if e.Kind == Switched && !undone[e.Act] {
			active = e.Work
		}
	}
	return active
}
