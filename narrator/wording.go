package narrator

import (
	"fmt"
	"strings"
)

// length words a span for the ear: seconds below two minutes, else minutes and hours.
func length(s Span) string {
	seconds := int64((s + Second/2) / Second)
	switch {
	case seconds < 90 && seconds != 60:
		return count(int(seconds), "second")
	case seconds < 3600:
		return count(int((seconds+30)/60), "minute")
	}
	minutes := (seconds + 30) / 60
	text := count(int(minutes/60), "hour")
	if m := minutes % 60; m > 0 {
		text += " " + count(int(m), "minute")
	}
	return text
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
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
	r := []rune(s)
	return strings.ToLower(string(r[:1])) + string(r[1:])
}
