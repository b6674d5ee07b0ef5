package procedures

import (
	"maps"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Aloud makes written trade text ready for a voice of one language.
type Aloud struct {
	Language string  // BCP 47 tag; "" is English
	Lexicon  Lexicon // how whole words are said; it goes before every rule
}

// NewAloud is a language with its trade's usual abbreviations.
func NewAloud(language string) Aloud {
	a := Aloud{Language: language, Lexicon: Lexicon{}}
	switch a.base() {
	case "en":
		a.Lexicon = DefaultLexicon()
	case "de":
		a.Lexicon = maps.Clone(germanLexicon)
	}
	return a
}

// base is the language without its region: "de" of de-AT.
func (a Aloud) base() string {
	if a.Language == "" {
		return "en"
	}
	base, _, _ := strings.Cut(strings.ToLower(a.Language), "-")
	return base
}

// Speakable turns written trade text into words that a voice of the language can say. English is [Lexicon.Speakable]. In German, units,
// fractions, threads and abbreviations are written out and decimals have a comma; numbers stay in figures. In another language only the
// lexicon's words and the shop's own are changed, and what has no sound is dropped. The result holds only letters, digits, spaces and
// . , ? ! : ' -. It is empty when nothing can be spoken.
func (a Aloud) Speakable(text string) string {
	switch a.base() {
	case "en":
		return a.Lexicon.Speakable(text)
	case "de":
		return sayGerman(a.Lexicon, text)
	}
	return settle(a.Lexicon.words(norm.NFC.String(strings.ToValidUTF8(text, " "))), nil)
}

// words says the words of the lexicon in a text; a dot that belongs to an abbreviation goes with it.
func (l Lexicon) words(text string) string {
	if len(l) == 0 {
		return text
	}
	var out strings.Builder
	for inWord := false; text != ""; {
		word := foreignWord(text)
		if inWord || word == "" {
			size := 1
			for size < len(text) && text[size]&0xC0 == 0x80 {
				size++
			}
			inWord = letter(text[:size])
			out.WriteString(text[:size])
			text = text[size:]
			continue
		}
		said, rest := word, text[len(word):]
		for part := word; part != ""; part = shortenForeign(part) {
			if found, ok := l.find(part); ok && !startsInLetter(text[len(part):]) {
				said, rest = found, text[len(part):]
				if dotted := strings.TrimPrefix(rest, "."); dotted != rest && !sentenceEnds(dotted) {
					rest = dotted
				}
				break
			}
		}
		out.WriteString(said)
		text = rest
	}
	return out.String()
}

// foreignWord is what may be a key at the start of a text: letters and digits of any alphabet, with dots, slashes, hyphens and apostrophes
// between them.
func foreignWord(text string) string {
	end := 0
	for i, r := range text {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			end = i + len(string(r))
		} else if !strings.ContainsRune("./-'", r) || i != end || i == 0 {
			break
		}
	}
	return text[:end]
}

// shortenForeign takes the last part off a word: "z.B", "z".
func shortenForeign(word string) string { return word[:max(0, strings.LastIndexAny(word, "./'-"))] }

func letter(text string) bool {
	for _, r := range text {
		return unicode.IsLetter(r) || unicode.IsDigit(r)
	}
	return false
}

func startsInLetter(text string) bool { return letter(text) }

// decimalMark stands for a decimal comma while punctuation is settled.
const decimalMark = "\x01"

// settle says signs and tidies up. Signs that are not named are pauses or nothing.
func settle(text string, signs map[rune]string) string {
	var out strings.Builder
	for _, r := range text {
		switch said, ok := signs[r]; {
		case ok:
			out.WriteString(said)
		case unicode.IsLetter(r), unicode.IsDigit(r), r == 1, strings.ContainsRune(".,?!:-'", r):
			out.WriteRune(r)
		case strings.ContainsRune("()[]{};|•–—\n…", r):
			out.WriteString(", ")
		default:
			out.WriteByte(' ')
		}
	}
	return strings.ReplaceAll(tidy(out.String()), decimalMark, ",")
}
