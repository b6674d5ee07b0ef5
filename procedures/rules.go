package procedures

import (
	"cmp"
	"regexp"
	"regexp/syntax"
	"strconv"
	"strings"
	"unicode/utf8"
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
	first   [utf8.RuneSelf]bool // the ASCII characters that it may begin with
	say     func(phrase) (string, bool)
}

func newRule(pattern string, say func(phrase) (string, bool)) rule {
	written := regexp.MustCompile(`^` + pattern)
	return rule{written, firstOf(written), say}
}

// fits is the rule's match at the start of text and its groups, nil where there is
// none.
func (r *rule) fits(text string) []string {
	if c := text[0]; c < utf8.RuneSelf && !r.first[c] {
		return nil
	}
	return r.written.FindStringSubmatch(text)
}

// firstOf is the ASCII characters that a match may begin with.
func firstOf(pattern *regexp.Regexp) (first [utf8.RuneSelf]bool) {
	tree, err := syntax.Parse(pattern.String(), syntax.Perl)
	if err != nil {
		panic("procedures: " + err.Error()) // it has been compiled
	}
	program, err := syntax.Compile(tree.Simplify())
	if err != nil {
		panic("procedures: " + err.Error())
	}
	seen := make([]bool, len(program.Inst))
	var walk func(uint32)
	walk = func(at uint32) {
		if seen[at] {
			return
		}
		seen[at] = true
		switch i := &program.Inst[at]; i.Op {
		case syntax.InstAlt, syntax.InstAltMatch:
			walk(i.Out)
			walk(i.Arg)
		case syntax.InstCapture, syntax.InstEmptyWidth, syntax.InstNop:
			walk(i.Out)
		case syntax.InstRune, syntax.InstRune1, syntax.InstRuneAny, syntax.InstRuneAnyNotNL:
			for c := range first {
				first[c] = first[c] || i.MatchRune(rune(c))
			}
		}
	}
	walk(uint32(program.Start))
	return first
}

const (
	figure   = `\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?|\.\d+`
	fraction = `(\d{1,3})/(\d{1,2})`
	by       = `\s*[x×*]\s*`
)

