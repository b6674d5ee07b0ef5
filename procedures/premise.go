package procedures

import (
	"fmt"
	"strings"
)

// premiseKey is the key of choices that must have been answered yes, or no. A text
// that ends in a question mark asks for a choice of the step's own.
func premiseKey(name, doc string, no bool) key[Step] {
	entry := value[string]{anyShape("id, or question", idShape(), questionShape()), func(r *reader, at string, n node) (string, bool) {
		text, ok := r.plain(at, n)
		if !ok {
			return "", false
		}
		if strings.HasSuffix(text, "?") {
			return questionValue().read(r, at, n)
		}
		return idValue().read(r, at, n)
	}}
	list := someOf(entry)
	return key[Step]{name, optional, doc, list.shape, func(r *reader, at string, n node, into *Step) {
		texts, _ := list.read(r, at, n)
		for i, text := range texts {
			premise := Premise{Choice: text, No: no}
			if strings.HasSuffix(text, "?") {
				step := at[:strings.LastIndexByte(at, '.')]
				if _, asked := r.questions[step]; asked {
					path := fmt.Sprintf("%s[%d]", at, i)
					r.error(path, "a second question in one step", "List the questions under `choices`, and name them here")
					continue
				}
				r.questions[step], premise.Choice = text, ""
			}
			into.OnlyIf = append(into.OnlyIf, premise)
		}
	}}
}
