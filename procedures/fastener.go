package procedures

import (
	"regexp"
	"strings"
)

// SpokenFastener is a fastener's name as it is called: without its thread, length and class, which are for the eye and the checker.
// "M12×1.5 10.9 axle nut" is "axle nut"; where nothing but a thread is named, it is "bolt".
func SpokenFastener(name string) string {
	said := threadName.ReplaceAllString(name, " ")
	said = className.ReplaceAllStringFunc(said, func(class string) string {
		if strings.HasSuffix(class, "mm") {
			return class
		}
		return " "
	})
	said = emptied.ReplaceAllString(said, " ")
	said = strings.Trim(strings.Join(strings.Fields(commas.ReplaceAllString(said, ",")), " "), " ,;:-")
	if !hasSound(said) {
		return "bolt"
	}
	return said
}

// SpokenFastener is the name by which a torque of the step is called: short, and whole where another of its torques would be called the
// same.
func (s *Step) SpokenFastener(entry int) string {
	name := s.Torque[entry].Fastener
	short := SpokenFastener(name)
	for _, other := range s.Torque {
		if other.Fastener != name && itemKey(SpokenFastener(other.Fastener)) == itemKey(short) {
			return name
		}
	}
	return short
}

var (
	// threadName is a thread as a fastener's name has it: metric with pitch, length and tolerance, of inches, or of a pipe.
	threadName = regexp.MustCompile(`\bM\d{1,2}(?:\.\d)?(?:` + by + `\d+(?:\.\d+)?)*(?:-\d+(?:\.\d+)?[a-zA-Z]{0,2})?(?: ?mm)?\b` +
		`|(?:#\d{1,2}|\b\d{1,2}/\d{1,2}"?)-\d{1,2}\b(?: ?UN[CFRS]\b(?:-\d[AB]\b)?)?` +
		`|\b(?:G|Rp|Rc|R) ?\d{1,2}/\d{1,2}\b"?`)
	// className is a class of strength (ISO 898-1, ISO 898-2, ISO 3506), or a size in mm that looks like one.
	className = regexp.MustCompile(`(?i)\b(?:(?:property )?(?:class|grade) )?(?:` + class + `|A[1-5]-\d\d)\b(?: ?mm\b)?|\b(?:property )?(?:class|grade) \d{1,2}\b`)
	// emptied is a pair of brackets with nothing left in it.
	emptied = regexp.MustCompile(`\([\s,;]*\)`)
	// commas are all that is left of what stood between them.
	commas = regexp.MustCompile(`\s*,[\s,]*,|\s+,`)
)
