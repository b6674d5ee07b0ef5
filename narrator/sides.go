package narrator

import (
	"slices"
	"strings"
	"unicode"

	"stepcaller/procedures"
)

const replySides = "Left and right are as sat in the driver's seat; the front of the engine is its belt end."

// replySideWords depend on where somebody stands. A language has its own, with all their endings.
const replySideWords = "left right front rear"

// explainSides says once a job what left and right, front and rear mean, with the first step that uses such a word.
func (d *decision) explainSides(at Moment) {
	j := d.job()
	if j.Sighted || !namesSide(&j.Procedure.Steps[j.Step], replySideWords+" "+d.words.F(replySideWords)) {
		return
	}
	d.record(j.ID, at, Sighted, Detail{})
	d.reply(replySides)
}

// namesSide reports whether a step uses one of the words.
func namesSide(step *procedures.Step, words string) bool {
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
	known := strings.Fields(words)
	inWord := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) || r == '_' }
	for _, text := range all {
		for word := range strings.FieldsFuncSeq(text, func(r rune) bool { return !inWord(r) }) {
			if slices.Contains(known, strings.ToLower(word)) {
				return true
			}
		}
	}
	return false
}
