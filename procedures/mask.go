package procedures

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
)

// masks tell which lines of a file are written out several times, so that what is
// wrong there is said once.
type masks []mask

// mask takes the values of a group out of a text.
type mask struct {
	first, last int // lines of the group
	values      []string
	out         *strings.Replacer
}

// add adds a group, or to a group that stands on the same lines what it is
// repeated for this time.
func (m *masks) add(first, last int, values []string) {
	at := slices.IndexFunc(*m, func(k mask) bool { return k.first == first && k.last == last })
	if at < 0 {
		at = len(*m)
		*m = append(*m, mask{first: first, last: last})
	}
	k := &(*m)[at]
	var pairs []string
	for _, v := range values {
		if !slices.Contains(k.values, v) {
			k.values = append(k.values, v)
		}
	}
	for _, v := range k.values {
		pairs = append(pairs, v, "", idPart(v), "")
	}
	k.out = strings.NewReplacer(pairs...)
}

var numbers = regexp.MustCompile(`\d+`)

// outline is a mistake as all repeats of a group have it: without the group's
// values and without numbers. It is false for one that stands in no group.
func (m masks) outline(mistake Mistake) (Mistake, bool) {
	repeated := false
	for _, mask := range m {
		if mask.first <= mistake.Line && mistake.Line <= mask.last {
			mistake.What, repeated = mask.out.Replace(mistake.What), true
		}
	}
	mistake.What, mistake.Mend = numbers.ReplaceAllString(mistake.What, ""), ""
	return mistake, repeated
}

// once brings mistakes into the order of the file, and takes out what the repeats
// of a group say again.
func once(mistakes []Mistake, m masks) []Mistake {
	slices.SortStableFunc(mistakes, func(a, b Mistake) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	if len(m) == 0 {
		return mistakes
	}
	said := map[Mistake]bool{}
	return slices.DeleteFunc(mistakes, func(mistake Mistake) bool {
		outline, repeated := m.outline(mistake)
		again := said[outline]
		said[outline] = true
		return repeated && again
	})
}
