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

// torque reads a tightening: what, how many, how far, in which rounds and order, and what is special about it.
func (w wording) torque(t procedures.Tightening) string {
	clauses := []string{capital(w.counted(t.Fastener, t.Count)) + ": " + w.torqueIn(t.Value)}
	if t.Angle > 0 {
		clauses = append(clauses, w.F("then %d° further", t.Angle))
	}
	if len(t.Stages) > 1 {
		clauses = append(clauses, w.F("in %d stages", len(t.Stages)))
	}
	if t.Order != "" {
		clauses = append(clauses, w.F(orderText(t.Order)))
	}
	text := strings.Join(clauses, ", ") + "."
	if condition := conditionText(t.Condition); condition != "" {
		text += " " + w.F(condition)
	}
	if t.LeftHand {
		text += " " + w.F("Left-hand thread.")
	}
	if len(t.Rounds()) == 1 {
		text += w.wrench(t.Value)
	}
	return text
}

// asCalled is a torque of a step under the name that it is called by.
func asCalled(s *procedures.Step, entry int) *procedures.Tightening {
	t := s.Torque[entry]
	t.Fastener = s.SpokenFastener(entry)
	return &t
}

// counted is what a fastener is called, and how many there are of it.
func (w wording) counted(fastener string, count int) string {
	if count > 1 {
		return w.F("%s, %d of them", fastener, count)
	}
	return fastener
}

func orderText(o procedures.Order) string {
	switch o {
	case procedures.AsListed:
		return "as listed"
	case procedures.MiddleOutward:
		return "middle outward"
	case procedures.CrissCross:
		return "criss-cross"
	default:
		return "star"
	}
}

func conditionText(c procedures.Condition) string {
	switch c {
	case procedures.Dry:
		return "Threads dry."
	case procedures.Oiled:
		return "Threads oiled."
	case procedures.ThreadLocker:
		return "With thread locker on the threads."
	case procedures.Sealant:
		return "With sealant on the threads."
	}
	return ""
}

// wrench says, behind a space, which wrench to take, and its setting where that is not the torque itself. It says nothing in a shop
// that lists no wrenches.
func (w wording) wrench(t procedures.Torque) string {
	if len(w.shop.Wrenches) == 0 {
		return ""
	}
	pick, miss, ok := procedures.PickWrench(w.shop.Wrenches, t)
	setting, wanted, nearest := w.Figures(pick.SaySetting(t)), w.Figures(miss.For.String()), w.Figures(miss.At)
	var text string
	switch {
	case !ok && miss.Beyond:
		return " " + w.F("No wrench of yours reaches %s; %s ends at %s.", wanted, miss.Wrench, nearest)
	case !ok:
		return " " + w.F("No wrench of yours is good for %s; %s is good from %s.", wanted, miss.Wrench, nearest)
	case setting != w.torqueIn(t):
		text = " " + w.F("Wrench: %s, set to %s.", pick.Name, setting)
	default:
		text = " " + w.F("Wrench: %s.", pick.Name)
	}
	if miss.Off > 0 {
		text += " " + w.F("For %s the nearest mark of %s is %s, %s %% off.", wanted, miss.Wrench, nearest, w.Figures(fmt.Sprintf("%.3g", miss.Off)))
	}
	return text
}

