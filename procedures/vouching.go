package procedures

import (
	"fmt"
	"regexp"
)

// deedOf says how a step shows that it does by itself what the answer to a caution vouches for: under which key, by which name. What stands
// in words alone, or under another name, is not known for certain and not asked about.
var deedOf = map[Command]struct {
	key   string
	names func(*Step) []string
	like  *regexp.Regexp
}{
	StandsSet:   {"support", func(s *Step) []string { return s.Support }, regexp.MustCompile(`(?i)\bstands?\b`)},
	LiftLocked:  {"support", func(s *Step) []string { return s.Support }, regexp.MustCompile(`(?i)\b(?:lift|arms?)\b`)},
	EngineHeld:  {"support", func(s *Step) []string { return s.Support }, regexp.MustCompile(`(?i)\b(?:beam|hoist|crane|jack|chain|engine)\b`)},
	SpringHeld:  {"support", func(s *Step) []string { return s.Support }, regexp.MustCompile(`(?i)\b(?:pin|compressor|hook)\b`)},
	PowerDown:   {"support", func(s *Step) []string { return s.Support }, regexp.MustCompile(`(?i)\b(?:lock|padlock)\b`)},
	GroundOff:   {"disconnect", func(s *Step) []string { return append(s.Disconnect[:len(s.Disconnect):len(s.Disconnect)], s.Off...) }, regexp.MustCompile(`(?i)\b(?:ground|earth|battery)\b`)},
	WheelsTight: {"torque", fastenersOf, regexp.MustCompile(`(?i)\bwheel (?:bolt|nut|stud)s?$`)},
	PedalFirm:   {"say", func(s *Step) []string { return []string{s.Say} }, regexp.MustCompile(`(?i)\bpump (?:the |your )?(?:brake )?pedal\b`)},
}

func fastenersOf(s *Step) (names []string) {
	for _, t := range s.Torque {
		names = append(names, t.Fastener)
	}
	return names
}

// checkAnswers asks about a caution whose answer is wanted before its step is read, and says that done which only the step does.
func checkAnswers(p *Procedure) []Mistake {
	var mistakes []Mistake
	for i := range p.Steps {
		step := &p.Steps[i]
		for j, c := range step.Cautions {
			deed, known := deedOf[c.Answer]
			if !known {
				continue
			}
			for _, name := range deed.names(step) {
				if !deed.like.MatchString(name) {
					continue
				}
				mistakes = append(mistakes, p.mistake(fmt.Sprintf("steps[%d].cautions[%d]", i, j), Question,
					fmt.Sprintf("step %s wants %q before it is read, and does that itself under `%s`", step.ID, c.Answer, deed.key),
					"Move the caution to the next step, which is then read only when this is done"))
				break
			}
		}
	}
	return mistakes
}
