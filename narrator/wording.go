package narrator

import (
	"fmt"
	"strings"

	"stepcaller/procedures/tongue"
)

// wording words what is said, in the shop's language: its methods make whole sentences from the state of a job. The texts are English,
// and keys of the language file at once; what comes from a procedure stays as it is written there. The zero wording is English.
//
// A test collects the keys: what F, N and reply are given, the constants that begin with reply, and what a function returns whose name
// ends in Text.
type wording struct {
	*tongue.Tongue
	shop Settings
}

// length words a span for the ear: seconds below two minutes, else minutes and hours.
func (w wording) length(s Span) string {
	seconds := int64((s + Second/2) / Second)
	switch {
	case seconds < 90 && seconds != 60:
		return w.N(int(seconds), "%d second", "%d seconds")
	case seconds < 3600:
		return w.N(int((seconds+30)/60), "%d minute", "%d minutes")
	}
	minutes := (seconds + 30) / 60
	text := w.N(int(minutes/60), "%d hour", "%d hours")
	if m := minutes % 60; m > 0 {
		text += " " + w.N(int(m), "%d minute", "%d minutes")
	}
	return text
}

// plain writes three significant figures without an exponent.
func plain(f float64) string {
	digits := 0
	for v := f; v < 100 && digits < 6; v *= 10 {
		digits++
	}
	text := fmt.Sprintf("%.*f", digits, f)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// texts words a list.
func texts[T fmt.Stringer](list []T) []string {
	var words []string
	for _, entry := range list {
		words = append(words, entry.String())
	}
	return words
}

func sentences(list []string) string {
	var parts []string
	for _, s := range list {
		parts = append(parts, full(s))
	}
	return strings.Join(parts, " ")
}

// full ends a text with a full stop unless it has an end already.
func full(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.ContainsRune(".!?", rune(s[len(s)-1])) {
		return s
	}
	return s + "."
}

func bare(s string) string { return strings.TrimRight(strings.TrimSpace(s), ".!?") }

func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToLower(string(r[:1])) + string(r[1:])
}

// inside is a name or a heading of the procedure as it stands within a sentence. In languages other than English a capital may belong to
// the word.
func (w wording) inside(s string) string {
	if w.Tag() == tongue.English {
		return lowerFirst(s)
	}
	return s
}
