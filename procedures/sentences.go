package procedures

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// sentences splits text after full stops, exclamation and question marks, where a
// new sentence begins with a capital letter.
func sentences(text string) []string {
	var all []string
	begin := 0
	for at, r := range text {
		if !strings.ContainsRune(".!?", r) || at+2 >= len(text) || text[at+1] != ' ' {
			continue
		}
		next, _ := utf8.DecodeRuneInString(text[at+2:])
		if unicode.IsUpper(next) && !shortened.MatchString(text[begin:at+1]) {
			all = append(all, strings.TrimSpace(text[begin:at+1]))
			begin = at + 2
		}
	}
	return append(all, strings.TrimSpace(text[begin:]))
}

// shortened finds an abbreviation that a sentence does not end with.
var shortened = regexp.MustCompile(`(?i)(?:^|[\s(])(?:no|nos|fig|approx|incl|e\.g|i\.e|max|min|ca|ref|pos|assy|cyl|[A-Z])\.$`)

// cutText takes at most limit characters off the front of text, at the end of a
// sentence where there is one, else between words.
func cutText(text string, limit int) (head, rest string) {
	if utf8.RuneCountInString(text) <= limit {
		return text, ""
	}
	for _, s := range sentences(text) {
		if utf8.RuneCountInString(head)+utf8.RuneCountInString(s) >= limit {
			break
		}
		head = strings.TrimSpace(head + " " + s)
	}
	if head == "" {
		head, rest = cutRunes(text, limit)
		if space := strings.LastIndexByte(head, ' '); space > 0 {
			head, rest = head[:space], text[space:]
		}
		return head, strings.TrimSpace(rest)
	}
	return head, strings.TrimSpace(text[len(head):])
}

// cutRunes cuts text after a number of characters.
func cutRunes(text string, limit int) (head, rest string) {
	for at := range text {
		if limit == 0 {
			return text[:at], text[at:]
		}
		limit--
	}
	return text, ""
}

// short is text at a length for a list, with dots where it was cut.
func short(text string) string {
	head, rest := cutRunes(text, 200)
	if rest != "" {
		return head + " …"
	}
	return head
}

// countWords are the numbers that are written in words before a fastener.
var countWords = map[string]int{
	"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10,
	"eleven": 11, "twelve": 12, "both": 2,
}

// phraseStops are words that end a thing's name when it is read backwards from its
// last word.
var phraseStops = func() map[string]bool {
	stops := map[string]bool{}
	for _, w := range strings.Fields(`the a an all both any each every its their your of to from with without and or then in on at by
		for using until into onto under over through as so that which when if it them is are be use fit refit install tighten torque loosen
		slacken remove undo start screw run turn rotate check take pull push lift hold grip support clean oil measure insert hand apply put
		get renew replace reconnect connect disconnect unplug before after while between retighten finally now next nip pinch bolt unscrew reach`) {
		stops[w] = true
	}
	return stops
}()

// figureEnd is a figure or a fraction.
var figureEnd = regexp.MustCompile(`^\(?(?:\d+-)?\d+(?:[./]\d+)?$`)

// thing is something named in the text: "4 M8×25 cover bolts".
type thing struct {
	name  string // without its count
	count int    // 0 where none is written
}

// thingAt is the thing whose name ends with words[last], read backwards to the
// article, verb or sign before it.
func thingAt(words []string, last int) thing {
	first := last
	for first > 0 && last-first < 7 {
		before := words[first-1]
		inch := strings.EqualFold(before, "in.") && first > 1 && figureEnd.MatchString(words[first-2])
		if !inch && strings.ContainsAny(before[len(before)-1:], ",;:.)!?") || strings.HasPrefix(words[first], "(") || !inch && phraseStops[strings.ToLower(strings.Trim(before, "(\"'"))] {
			break
		}
		first--
	}
	var phrase []string
	for _, w := range words[first : last+1] {
		inch := strings.HasSuffix(w, `"`) && figureEnd.MatchString(strings.TrimSuffix(w, `"`))
		if w = strings.Trim(w, "(),;:.!?\"'"); inch {
			w += `"`
		}
		if l := strings.ToLower(w); w != "" && l != "new" && l != "old" {
			phrase = append(phrase, w)
		}
	}
	both := first > 0 && strings.EqualFold(words[first-1], "both")
	count, name := leadingCount(strings.Join(phrase, " "))
	if both && count == 0 {
		count = 2
	}
	return thing{name, count}
}

var (
	countFirst = regexp.MustCompile(`(?i)^(\d{1,3}|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve)\s*(?:[x×]\s+|off\s+|no\.?\s+|\s)\s*([A-Za-z].*)$`)
	sizeNext   = regexp.MustCompile(`(?i)^(?:mm|cm|m|in|inch|ft|l|litres?|ml|kg|g|v|volts?|a|amps?|w|mins?|minutes?|hours?|h|s|bar|psi|turns?|degrees?|point|n·m|nm)\b`)
)

// leadingCount takes the count off the front of a name.
func leadingCount(text string) (int, string) {
	m := countFirst.FindStringSubmatch(text)
	if m == nil || sizeNext.MatchString(m[2]) {
		return 0, text
	}
	if n := countWords[strings.ToLower(m[1])]; n > 0 {
		return n, m[2]
	}
	n := 0
	for _, digit := range m[1] {
		n = n*10 + int(digit-'0')
	}
	return n, m[2]
}
