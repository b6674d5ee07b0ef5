package narrator

import "stepcaller/procedures"

// Left lists what is still off, open, loose, plugged, stuffed, drained or supported, oldest first.
//
// A step counts as begun from the moment it is current, so what it takes off may already be off; it counts as done only
// when "next" has left it, so what it puts back is not back before. Going back to a step makes it not done.
func (j *Job) Left() []procedures.Item { return j.left(j.done()) }

// LeftAfter lists what would be left were the current step done as well.
func (j *Job) LeftAfter() []procedures.Item { return j.left(j.doneAfter()) }

// doneAfter holds the indexes of the steps that would be done were the current one done as well. One whose caution waits for its answer
// is not.
func (j *Job) doneAfter() map[int]bool {
	done := j.done()
	if _, waits := j.pending(); !waits && !j.unreached() {
		done[j.Step] = true
	}
	return done
}

// unfinished counts the steps that would not be done were the current one done as well, without those that are shut.
func (j *Job) unfinished() int {
	done := j.doneAfter()
	n := 0
	for i := range j.Procedure.Steps {
		if !done[i] && j.Gate(i) != GateShut {
			n++
		}
	}
	return n
}

// begun reports whether the step at an index was ever the current one.
func (j *Job) begun(step int) bool {
	for _, a := range j.Arrivals {
		if a.Step == step && !a.Shut {
			return true
		}
	}
	return false
}

// done holds the indexes of the steps that are done.
func (j *Job) done() map[int]bool {
	done := map[int]bool{}
	for i, a := range j.Arrivals {
		if i > 0 && !a.Back && !j.Arrivals[i-1].Shut {
			done[j.Arrivals[i-1].Step] = true
		}
		delete(done, a.Step)
	}
	if !j.Open() && !j.unreached() {
		done[j.Step] = true
	}
	return done
}

func (j *Job) left(done map[int]bool) []procedures.Item {
	begun := map[int]bool{}
	for _, a := range j.Arrivals {
		begun[a.Step] = begun[a.Step] || !a.Shut
	}
	var ledger procedures.Ledger
	for i := range j.Procedure.Steps {
		step := &j.Procedure.Steps[i]
		switch {
		case done[i]:
			ledger.Do(i, step)
		case begun[i]:
			ledger.Begin(i, step)
		}
	}
	j.putRightByHand(&ledger)
	return ledger.Items()
}
