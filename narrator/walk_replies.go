package narrator

import (
	"fmt"
	"strconv"
	"strings"

	"stepcaller/procedures"
)

const (
	replyBoltByBolt = "Bolt by bolt?"
	replyNewFirst   = "Put the new ones in first, then say torque."
	replyWrenchBack = "Wrench back to its lowest mark."
	replyWalkWords  = "Next when it is tight, torque to hear it again, undo that, stop."
)

// replyTorque reads a tightening: what, how many, how far, in which rounds and order, and what is special about it.
func replyTorque(t procedures.Tightening, s Settings) string {
	what := t.Fastener
	if t.Count > 1 {
		what = fmt.Sprintf("%s, %d of them", t.Fastener, t.Count)
	}
	text := fmt.Sprintf("%s: %s", capital(what), torqueIn(t.Value, s.Unit))
	if t.Angle > 0 {
		text += fmt.Sprintf(", then %d° further", t.Angle)
	}
	if len(t.Stages) > 1 {
		text += fmt.Sprintf(", in %d stages", len(t.Stages))
	}
	if t.Order != "" {
		text += ", " + strings.ToLower(string(t.Order))
	}
	text += "."
	switch t.Condition {
	case procedures.Dry:
		text += " Threads dry."
	case procedures.Oiled:
		text += " Threads oiled."
	case procedures.ThreadLocker, procedures.Sealant:
		text += fmt.Sprintf(" With %s on the threads.", t.Condition)
	}
	if t.LeftHand {
		text += " Left-hand thread."
	}
	if len(t.Rounds()) == 1 {
		text += replyWrench(t.Value, s)
	}
	return text
}

// replyWrench says which wrench to take, and its setting where that is not the torque itself. It says nothing in a shop that lists no
// wrenches.
func replyWrench(t procedures.Torque, s Settings) string {
	if len(s.Wrenches) == 0 {
		return ""
	}
	w, why, ok := procedures.PickWrench(s.Wrenches, t)
	if !ok {
		return " " + capital(full(why))
	}
	text := fmt.Sprintf(" Wrench: %s", w.Name)
	if setting := w.SaySetting(t); setting != torqueIn(t, s.Unit) {
		text += ", set to " + setting
	}
	text += "."
	if why != "" {
		text += " " + capital(full(why))
	}
	return text
}

// replyLoosening reads what is slackened, in which order.
func replyLoosening(l procedures.Loosening) string {
	what := l.Fastener
	if l.Count > 1 {
		what = fmt.Sprintf("%s, %d of them", l.Fastener, l.Count)
	}
	text := "Loosen: " + what
	if seq := l.Order.Loosening(l.Count); l.Count > 1 && len(seq) > 0 {
		text += ", in this order: " + figures(seq)
	}
	text += "."
	if l.LeftHand {
		text += " Left-hand thread: clockwise to loosen."
	}
	return text
}

func figures(list []int) string {
	var words []string
	for _, n := range list {
		words = append(words, strconv.Itoa(n))
	}
	return strings.Join(words, ", ")
}

// replyStage says how far every fastener is turned in a round: "Stage 2 of 3, 20 N·m. Wrench: the long one."
func replyStage(t *procedures.Tightening, at Turn, s Settings) string {
	rounds := t.Rounds()
	stage := rounds[at.Stage-1]
	text := ""
	switch {
	case stage.Angle > 0:
		text = fmt.Sprintf("%d° further", stage.Angle)
	case stage.Value != (procedures.Torque{}):
		text = torqueIn(stage.Value, s.Unit)
	default:
		text = stage.Name
	}
	if len(rounds) > 1 {
		text = fmt.Sprintf("Stage %d of %d, %s", at.Stage, len(rounds), text)
	}
	text = capital(text) + "."
	if stage.Value != (procedures.Torque{}) {
		text += replyWrench(stage.Value, s)
	}
	return text
}

// replyTurn names the next fastener: its number, where it is and what goes there.
func replyTurn(t *procedures.Tightening, at Turn) string {
	var parts []string
	if t.Count > 1 {
		parts = append(parts, fmt.Sprintf("number %d", at.Number))
	}
	for _, by := range [][]string{t.Positions, t.Lengths} {
		if at.Number <= len(by) {
			parts = append(parts, by[at.Number-1])
		}
	}
	return full(capital(strings.Join(parts, ", ")))
}

func replyNowThe(t *procedures.Tightening) string { return fmt.Sprintf("Now: %s.", t.Fastener) }

func replyAllDone(t *procedures.Tightening) string {
	if t.Count == 1 {
		return "Done."
	}
	return fmt.Sprintf("All %d done.", t.Count)
}

// replyNewIn asks whether the new fasteners are in.
func replyNewIn(t *procedures.Tightening) string {
	if t.Count > 1 {
		return fmt.Sprintf("New ones in, all %d?", t.Count)
	}
	return "New one in?"
}

// replyWalkLeft says how far a tightening has come that was left in the middle, "" where none was.
func replyWalkLeft(j *Job) string {
	at, ok := j.Begun()
	if !ok {
		return ""
	}
	t := &j.Procedure.Steps[j.Step].Torque[at.Entry]
	text := bare(lowerFirst(replyTurn(t, at)))
	if stages := len(t.Rounds()); stages > 1 {
		text = strings.TrimSuffix(fmt.Sprintf("stage %d, %s", at.Stage, text), ", ")
	}
	return fmt.Sprintf("%s: %s is next. Say torque to go on.", capital(t.Fastener), text)
}

// replyGoingRound names what is gone round to one who comes back to it: "Flywheel bolts."
func replyGoingRound(j *Job, at Turn) string {
	return capital(full(j.Procedure.Steps[j.Step].Torque[at.Entry].Fastener))
}

// replyTorqueMissed names the torques of the current step that nobody asked for, the new fasteners that nobody confirmed, and the
// fasteners of several rounds that a walk did not come to.
func replyTorqueMissed(j *Job, unit procedures.TorqueUnit) string {
	var parts []string
	at, begun := j.Begun()
	for i, t := range j.Procedure.Steps[j.Step].Torque {
		switch {
		case begun && i == at.Entry:
			parts = append(parts, replyNotDone(j, at))
		case !called(j, j.Step, t):
			parts = append(parts, fmt.Sprintf("%s, %s", t.Fastener, torqueIn(t.Value, unit)))
		case j.wantsNew(j.Step, &t):
			parts = append(parts, t.Fastener+", new ones not confirmed")
		case len(t.Rounds()) > 1:
			if at, more := j.nextTurn(j.Step, i); more {
				parts = append(parts, replyNotDone(j, at))
			}
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "Check the torque: " + strings.Join(parts, "; ") + "."
}

// replyNotDone names what a walk did not come to: "cover bolts, stage 2, numbers 5, 6 not done".
func replyNotDone(j *Job, at Turn) string {
	t := &j.Procedure.Steps[j.Step].Torque[at.Entry]
	text := t.Fastener
	if len(t.Rounds()) > 1 {
		text += fmt.Sprintf(", stage %d", at.Stage)
	}
	left := j.notDone(j.Step, at)
	switch {
	case t.Count == 1:
	case len(left) == 1:
		text += fmt.Sprintf(", number %d", left[0])
	default:
		text += ", numbers " + numbers(left)
	}
	return text + " not done"
}
