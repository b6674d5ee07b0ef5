package narrator

import (
	"regexp"
	"slices"
	"strings"

	"stepcaller/procedures"
)

const replySides = "Left and right are as sat in the driver's seat; the front of the engine is its belt end."

// side finds a word that depends on where somebody stands.
var side = regexp.MustCompile(`(?i)\b(?:left|right|front|rear)\b`)

// explainSides says once a job what left and right, front and rear mean, with the first step that uses such a word.
func (d *decision) explainSides(at Moment) {
	j := d.job()
	if j.Sighted || !namesSide(&j.Procedure.Steps[j.Step]) {
		return
	}
	d.record(j.ID, at, Sighted, Detail{})
	d.say(replySides)
}

func namesSide(step *procedures.Step) bool {
	all := slices.Concat([]string{step.Say, step.Title}, texts(step.Cautions), texts(step.Parts), step.Off, step.Disconnect, step.Loosen,
		step.ByHand, step.Open, step.Plug, step.Stuff, step.Drain, step.Support, step.Back, step.Connect, step.Tight, step.Shut, step.Out,
		step.Fill, step.Clear)
	for _, t := range step.Torque {
		all = append(append(all, t.Fastener), t.Positions...)
	}
	for _, l := range step.Loosening {
		all = append(all, l.Fastener)
	}
	for _, r := range step.Readings {
		all = append(append(all, r.Name), r.Positions...)
	}
	return side.MatchString(strings.Join(all, "\n"))
}
