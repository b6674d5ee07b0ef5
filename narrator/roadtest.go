package narrator

import (
	"strings"

	"stepcaller/procedures"
)

// drive begins a road test: what to do on it is read before, then nothing more is said until the next word, and the time is a pause of its
// own.
func (d *decision) drive(at Moment) {
	j := d.job()
	d.say(d.words.F("Step %d, road test.", j.Step+1) + " " + full(j.Procedure.Steps[j.Step].Say))
	d.record(j.ID, at, Held, Detail{Reason: reasonRoadTest})
}

// driving reports whether the job stands still because its vehicle is on the road test of the current step.
func (j *Job) driving() bool {
	if !j.Open() || !j.Procedure.Steps[j.Step].Drives {
		return false
	}
	held := j.Held()
	return held != nil && held.Reason == reasonRoadTest
}

// comeBack ends the road test with the word that shows that somebody is back. Words that are said in passing end nothing.
func (d *decision) comeBack(h Heard, c procedures.Command) {
	j := d.job()
	if j == nil || !j.driving() {
		return
	}
	switch c {
	case procedures.Stop, procedures.Help, procedures.StopListening, procedures.UndoThat, procedures.CarryOn, procedures.WhatCanISay,
		procedures.Louder, procedures.Quieter, procedures.SpeakFaster, procedures.SpeakSlower, procedures.HowLongLeft,
		procedures.AllSent:
		return
	}
	d.record(j.ID, h.From, Resumed, Detail{})
	d.changed(h)
}

// again names what wants its torque once more to one who comes from the road test.
func (w wording) again(j *Job) string {
	n := len(j.Arrivals)
	if n < 2 || !j.Procedure.Steps[j.Arrivals[n-2].Step].Drives {
		return ""
	}
	if names := w.againDue(j); len(names) > 0 {
		return w.F(replyTorqueAgain, strings.Join(names, "; "))
	}
	return ""
}
