package procedures

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Speakable turns written trade text into words that any voice can say, with the
// default lexicon.
func Speakable(text string) string { return DefaultLexicon().Speakable(text) }

// Speakable turns written trade text into words that any voice can say: units,
// fractions, threads, part numbers, dates and abbreviations are written out,
// brackets become pauses, and what has no sound is dropped. Whole numbers stay in
// figures. The result holds only letters, digits, spaces and . , ? ! : ' -, and
// saying it again changes nothing. It is empty when nothing can be spoken.
func (l Lexicon) Speakable(text string) string {
	text = fold(text)
	for range maxPasses {
		next := tidy(l.pass(text))
		if next == text {
			break
		}
		text = next
	}
	return text
}

// maxPasses bounds how often text is gone over. Two passes settle almost any
// text: the second sees what the first has put side by side.
const maxPasses = 16

// hasSound reports whether something in the text can be spoken.
func hasSound(text string) bool {
	return strings.ContainsFunc(fold(text), isWord) || Speakable(text) != ""
}

const (
	maxPhrase = 128 // bytes that a rule sees of what is written; no phrase of the trade is half as long
	maxBefore = 24  // bytes that it sees of what has been said
)

// pass goes over the text once. At the start of every word the first rule that
// fits says what it is; other characters are taken one by one. A word and a half
// are looked at, so the time a text takes grows with its length and no faster.
func (l Lexicon) pass(text string) string {
	var out strings.Builder
	inWord := false
	for text != "" {
		if !inWord {
			window, before := text[:min(len(text), maxPhrase)], out.String()
			if said, rest, ok := l.word(window, before[max(0, len(before)-maxBefore):]); ok {
				text = text[len(window)-len(rest):]
				out.WriteString(said)
				inWord = endsInWord(said) && !startsInWord(text)
				if endsInWord(said) && startsInWord(text) {
					out.WriteByte(' ')
				}
				continue
			}
		}
		r, size := utf8.DecodeRuneInString(text)
		out.WriteString(sayRune(r))
		text, inWord = text[size:], isWord(r)
	}
	return out.String()
}

// word tries the lexicon, then the rules, at the start of text.
func (l Lexicon) word(text, before string) (said, rest string, ok bool) {
	if said, rest, ok := l.lookUp(text); ok {
		return said, rest, true
	}
	for _, rules := range [...][]rule{figureRules, wordRules} {
		for i := range rules {
			rule := &rules[i]
			m := rule.fits(text)
			if m == nil {
				continue
			}
			rest := text[len(m[0]):]
			if said, ok := rule.say(phrase{m, before, rest}); ok {
				return said, rest, true
			}
		}
	}
	return "", text, false
}

func isWord(r rune) bool {
	return r < utf8.RuneSelf && (unicode.IsLetter(r) || unicode.IsDigit(r))
}

func endsInWord(text string) bool {
	r, _ := utf8.DecodeLastRuneInString(text)
	return isWord(r)
}

// signs are characters that are said, or paused at, wherever they stand.
var signs = map[rune]string{
	'&': " and ", '+': " plus ", '=': " equals ", '<': " less than ", '>': " more than ",
	'≤': " at most ", '≥': " at least ", '~': " about ", '≈': " about ", '±': " plus or minus ",
	'@': " at ", '%': " percent ", '°': " degrees ", '/': " or ", '×': " times ", '÷': " divided by ",
	'→': " to ", '⇒': " to ", '↔': " or ", '←': " from ", '↑': " up ", '↓': " down ",
	'Ø': " diameter ", '∅': " diameter ", 'Ω': " ohms ", 'μ': " micro ", '√': " root ", 'Δ': " delta ",
	'(': ", ", ')': ", ", '[': ", ", ']': ", ", '{': ", ", '}': ", ", ';': ", ", '|': ", ", '•': ", ",
	'–': ", ", '—': ", ", '\n': ", ",
	'.': ".", ',': ",", '?': "?", '!': "!", ':': ":", '-': "-", '\'': "'",
}

// sayRune is what becomes of a character that no rule takes.
func sayRune(r rune) string {
	if isWord(r) {
		return string(r)
	}
	if said, ok := signs[r]; ok {
		return said
	}
	return " "
}