// figureRules are tried after the lexicon, in this order.
var figureRules = []rule{
	newRule(`([A-HJ-NPR-Z0-9]{3})([A-HJ-NPR-Z0-9]{6})([A-HJ-NPR-Z0-9]{4}\d{4})\b`, sayChassis),
	newRule(`[A-Z0-9]*\d[A-Z0-9]*(?:[ ./-]?[A-Z0-9]*\d[A-Z0-9]*)*\b`, sayCatalogue),
	newRule(`(\d{4})-(\d\d)-(\d\d)\b`, func(p phrase) (string, bool) { return sayDate(p.part[3], p.part[2], p.part[1]) }),
	newRule(`(\d\d?)[./](\d\d?)[./](\d{4})\b`, func(p phrase) (string, bool) { return sayDate(p.part[1], p.part[2], p.part[3]) }),
	newRule(`(\d\d?)/(\d\d?)/(\d\d)\b`, func(p phrase) (string, bool) { return sayDate(p.part[1], p.part[2], "20"+p.part[3]) }),
	newRule(`(0?[1-9]|1[0-2])/((?:19|20)\d\d)\b`, sayMonth),
	newRule(`([01]?\d|2[0-3]):([0-5]\d)(?: ?([ap])\.?m\b\.?)?`, sayClock),
	newRule(`(\d{1,3}(?:\.\d+)?)(?::| : )(\d{1,3}(?:\.\d+)?)\b`, func(p phrase) (string, bool) {
		return sayDecimal(p.part[1]) + " to " + sayDecimal(p.part[2]), !strings.HasPrefix(p.rest, ":")
	}),
	newRule(thread+`(?:[ -]+(`+class+`)|-(\d[A-Za-z]{1,2}))?\b`, sayThread),
	newRule(thread+`()()\b`, sayThread),
	newRule(`(#\d{1,2}|\d{1,2}/\d{1,2})"?-(\d{1,2})\b`, sayInchThread),
	newRule(`Tr(\d{1,3})`+by+`(\d{1,2}(?:\.\d)?)\b`, func(p phrase) (string, bool) {
		return "T R " + p.part[1] + " by " + sayDecimal(p.part[2]), true
	}),
	newRule(`(UN[CFRS]|UNEF)-(\d[AB])\b`, func(p phrase) (string, bool) { return spell(p.part[1]) + " " + spellOut(p.part[2]), true }),
	newRule(`(G|Rp|Rc|R)`+fraction+`\b`, sayPipeThread),
	newRule(`(\d{3})/(\d\d) ?Z?R ?(\d\d)(?: (\d{2,3})([A-Z]))?\b`, sayTyre),
	newRule(`(\d{2,3})[x×](\d{2,3})([ABC])\b`, func(p phrase) (string, bool) { return p.part[1] + " by " + p.part[2] + " " + p.part[3], true }),
	newRule(`(\d{1,2})W-?(\d{2})\b`, func(p phrase) (string, bool) { return sayWhole(p.part[1]) + " W " + p.part[2], true }),
	newRule(fraction+` ?[-–] ?`, sayFractionTo),
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
	newRule(`(\d+)in\b`, func(p phrase) (string, bool) {
		inch, _ := sayMeasure(`"`, p.part[1] == "1", p.rest)
		return sayWhole(p.part[1]) + " " + inch, true
	}),
	newRule(`[vV](\d+)\.(\d+)\b`, func(p phrase) (string, bool) {
		return "version " + sayDecimal(p.part[1]+"."+p.part[2]), !codeGoesOn.MatchString(p.rest)
	}),
	newRule(`(\d+)° ?(\d{1,2})'(?: ?(\d{1,2})")?`, sayArc),
	newRule(`(\d+)' ?(\d+(?:\.\d+)?)"`, func(p phrase) (string, bool) {
		return sayWhole(p.part[1]) + " feet " + sayDecimal(p.part[2]) + " inches", true
	}),
	newRule(`(\d{1,2})-pt\b`, func(p phrase) (string, bool) { return sayWhole(p.part[1]) + " point", true }),
	newRule(`(\d+\.\d+)-([a-z]{3,})\b`, func(p phrase) (string, bool) { return sayDecimal(p.part[1]) + " " + p.part[2], true }),
	newRule(`(\d{3,5})-(\d{1,2})\b`, func(p phrase) (string, bool) {
		return sayWhole(p.part[1]) + " part " + sayWhole(p.part[2]), standardBefore.MatchString(p.before)
	}),
	newRule(`(\d{1,3})[x×]\b`, func(p phrase) (string, bool) {
		return sayWhole(p.part[1]) + " times", !startsInDigit(p.rest)
	}),
	newRule(`((?:`+figure+`)(?:`+by+`(?:`+figure+`)){2,})(?:[ -]?(`+unitPattern+`))?`, saySizes),
	newRule(`(?:(-)|(±) ?)?(`+figure+`)(?:( ?(?:-|–|±|\+/-|`+by+`| to ) ?)(-?)(`+figure+`))?(?:[ -]?(`+unitPattern+`(?:/`+unitPattern+`)?))?`, sayFigure),
	newRule(`(?:#|[Nn]o(s?)\. ?|[Nn]r\.? ?)`, func(p phrase) (string, bool) {
		return "number" + p.part[1] + " ", numbered.MatchString(p.rest)
	}),
	newRule(`No (\d+)`, func(p phrase) (string, bool) {
		return "number " + sayWhole(p.part[1]), numberedPart.MatchString(p.rest)
	}),
	newRule(`p\. ?(\d+)`, func(p phrase) (string, bool) { return "page " + sayWhole(p.part[1]), true }),
	newRule(`(?:N·m|lbf·ft|lbf·in|kgf·m)\b`, func(p phrase) (string, bool) {
		unit, ok := measureOf(p.part[0])
		return unit.many, ok
	}),
	newRule(`[x×](\d{1,3})\b`, func(p phrase) (string, bool) { return "times " + sayWhole(p.part[1]), true }),
	newRule(`\+/-`, func(phrase) (string, bool) { return " plus or minus ", true }),
	newRule(`([-+])ve\b`, func(p phrase) (string, bool) {
		return map[string]string{"-": "negative", "+": "positive"}[p.part[1]], true
	}),
	newRule(`~`, func(p phrase) (string, bool) { return " ", !startsInDigit(strings.TrimLeft(p.rest, " ")) }),
}

// wordRules are tried last.
var wordRules = []rule{
	newRule(`(Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sept?|Oct|Nov|Dec)\b\.?`, sayMonthName),
	newRule(`([PBCU])([0-3][0-9A-F]{3})(?:-([0-9A-F]{2}))?\b`, sayFault),
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
	if !ok || len(first) == 1 && len(unit) == 1 && endsInWord(unit) && spelledBefore.MatchString(p.before) {
		return said + " " + unit, !strings.HasSuffix(p.part[0], cmp.Or(second, first)+unit)
	}
	return said + " " + measure, true
}

// decimalBefore finds that a figure is one of a number's decimals.
var decimalBefore = regexp.MustCompile(`(?:point|zero|\d) $`)

// spelledBefore finds that a figure and a letter go on with a code: W 5 W.
var spelledBefore = regexp.MustCompile(`\b(?:[A-Z]|\d|zero) $`)

// codeGoesOn finds that a number is only the first part of a code.
var codeGoesOn = regexp.MustCompile(`^[-.][A-Za-z0-9]`)

var (
	// sentenceGoesOn finds that "in" is no inch but the next word of a sentence.
	sentenceGoesOn = regexp.MustCompile(`^ [a-z]`)
	// numberedPart names what has a number by place: No 2 cylinder.
	numberedPart = regexp.MustCompile(`^ (?:cylinder|injector|plug|coil|cap|bearing|piston|journal|valve|bolt)\b`)
)

// numbered finds what may have a number in front: a figure or a code.
var numbered = regexp.MustCompile(`^[A-Z]*-?\d`)

func startsInDigit(text string) bool { return text != "" && text[0] >= '0' && text[0] <= '9' }

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
	if unit == "mm" && n >= 5 { // the two ends of a spanner
		measure, _ := sayMeasure(unit, false, p.rest)
		return strings.TrimLeft(whole+" ", " ") + sayWhole(top) + " or " + sayWhole(bottom) + " " + measure, true
	}
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