// loosening reads what is slackened, in which order.
func (w wording) loosening(l procedures.Loosening) string {
	text := w.F("Loosen: %s.", w.counted(procedures.SpokenFastener(l.Fastener), l.Count))
	if seq := l.Order.Loosening(l.Count); l.Count > 1 && len(seq) > 0 {
		text = w.F("Loosen: %s, in this order: %s.", w.counted(procedures.SpokenFastener(l.Fastener), l.Count), figures(seq))
	}
	if l.LeftHand {
		text += " " + w.F("Left-hand thread: clockwise to loosen.")
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

// stage says how far every fastener is turned in a round: "Stage 2 of 3, 20 N·m. Wrench: the long one."
func (w wording) stage(t *procedures.Tightening, at Turn) string {
	rounds := t.Rounds()
	stage := rounds[at.Stage-1]
	var text string
	switch {
	case stage.Angle > 0:
		text = w.F("%d° further", stage.Angle)
	case stage.Value != (procedures.Torque{}):
		text = w.torqueIn(stage.Value)
	default:
		text = w.F(stageText(stage.Name))
	}
	if len(rounds) > 1 {
		text = w.F("Stage %d of %d, %s", at.Stage, len(rounds), text)
	}
	text = capital(text) + "."
	if stage.Value != (procedures.Torque{}) {
		text += w.wrench(stage.Value)
	}
	return text
}

// stageText is a round without a torque or an angle.
func stageText(name string) string {
	if name == "snug" {
		return "snug"
	}
	return name
}

// numbering says how the fasteners are numbered where nothing else tells which is which, "" where something does.
func (w wording) numbering(t *procedures.Tightening) string {
	if t.Count < 3 || len(t.Positions) > 0 {
		return ""
	}
	switch t.Order {
	case procedures.MiddleOutward:
		return w.F("Numbered from one end.")
	case procedures.CrissCross:
		return w.F("Numbered clockwise from the front left corner.")
	case procedures.Star:
		return w.F("Numbered clockwise from the top.")
	}
	return ""
}

// turn names the next fastener: its number, where it is and what goes there.
func (w wording) turn(t *procedures.Tightening, at Turn) string {
	return full(capital(w.turnOf(t, at)))
}

func (w wording) turnOf(t *procedures.Tightening, at Turn) string {
	var parts []string
	if t.Count > 1 {
		parts = append(parts, w.F("number %d", at.Number))
	}
	for _, by := range [][]string{t.Positions, t.Lengths} {
		if at.Number <= len(by) {
			parts = append(parts, by[at.Number-1])
		}
	}
	return strings.Join(parts, ", ")
}

func (w wording) nowThe(t *procedures.Tightening) string { return w.F("Now: %s.", t.Fastener) }

func (w wording) allDone(t *procedures.Tightening) string {
	if t.Count == 1 {
		return w.F("Done.")
	}
	return w.F("All %d done.", t.Count)
}

// newIn asks whether the new fasteners are in.
func (w wording) newIn(t *procedures.Tightening) string {
	switch {
	case t.Count == 2:
		return w.F("New ones in, both?")
	case t.Count > 2:
		return w.F("New ones in, all %d?", t.Count)
	}
	return w.F("New one in?")
}

// walkLeft says how far a tightening has come that was left in the middle, "" where none was.
func (w wording) walkLeft(j *Job) string {
	at, ok := j.Begun()
	if !ok {
		return ""
	}
	t := asCalled(&j.Procedure.Steps[j.Step], at.Entry)
	text := bare(w.inside(w.turnOf(t, at)))
	if stages := len(t.Rounds()); stages > 1 {
		text = strings.TrimSuffix(w.F("stage %d, %s", at.Stage, text), ", ")
	}
	return w.F("%s: %s is next. Say torque to go on.", capital(t.Fastener), text)
}

// goingRound names what is gone round to one who comes back to it: "Flywheel bolts."
func (w wording) goingRound(j *Job, at Turn) string {
	return capital(full(j.Procedure.Steps[j.Step].SpokenFastener(at.Entry)))
}

// torqueMissed names the torques of the current step that nobody asked for, the new fasteners that nobody confirmed, and the
// fasteners of several rounds that a walk did not come to.
func (w wording) torqueMissed(j *Job) string {
	var parts []string
	at, begun := j.Begun()
	step := &j.Procedure.Steps[j.Step]
	for i, t := range step.Torque {
		name := step.SpokenFastener(i)
		switch {
		case begun && i == at.Entry:
			parts = append(parts, w.notDone(j, at))
		case !called(j, j.Step, t):
			parts = append(parts, name+", "+w.torqueIn(t.Value))
		case j.wantsNew(j.Step, &t):
			parts = append(parts, w.F("%s, new ones not confirmed", name))
		case len(t.Rounds()) > 1:
			if at, more := j.nextTurn(j.Step, i); more {
				parts = append(parts, w.notDone(j, at))
			}
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return w.F("Check the torque: %s.", strings.Join(parts, "; "))
}

// notDone names what a walk did not come to: "cover bolts, stage 2, numbers 5, 6 not done".
func (w wording) notDone(j *Job, at Turn) string {
	t := asCalled(&j.Procedure.Steps[j.Step], at.Entry)
	text := t.Fastener
	if len(t.Rounds()) > 1 {
		text += ", " + w.F("stage %d", at.Stage)
	}
	left := j.notDone(j.Step, at)
	switch {
	case t.Count == 1:
	case len(left) == 1:
		text += ", " + w.F("number %d", left[0])
	default:
		text += ", " + w.F("numbers %s", w.numbers(left))
	}
	return w.F("%s not done", text)
}