// folded brings characters that stand for the same thing to one form before the
// rules see them.
var folded = strings.NewReplacer(
	"’", "'", "‘", "'", "`", "'", "“", `"`, "”", `"`, "„", `"`, "«", `"`, "»", `"`,
	"″", `"`, "′′", `"`, "''", `"`, "′", "'",
	"‐", "-", "‑", "-", "‒", "–", "―", "–", "−", "-",
	"¼", " 1/4", "½", " 1/2", "¾", " 3/4", "⅓", " 1/3", "⅔", " 2/3", "⅕", " 1/5",
	"⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8", "⁄", "/", "∕", "/",
	"²", "^2", "³", "^3", "⋅", "·", "∙", "·", "●", "•", "▪", "•", "◦", "•", "‣", "•",
	"⌀", "Ø", "ø", "Ø", "➔", "→", "➜", "→", "➡", "→", "<=", "≤", ">=", "≥", "=>", "→", "->", "→", "№", "No. ", "∆", "Δ",
	"™", "", "®", "", "©", "", "…", ", ", "...", ", ", "_", " ",
	"ß", "ss", "æ", "ae", "Æ", "Ae", "œ", "oe", "Œ", "Oe", "ł", "l", "Ł", "L", "đ", "d",
)

// fold prepares text: one form for each sign, letters without their accents, and
// plain spaces. Line breaks stay.
func fold(text string) string {
	text = folded.Replace(upTo.ReplaceAllString(strings.ToValidUTF8(text, " "), "$1 to $2"))
	text = norm.NFKD.String(text)
	text = strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case unicode.IsSpace(r) || unicode.IsControl(r):
			return ' '
		case unicode.Is(unicode.Mn, r) || unicode.Is(unicode.Cf, r):
			return -1
		}
		return r
	}, text)
	text = folded.Replace(text)
	text = abbreviated.ReplaceAllString(text, "$1 $2")
	text = mains.ReplaceAllString(text, "$1 AC")
	text = twoSided.ReplaceAllString(text, "$1, $2")
	text = closeDash.ReplaceAllString(text, "$1 to $2")
	return strings.TrimSpace(text)
}

var (
	// abbreviated finds a unit whose dot is no full stop.
	abbreviated = regexp.MustCompile(`(\d ?(?:mm|cm|min|sec|hrs?|ft|lbs?|oz|qt|gal))\. ([a-z])`)
	// upTo finds dots that mean a range: 1…4.
	upTo = regexp.MustCompile(`(\d)(?:…|\.\.\.?)(\d)`)
	// mains finds the sign of alternating current: 230 V~.
	mains = regexp.MustCompile(`(\d ?k?V) ?~`)
	// twoSided finds a tolerance whose sides differ: +0.05/-0.02 mm.
	twoSided = regexp.MustCompile(`(\d) ?/ ?([-+] ?[.\d])`)
	// closeDash finds a dash between two values that has no room: 12.4V–12.8V.
	closeDash = regexp.MustCompile(`([A-Za-z0-9°%])–(-?\d)`)
)

// tidy settles spaces and punctuation: one space between words, none before a
// stop, the strongest of several stops, hyphens and apostrophes only inside words.
func tidy(text string) string {
	var out []byte
	stop := byte(0) // a stop waiting for the next word
	space := false
	for i := 0; i < len(text); i++ {
		c := text[i]
		switch {
		case c == ' ':
			space = true
		case strings.IndexByte(",:.!?", c) >= 0:
			if strings.IndexByte(",:.!?", c) > strings.IndexByte(",:.!?", stop) || stop == 0 {
				stop = c
			}
		case (c == '-' || c == '\'') && !(i > 0 && i+1 < len(text) && isWord(rune(text[i-1])) && isWord(rune(text[i+1]))):
			space = true
		default:
			if len(out) > 0 && stop != 0 {
				out = append(out, stop, ' ')
			} else if len(out) > 0 && space {
				out = append(out, ' ')
			}
			out = append(out, c)
			stop, space = 0, false
		}
	}
	if len(out) > 0 && stop != 0 && stop != ',' && stop != ':' {
		out = append(out, stop)
	}
	return string(out)
}
