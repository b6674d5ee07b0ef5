package procedures

import (
	"cmp"
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// phrase is a piece of text that fits a rule, with what has been said before it
// and what is written after it.
type phrase struct {
	part   []string // the whole and its groups
	before string
	rest   string
}

// rule says one form of written text. A rule whose say returns false passes the
// text on to the rules after it.
type rule struct {
	written *regexp.Regexp
	say     func(phrase) (string, bool)
}

func newRule(pattern string, say func(phrase) (string, bool)) rule {
	return rule{regexp.MustCompile(`^` + pattern), say}
}

const (
	figure   = `\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?|\.\d+`
	fraction = `(\d{1,3})/(\d{1,2})`
	by       = `\s*[x×*]\s*`
)

// figureRules are tried first, in this order.
var figureRules = []rule{
	newRule(`(\d{4})-(\d\d)-(\d\d)\b`, func(p phrase) (string, bool) { return sayDate(p.part[3], p.part[2], p.part[1]) }),
	newRule(`(\d\d?)[./](\d\d?)[./](\d{4})\b`, func(p phrase) (string, bool) { return sayDate(p.part[1], p.part[2], p.part[3]) }),
	newRule(`([01]?\d|2[0-3]):([0-5]\d)\b`, sayClock),
	newRule(`(\d{1,3}):(\d{1,3})\b`, func(p phrase) (string, bool) {
		return sayWhole(p.part[1]) + " to " + sayWhole(p.part[2]), !strings.HasPrefix(p.rest, ":")
	}),
	newRule(`M(\d{1,2}(?:\.\d)?)((?:`+by+`\d+(?:\.\d+)?)+)?(?:[ -]+(\d{1,2}\.\d))?\b`, sayThread),
	newRule(`(\d{3})/(\d\d) ?Z?R ?(\d\d)\b`, func(p phrase) (string, bool) {
		return fmt.Sprintf("%s %s R %s", p.part[1], p.part[2], p.part[3]), true
	}),
	newRule(`(\d{1,2})W-?(\d{2})\b`, func(p phrase) (string, bool) { return sayWhole(p.part[1]) + " W " + p.part[2], true }),
	newRule(`(?:(\d{1,3})[ -]+)?`+fraction+`(?:[ -]?("|inch\b|in\b\.?)|(?: ?(`+unitPattern+`)))?`, sayFraction),
	newRule(`(\d{1,3})(?:st|nd|rd|th)\b`, func(p phrase) (string, bool) {
		n, _ := strconv.Atoi(p.part[1])
		return Ordinal(n), true
	}),
	newRule(`(\d{1,3})((?: 000)+)\b`, func(p phrase) (string, bool) {
		return sayWhole(p.part[1] + strings.ReplaceAll(p.part[2], " ", "")), true
	}),
	newRule(`(\d+),(\d{1,2}) ?(`+unitPattern+`)`, func(p phrase) (string, bool) {
		unit, ok := sayMeasure(p.part[3], false, p.rest)
		return sayDecimal(p.part[1]+"."+p.part[2]) + " " + unit, ok
	}),
	newRule(`(\d*\.\d+) ?in\b\.?`, func(p phrase) (string, bool) {
		inch, _ := sayMeasure(`"`, false, p.rest)
		return sayDecimal(p.part[1]) + " " + inch, !sentenceGoesOn.MatchString(p.rest) || measured.MatchString(p.rest)
	}),
	newRule(`(\d{1,3})[x×]\b`, func(p phrase) (string, bool) { return sayWhole(p.part[1]) + " times", true }),
	newRule(`(?:(-)|(±) ?)?(`+figure+`)(?:( ?(?:-|–|±|\+/-|`+by+`| to ) ?)(-?)(`+figure+`))?(?:[ -]?(`+unitPattern+`(?:/`+unitPattern+`)?))?`, sayFigure),
	newRule(`(?:#|[Nn]o\. ?|[Nn]r\.? ?)(\d+)`, func(p phrase) (string, bool) { return "number " + sayWhole(p.part[1]), true }),
	newRule(`No (\d+)`, func(p phrase) (string, bool) {
		return "number " + sayWhole(p.part[1]), numberedPart.MatchString(p.rest)
	}),
	newRule(`(?:N·m|lbf·ft|lbf·in|kgf·m)\b`, func(p phrase) (string, bool) {
		unit, ok := measureOf(p.part[0])
		return unit.many, ok
	}),
	newRule(`[x×](\d{1,3})\b`, func(p phrase) (string, bool) { return "times " + sayWhole(p.part[1]), true }),
	newRule(`\+/-`, func(phrase) (string, bool) { return " plus or minus ", true }),
}

// wordRules are tried after the lexicon.
var wordRules = []rule{
	newRule(`([A-Z]{1,2})-?(\d{1,3})([a-z]?)\b`, sayCode),
	newRule(`([A-Za-z]+)-?(\d{1,3})\b`, sayNumbered),
	newRule(`(\d+\.\d+)([A-Za-z]{1,3})\b`, func(p phrase) (string, bool) {
		return sayDecimal(p.part[1]) + " " + spell(p.part[2]), !codeGoesOn.MatchString(p.rest)
	}),
	newRule(`[A-Za-z0-9]*(?:[A-Za-z][-.]?\d|\d[-.]?[A-Za-z]|\d[-.]\d)(?:[-./]?[A-Za-z0-9])*`, sayPartNumber),
	newRule(`[A-Z]{2,5}\b`, sayCapitals),
	newRule(`[A-Za-z]+(?:'[A-Za-z]+)?`, func(p phrase) (string, bool) { return p.part[0], true }),
	newRule(`\d+`, func(p phrase) (string, bool) { return sayWhole(p.part[0]), true }),
}

// sayWhole is a whole number: figures as they are, but digit by digit where it is
// a code, with a leading zero or more than six digits.
func sayWhole(digits string) string {
	digits = strings.ReplaceAll(digits, ",", "")
	switch {
	case digits == "0":
		return "zero"
	case len(digits) > 6 || digits[0] == '0':
		return sayDigits(digits)
	default:
		return digits
	}
}

// sayDigits is each digit for itself. A zero is a word, lest it be taken for the
// letter O.
func sayDigits(digits string) string {
	return strings.ReplaceAll(strings.Join(strings.Split(digits, ""), " "), "0", "zero")
}

// sayDecimal is a number with or without decimals: "8 point 5".
func sayDecimal(number string) string {
	whole, decimals, has := strings.Cut(number, ".")
	if whole == "" {
		whole = "0"
	}
	if !has {
		return sayWhole(whole)
	}
	return sayWhole(whole) + " point " + sayDigits(decimals)
}

// sayFigure is a number, or a range of two, with its unit.
func sayFigure(p phrase) (string, bool) {
	sign, first, between := p.part[1]+p.part[2], p.part[3], strings.TrimSpace(p.part[4])
	minus, second, unit := p.part[5], p.part[6], p.part[7]
	if endsInWord(p.part[0]) && startsInWord(p.rest) || unit == "" && codeGoesOn.MatchString(p.rest) {
		return "", false
	}
	if sign == "-" && endsInWord(strings.TrimRight(p.before, " ")) && !strings.HasSuffix(p.before, " ") {
		return "", false
	}
	said := sayDecimal(first)
	switch sign {
	case "-":
		said = "minus " + said
	case "±":
		said = " plus or minus " + said
	}
	if second != "" {
		said += sayBetween(between) + strings.Repeat("minus ", len(minus)) + sayDecimal(second)
	}
	if unit == "" {
		return said, true
	}
	one := second == "" && first == "1" && !decimalBefore.MatchString(p.before[max(0, len(p.before)-8):])
	measure, ok := sayMeasure(unit, one, p.rest)
	if !ok {
		return said + " " + unit, !strings.HasSuffix(p.part[0], cmp.Or(second, first)+unit)
	}
	return said + " " + measure, true
}

// decimalBefore finds that a figure is one of a number's decimals.
var decimalBefore = regexp.MustCompile(`(?:point|zero|\d) $`)

// codeGoesOn finds that a number is only the first part of a code.
var codeGoesOn = regexp.MustCompile(`^[-.][A-Za-z0-9]`)

var (
	// sentenceGoesOn finds that "in" is no inch but the next word of a sentence.
	sentenceGoesOn = regexp.MustCompile(`^ [a-z]`)
	// numberedPart names what has a number by place: No 2 cylinder.
	numberedPart = regexp.MustCompile(`^ (?:cylinder|injector|plug|coil|cap|bearing|piston|journal|valve|bolt)\b`)
)

func startsInWord(text string) bool { return text != "" && isWord(rune(text[0])) }

func sayBetween(sign string) string {
	switch sign {
	case "x", "×", "*":
		return " by "
	case "±", "+/-":
		return " plus or minus "
	default:
		return " to "
	}
}

// sayFraction is a fraction of a turn, of an inch or of anything else. What is no
// usual fraction is a ratio.
func sayFraction(p phrase) (string, bool) {
	whole, top, bottom, inch, unit := p.part[1], p.part[2], p.part[3], p.part[4], p.part[5]
	if startsInWord(p.rest) && endsInWord(p.part[0]) || strings.HasPrefix(p.rest, "/") {
		return "", false
	}
	n, _ := strconv.Atoi(top)
	d, _ := strconv.Atoi(bottom)
	part, usual := fractionWords(n, d)
	if !usual {
		if whole != "" || inch != "" || unit != "" || n == 0 || d == 0 {
			return "", false
		}
		if n+d == 100 {
			return top + " " + bottom, true
		}
		return sayWhole(top) + " over " + sayWhole(bottom), true
	}
	if whole == "" && n == 1 && strings.HasPrefix(p.rest, " turn") {
		return "a " + strings.TrimPrefix(part, "one "), true
	}
	said, plural := part, false
	if whole != "" {
		said, plural = sayWhole(whole)+" and "+strings.Replace(part, "one ", "a ", 1), true
	}
	switch {
	case inch == "in" && sentenceGoesOn.MatchString(p.rest) && !measured.MatchString(p.rest):
		return said + " in", true
	case inch != "":
		if whole == "" && n == 1 && d <= 4 {
			said = strings.TrimPrefix(said, "one ")
		}
		unit = `"`
	case unit == "":
		return said, true
	}
	measure, ok := sayMeasure(unit, !plural, p.rest)
	if !ok {
		return said + " " + unit, true
	}
	return said + " " + measure, true
}

// sayThread is a metric thread with pitch, length and class: "M 6 by 1 point zero".
func sayThread(p phrase) (string, bool) {
	said := "M " + sayDecimal(p.part[1])
	for _, size := range anyFigure.FindAllString(p.part[2], -1) {
		said += " by " + sayDecimal(size)
	}
	if p.part[3] != "" {
		said += ", class " + sayDecimal(p.part[3])
	}
	return said, !startsInWord(p.rest)
}

var anyFigure = regexp.MustCompile(figure)

var months = [...]string{"January", "February", "March", "April", "May", "June", "July", "August",
	"September", "October", "November", "December"}

// sayDate is a date as people say it: "14 March 2026". Day first, unless only
// month first makes a date.
func sayDate(day, month, year string) (string, bool) {
	d, _ := strconv.Atoi(day)
	m, _ := strconv.Atoi(month)
	if m > 12 && d <= 12 {
		d, m = m, d
	}
	if d < 1 || d > 31 || m < 1 || m > 12 {
		return "", false
	}
	return fmt.Sprintf("%d %s %s", d, months[m-1], year), true
}

// sayClock is a time of day: "14 30", "8 o'clock", "9 oh 5". A single figure before
// the colon is an hour only after a word such as "at"; else it is a ratio.
func sayClock(p phrase) (string, bool) {
	hour, minute := strings.TrimPrefix(p.part[1], "0"), p.part[2]
	if hour == "" {
		hour = "zero"
	}
	switch {
	case strings.HasPrefix(p.rest, ":"), len(p.part[1]) == 1 && !timeBefore.MatchString(p.before):
		return "", false
	case minute == "00":
		return hour + " o'clock", true
	case minute[0] == '0':
		return hour + " oh " + minute[1:], true
	default:
		return hour + " " + minute, true
	}
}

// timeBefore finds that a single figure and a colon begin a time of day and no
// ratio.
var timeBefore = regexp.MustCompile(`\b(?:at|by|until|till|from|before|after) $`)

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
	var groups []string
	for _, group := range codeGroups.FindAllString(p.part[0], -1) {
		if startsInLetter(group) {
			groups = append(groups, spell(group))
			continue
		}
		groups = append(groups, sayDigits(group))
	}
	return strings.Join(groups, ", "), true
}

var (
	numberWord = regexp.MustCompile(`^(\d{1,3})-?([a-z]{3,})$`)
	codeGroups = regexp.MustCompile(`[A-Za-z]+|\d+`)
)

func startsInLetter(text string) bool { return text[0] > '9' }

// spell is each letter for itself.
func spell(letters string) string {
	return strings.Join(strings.Split(strings.ToUpper(letters), ""), " ")
}

// sayCapitals spells an abbreviation that nobody could pronounce. Capitals with a
// vowel are a word written loud, unless the lexicon has them.
func sayCapitals(p phrase) (string, bool) {
	if strings.ContainsAny(p.part[0], "AEIOUY") {
		return "", false
	}
	return spell(p.part[0]), true
}
