package pages

import (
	"strings"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// Torque is a tightening as it stands.
type Torque struct {
	Fastener string
	Count    int
	Figure   string // of the round that is next, or of the last: 30, 90°, snug
	Unit     string // of Figure; "" for an angle
	Order    procedures.Order
	Going    bool     // somebody goes round: "next" says that Number is tight
	Stage    int      // from 1
	Rounds   []string // how far each round goes, in order
	Number   int      // of the fastener that is next; 0 when all are tight
	Where    string   // what the file says of Number: front left, 40 mm; "" for nothing
	Spots    []Spot   // by number from 1
}

// State is how far a fastener of a round is.
type State string

// The states. They are told apart by shape and number as well as by colour.
const (
	ToDo State = "todo"
	Next State = "next"
	Done State = "done"
)

// torques copies the tightening that is next, and words the others of the step.
func (g *Glance) torques(b *narrator.Bay, j *narrator.Job) {
	torques := j.Procedure.Steps[j.Step].Torque
	if len(torques) == 0 {
		return
	}
	turn, more, going := nextTurn(b, j)
	g.Torque = torqueAt(b, j, turn, more)
	g.Torque.Going = going
	for i := range torques {
		if i != turn.Entry {
			t := &torques[i]
			g.More = append(g.More, t.Fastener+", "+b.Settings.Torque(t.Value))
		}
	}
}

// nextTurn is the turn that is next in the step: that of the walk, of one that was left in the middle, or of the first tightening that is
// not done. more is false when all is done, and the turn is the step's last.
func nextTurn(b *narrator.Bay, j *narrator.Job) (turn narrator.Turn, more, going bool) {
	if turn, ok := b.Turn(); ok {
		return turn, true, true
	}
	if turn, ok := j.Begun(); ok {
		return turn, true, false
	}
	torques := j.Procedure.Steps[j.Step].Torque
	for i := range torques {
		if turn, more := j.NextTurn(i); more {
			return turn, true, false
		}
	}
	last := len(torques) - 1
	return narrator.Turn{Entry: last, Stage: len(torques[last].Rounds())}, false, false
}

func torqueAt(b *narrator.Bay, j *narrator.Job, turn narrator.Turn, more bool) *Torque {
	t := &j.Procedure.Steps[j.Step].Torque[turn.Entry]
	shown := &Torque{Fastener: t.Fastener, Count: t.Count, Order: t.Order, Stage: turn.Stage, Spots: Layout(t.Order, t.Count)}
	for _, r := range t.Rounds() {
		figure, unit := roundText(b, r)
		shown.Rounds = append(shown.Rounds, strings.TrimSpace(figure+" "+unit))
	}
	shown.Figure, shown.Unit = roundText(b, t.Rounds()[turn.Stage-1])
	for i := range shown.Spots {
		s := &shown.Spots[i]
		s.State = ToDo
		if j.Tight(narrator.Turn{Entry: turn.Entry, Stage: turn.Stage, Number: s.Number}) {
			s.State = Done
		}
	}
	if more {
		shown.Number = turn.Number
		shown.Spots[turn.Number-1].State = Next
		var where []string
		for _, by := range [][]string{t.Positions, t.Lengths} {
			if turn.Number <= len(by) {
				where = append(where, by[turn.Number-1])
			}
		}
		shown.Where = strings.Join(where, ", ")
	}
	return shown
}

// roundText is how far a round goes.
func roundText(b *narrator.Bay, r procedures.Stage) (figure, unit string) {
	if r.Value == (procedures.Torque{}) {
		return r.Name, ""
	}
	figure, unit, _ = strings.Cut(b.Settings.Torque(r.Value), " ")
	return figure, unit
}
