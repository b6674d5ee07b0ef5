package procedures

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// Limits of a lexicon file. They stand far above any shop's.
const (
	maxLexiconBytes = 64 << 10
	maxSpoken       = 200 // bytes of one spoken form
)

// LoadLexicon reads a lexicon file, in YAML, and lays it over DefaultLexicon: what
// the file says goes before every rule. Each line is a written word and how it is
// said:
//
//	ABS: anti-lock brakes   # a capital letter: only as it stands
//	assy: assembly          # lower case: in any case, with or without a dot after it
//	16V: 16 valve
//	1/4-20: quarter 20
//
// A written word is letters and digits with dots, slashes, hyphens and apostrophes
// between them, and not only digits. The spoken form is words, and may use no word
// that the lexicon itself would say otherwise. The lexicon is nil when one of the
// mistakes is an Error; a file without entries gives the default. LoadLexicon takes
// any bytes.
func LoadLexicon(name string, data []byte) (Lexicon, []Mistake) {
	return NewAloud("").LoadLexicon(name, data)
}

// LoadLexicon is [LoadLexicon] for the language, over the trade's usual abbreviations of it. Words may have any letters then, and the
// forms that are said are those of the language.
func (a Aloud) LoadLexicon(name string, data []byte) (Lexicon, []Mistake) {
	r := newReader(name)
	lexicon := NewAloud(a.Language).Lexicon
	if len(data) > maxLexiconBytes {
		r.report("", place{}, Error, fmt.Sprintf("the lexicon has %d bytes, more than %d", len(data), maxLexiconBytes),
			"Keep the words that the shop needs")
		return nil, r.mistakes
	}
	if !hasEntries(data) {
		return lexicon, nil
	}
	if text, ok := r.clean(data); ok {
		if root := r.parse(text); root != nil {
			r.lexicon(root, Aloud{a.Language, lexicon})
		}
	}
	if Refused(r.mistakes) {
		return nil, r.mistakes
	}
	return lexicon, r.mistakes
}

// hasEntries reports whether the text has a line that is no comment.
func hasEntries(data []byte) bool {
	for line := range bytes.Lines(bytes.TrimPrefix(data, []byte("\ufeff"))) {
		if line = bytes.TrimSpace(line); len(line) > 0 && line[0] != '#' {
			return true
		}
	}
	return false
}

// lexicon reads the entries, then looks at each spoken form with all of them in
// force.
func (r *reader) lexicon(root node, a Aloud) {
	into := a.Lexicon
	m, ok := root.(*ast.MappingNode)
	if !ok {
		r.fail("", root, "the lexicon should be written words with their spoken forms", "Write one entry a line, such as `ABS: A B S`")
		return
	}
	found := map[string]bool{}
	for _, entry := range m.Values {
		word := strings.TrimSuffix(keyName(entry), ".")
		said, ok := r.scalar(word, entry.Value)
		switch {
		case !ok:
		case !a.isKey(word):
			r.fail(word, entry.Key, fmt.Sprintf("%q is no word that can be looked up", word),
				"Use up to 40 letters and digits, with dots, slashes, hyphens or apostrophes between them")
		case found[word]:
			r.fail(word, entry.Key, fmt.Sprintf("%q stands here twice", word), "Keep one of them")
		case len(said) > maxSpoken:
			r.fail(word, entry.Value, fmt.Sprintf("%q is said in more than %d letters", word, maxSpoken), "Say it shorter")
		default:
			if into[word] = NewAloud(a.Language).Speakable(said); into[word] == "" {
				r.fail(word, entry.Value, fmt.Sprintf("nothing in %q can be spoken", said), "Write it in words")
			}
		}
		found[word] = true
	}
	for _, entry := range m.Values {
		word := strings.TrimSuffix(keyName(entry), ".")
		if said := into[word]; said != "" && a.again(said) != said {
			r.fail(word, entry.Value, fmt.Sprintf("%q is to be said %q, and that would be said otherwise again", word, said),
				"Use words in it that have no entry of their own")
		}
	}
}

// lexiconKey reports whether a word is one that lookUp can find.
func lexiconKey(word string) bool {
	return len(word) <= maxLexiconWord && lexiconWord.FindString(word) == word && strings.Trim(word, "0123456789") != "" && fold(word) == word
}

// isKey reports whether a word is one that the language's rules look up.
func (a Aloud) isKey(word string) bool {
	if a.base() == "en" {
		return lexiconKey(word)
	}
	return len(word) <= maxLexiconWord && foreignWord(word) == word && strings.Trim(word, "0123456789") != ""
}

// again is what a spoken form would be said as.
func (a Aloud) again(said string) string {
	if a.base() == "en" {
		return tidy(a.Lexicon.pass(said))
	}
	return a.Speakable(said)
}
