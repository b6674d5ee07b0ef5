package procedures

import (
	"fmt"
	"regexp"
	"strconv"
)

// The stages that are named for their share of the full torque.
const (
	stageSnug = "snug"
	stageHalf = "half"
	stageFull = "full"
)

// maxAngle bounds a stage in degrees: two turns.
const maxAngle = 720

// angleText is an angle stage; the degrees are its group.
const angleText = `^\s*([1-9]\d?|[1-6]\d\d|7[01]\d|720)\s*(?:°|deg|degrees?)\s*$`

var anglePattern = regexp.MustCompile(angleText)

// Rounds lists the rounds over all fasteners, in order and at least one: the
// stages of the file, or else the full torque, then the angle where there is one.
func (t Tightening) Rounds() []Stage {
	if len(t.Stages) > 0 {
		return t.Stages
	}
	rounds := []Stage{{Name: stageFull, Value: t.Value}}
	if t.Angle > 0 {
		rounds = append(rounds, angleStage(t.Angle))
	}
	return rounds
}

// RoundsBefore counts the rounds that a step has gone over the fasteners of its torque at an index when that torque begins: where one
// fastener stands in several torques, such as a nut that is seated, slackened and set, their rounds count on.
func (s *Step) RoundsBefore(entry int) int {
	rounds := 0
	for _, t := range s.Torque[:entry] {
		if t.Fastener == s.Torque[entry].Fastener {
			rounds += len(t.Rounds())
		}
	}
	return rounds
}

// Round is the n-th round over a fastener of the step, from 1, and the torque that it belongs to.
func (s *Step) Round(fastener string, n int) (t *Tightening, round Stage, ok bool) {
	for i := range s.Torque {
		t := &s.Torque[i]
		if at := n - s.RoundsBefore(i); t.Fastener == fastener && at >= 1 && at <= len(t.Rounds()) {
			return t, t.Rounds()[at-1], true
		}
	}
	return nil, Stage{}, false
}

func angleStage(degrees int) Stage {
	return Stage{Name: fmt.Sprintf("%d°", degrees), Angle: degrees}
}

// stageValue is one round. Those that are a share of the full torque get it when
// the whole file is read.
func stageValue() value[Stage] {
	names := namesShape([]string{stageSnug, stageHalf, stageFull})
	degrees := shape{"title": "an angle", "type": "string", "pattern": angleText}
	return value[Stage]{anyShape("snug, half, full, a torque, or an angle", names, torqueShape(), degrees), func(r *reader, at string, n node) (Stage, bool) {
		text, ok := r.scalar(at, n)
		if !ok {
			return Stage{}, false
		}
		switch text {
		case stageSnug, stageHalf, stageFull:
			return Stage{Name: text}, true
		}
		if m := anglePattern.FindStringSubmatch(text); m != nil {
			angle, _ := strconv.Atoi(m[1]) // at most three digits
			return Stage{Name: text, Angle: angle}, true
		}
		torque, err := ParseTorque(text)
		if err != nil {
			r.fail(at, n, fmt.Sprintf("%q is no stage", text),
				fmt.Sprintf("Write snug, half, full, a torque with its unit, or an angle from 1° to %d°", maxAngle))
		}
		return Stage{Name: text, Value: torque}, err == nil
	}}
}

// settleStages gives the stages their torques, and the angle of the shorthand its
// stage.
func (t *Tightening) settleStages() {
	if len(t.Stages) == 0 {
		return
	}
	if t.Angle > 0 {
		t.Stages = append(t.Stages, angleStage(t.Angle))
	}
	t.Angle = 0
	for i := range t.Stages {
		s := &t.Stages[i]
		switch s.Name {
		case stageHalf:
			s.Value = t.Value.half()
		case stageFull:
			s.Value = t.Value
		}
		t.Angle += s.Angle
	}
}

// half is half of the torque, exactly.
func (t Torque) half() Torque {
	if t.digits%2 == 0 {
		return Torque{t.digits / 2, t.places, t.unit}
	}
	return Torque{t.digits * 5, t.places + 1, t.unit}
}
