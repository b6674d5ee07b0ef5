package procedures

import (
	"regexp"
	"strings"
)

// sayCode is a short code of letters and a number: "E 10", "T 30", "R 134 a".
func sayCode(p phrase) (string, bool) {
	return spell(p.part[1]) + " " + sayWhole(p.part[2]) + strings.TrimRight(" "+p.part[3], " "), !codeGoesOn.MatchString(p.rest)
}

// sayNumbered is a word and its number: "step 2", "DOT 4".
func sayNumbered(p phrase) (string, bool) {
	word := p.part[1]
	if len(word) < 3 || !strings.ContainsAny(strings.ToLower(word), "aeiouy") || codeGoesOn.MatchString(p.rest) {
		return "", false
	}
	return word + " " + sayWhole(p.part[2]), true
}

// sayPartNumber spells letters and digits in groups, with a pause between groups.
// A number with a word after it is no part number: "4-cylinder".
func sayPartNumber(p phrase) (string, bool) {
	if m := numberWord.FindStringSubmatch(p.part[0]); m != nil {
		return sayWhole(m[1]) + " " + m[2], true
	}
	return sayGroups(p.part[0]), true
}

// sayGroups spells a code with a pause where letters and digits meet. A short code
// needs none, unless it would end like a figure with its unit.
func sayGroups(code string) string {
	if shortCode.MatchString(code) && !figureAndUnit.MatchString(code) {
		return spellOut(code)
	}
	groups := codeGroups.FindAllString(code, -1)
	for i, group := range groups {
		groups[i] = spellOut(group)
	}
	return strings.Join(groups, ", ")
}

var (
	numberWord    = regexp.MustCompile(`^(\d{1,3})-?([a-z]{3,})$`)
	shortCode     = regexp.MustCompile(`^(?:[A-Za-z0-9]{2,4}|[A-Z]\d{3,4}[a-z]{0,2})$`)
	figureAndUnit = regexp.MustCompile(`^\d+[A-Za-z]$`)
	codeGroups    = regexp.MustCompile(`[A-Za-z]+|\d+`)
)

// sayCatalogue is a part's or a serial number after these words, group by group
// and digit by digit.
func sayCatalogue(p phrase) (string, bool) {
	if !catalogueBefore.MatchString(p.before) {
		return "", false
	}
	var said strings.Builder
	for i, group := range strings.FieldsFunc(p.part[0], func(r rune) bool { return strings.ContainsRune(" ./-", r) }) {
		switch {
		case i > 0 && len(group) > 1:
			said.WriteString(", ")
		case i > 0:
			said.WriteString(" ")
		}
		said.WriteString(sayGroups(group))
	}
	return said.String(), true
}

var (
	catalogueBefore = regexp.MustCompile(`(?i)\b(?:part|serial|chassis) number:? $`)
	standardBefore  = regexp.MustCompile(`(?:I S O|DIN|E N|I E C|B S) $`)
)

// sayChassis is a vehicle identification number in its three sections: maker,
// vehicle, and serial number (ISO 3779).
func sayChassis(p phrase) (string, bool) {
	return spellOut(p.part[1]) + ", " + spellOut(p.part[2]) + ", " + spellOut(p.part[3]), strings.ContainsAny(p.part[0], "ABCDEFGHJKLMNPRSTUVWXYZ")
}

// sayFault is a trouble code of the on-board diagnosis (ISO 15031-6): "P zero 3
// zero 1".
func sayFault(p phrase) (string, bool) {
	said := p.part[1] + " " + spellOut(p.part[2])
	if p.part[3] != "" {
		said += ", " + spellOut(p.part[3])
	}
	return said, true
}

// spell is each letter for itself.
func spell(letters string) string {
	return strings.Join(strings.Split(strings.ToUpper(letters), ""), " ")
}

// spellOut is each letter and each digit for itself.
func spellOut(code string) string {
	return strings.ReplaceAll(spell(code), "0", "zero")
}

// sayCapitals spells an abbreviation that nobody could pronounce. Capitals with a
// vowel are a word written loud, unless the lexicon has them.
func sayCapitals(p phrase) (string, bool) {
	if strings.ContainsAny(p.part[0], "AEIOUY") {
		return "", false
	}
	return spell(p.part[0]), true
}
