package procedures

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"
)

// deed is a verb of the workshop and the list of a step that its object goes to.
type deed struct {
	verb string
	key  string // of the list, "" for a verb that leaves nothing to be undone
}

// deedWords are the verbs that begin a clause, in both spellings of the trade.
var deedWords = []deed{
	{"take off", "off"}, {"take out", "off"}, {"lift off", "off"}, {"lift out", "off"}, {"lift away", "off"}, {"pull off", "off"},
	{"pull out", "off"}, {"remove", "off"}, {"unbolt", "off"}, {"unscrew", "off"}, {"withdraw", "off"}, {"detach", "off"}, {"press out", "off"},
	{"drive out", "off"}, {"drift out", "off"}, {"tap out", "off"}, {"slide off", "off"}, {"slide out", "off"}, {"lever off", "off"},
	{"prise off", "off"}, {"pry off", "off"}, {"press in", "back"}, {"drive in", "back"}, {"slide on", "back"},
	{"disconnect", "disconnect"}, {"unplug", "disconnect"}, {"unclip", "disconnect"},
	{"loosen", "loosen"}, {"slacken", "loosen"}, {"back off", "loosen"}, {"undo", "loosen"}, {"crack off", "loosen"},
	{"drain", "drain"}, {"open", "open"}, {"stuff", "stuff"}, {"plug in", "connect"}, {"plug", "plug"}, {"support", "support"},
	{"refit", "back"}, {"reinstall", "back"}, {"install", "back"}, {"put back", "back"}, {"insert", "back"}, {"fit", "back"}, {"re-fit", "back"},
	{"re-install", "back"}, {"mount", "back"}, {"reconnect", "connect"}, {"connect", "connect"}, {"re-connect", "connect"},
	{"tighten", "tight"}, {"retighten", "tight"}, {"torque", "tight"}, {"hand-tighten", "by_hand"}, {"finger-tighten", "by_hand"},
	{"close", "shut"}, {"shut", "shut"}, {"refill", "fill"}, {"fill up", "fill"}, {"fill", "fill"}, {"replace", "replace"}, {"renew", "renew"}, {"start", "start"}, {"run", "start"}, {"screw", "start"},
}

// otherWords begin a clause too, and so end the one before.
const otherWords = `do not|don't|never|clean|check|wait|measure|apply|turn|rotate|lower|raise|lift|press|push|pull|set|align|let|allow|inspect|` +
	`discard|bleed|use|hold|mark|wipe|release|jack|lubricate|coat|ensure|make sure|switch|test|repeat|move|slide|note|count|adjust|` +
	`leave|oil|grease|tap|position|guide|secure|keep|feed|top up|look|verify|confirm|read|listen|drive|park|place|put|bolt|catch|collect|lock|take|hang|work`

// clause finds where a clause begins, and its verb.
var clauseStart = func() *regexp.Regexp {
	var verbs []string
	for _, d := range deedWords {
		verbs = append(verbs, regexp.QuoteMeta(d.verb))
	}
	return regexp.MustCompile(`(?i)(?:^|[,;:.(]\s|\b(?:and|then|now|next|or)\s)(?:\s*(?:and|then|now|next|first|finally|again|also|carefully|gently|slowly|` +
		`fully|lightly|evenly|loosely|partly|working evenly|if necessary)\b,?\s*)*(` + strings.Join(verbs, "|") + `|` + otherWords + `)\b`)
}()

// terse is a deed in the short form of a workshop sheet: "Air duct - remove".
var terseDeed = regexp.MustCompile(`(?i)^([^,.;:]{3,60}?)(?:\s[-–—]\s|:\s)\s*(remove|refit|install|disconnect|reconnect|unplug|connect|loosen|slacken|tighten|drain|refill|open|close|pull out|pull off|take out|take off|lift off|lift out)\b(.*)$`)

// bracketCount is the count of a terse entry: "Coil bolts (4)".
var bracketCount = regexp.MustCompile(`^(.*?)\s*\(\s*(\d{1,2})\s*(?:off|x|×)?\s*\)$`)

var (
	// objectEnd begins what is said about an object after its name.
	objectEnd = regexp.MustCompile(`(?i)\s(?:from|with|using|by|until|so|before|after|while|to|into|onto|on|at|in|that|which|holding|securing|retaining|as|if|when|for|` +
		`through|over|under|off|out|hand|finger|again|together|completely|fully|evenly|crosswise|criss-cross|diagonally|alternately|securely|firmly|loosely|is|are|and then|a few|one turn|half a turn|\d+ turns?)\b|\s?[(;:!?]|\s?\.(?:\s|$)|\s[-–—]\s|$`)
	objectJoin  = regexp.MustCompile(`(?i),\s*(?:and\s+)?(?:then\s+)?|\s+and\s+|\s+&\s+|\s+plus\s+`)
	articleWord = regexp.MustCompile(`(?i)^(?:the|a|an|both|all|any|each|every|its|their|old|used|remaining|other|of|new|then)\s+`)
	byHand      = regexp.MustCompile(`(?i)\b(?:by hand|finger[- ]tight|hand[- ]tight|with (?:the|your) fingers)`)
	supporter   = regexp.MustCompile(`(?i)\b(?:with|on|using)\s+(?:an?\s+|the\s+)?((?:\d+\s+|two\s+|four\s+)?(?:[a-z-]+\s+){0,2}(?:jacks?|stands?|props?|blocks?|hooks?|hoist|beam|straps?|wire|cord))\b`)
	pinIn       = regexp.MustCompile(`(?i)\bwith\s+(?:an?\s+|the\s+)?((?:\d+(?:\.\d+)?\s*mm\s+)?(?:[a-z-]+\s+){0,2}(?:pin|rod|drill))\b`)
	filledWith  = regexp.MustCompile(`(?i)\bwith\s+(?:\d[\d.,]*\s*(?:l|lit(?:re|er)s?|ml|qt|quarts?)\s+)?(?:of\s+)?(?:new\s+|fresh\s+|clean\s+)?([a-z]+(?:\s[a-z]+)?)\b`)
	numbersOnly = regexp.MustCompile(`^[A-Za-z -]+\d+(?:\s*,\s*\d+)*\s*(?:,|\band\b|&)\s*\d+$`)
	// takenOff is what stands between the halves of "take … off".
	takenOff    = regexp.MustCompile(`(?i)^\s+(.{2,60}?)\s+(off|out|away|back|back on|back in)\b`)
	ragIn       = regexp.MustCompile(`(?i)\bwith\s+(?:an?\s+)?((?:\d+\s+|two\s+|four\s+)?(?:[a-z-]+\s+){0,2}(?:rags?|cloths?|paper))\b`)
	plugBackIn  = regexp.MustCompile(`(?i)\bplug (.{2,40}?) back in\b`)
	pronoun     = regexp.MustCompile(`(?i)^(?:it|them|these|those|this|everything|all)$`)
	conditional = regexp.MustCompile(`(?i)^(?:if|when|where|unless|should)\b`)
)

// deeds keeps account of what the steps take off and put back, so that a draft
// holds only what agrees.
type deeds struct {
	open []openItem
	last []string // the objects named last, for "it" and "them"
}

// read enters what the words of a step take off and put back.
func (d *deeds) read(s *DraftStep, index int) {
	d.last = nil
	for _, sentence := range sentences(s.Say) {
		if terseDeed.MatchString(sentence) {
			for part := range strings.SplitSeq(sentence, ";") {
				if m := terseDeed.FindStringSubmatch(strings.TrimSpace(part)); m != nil {
					d.do(s, index, strings.ToLower(m[2]), bracketCount.ReplaceAllString(lowerWord(m[1]), "$2 $1"), m[3])
				}
			}
			continue
		}
		if m := plugBackIn.FindStringSubmatch(sentence); m != nil {
			d.do(s, index, "connect", m[1], "")
			sentence = strings.Replace(sentence, m[0], "", 1)
		}
		if conditional.MatchString(sentence) {
			s.doubt("only sometimes: %q; make it a choice with `only_if`, or a step of its own", short(sentence))
			continue
		}
		found := clauseStart.FindAllStringSubmatchIndex(sentence, -1)
		for k, at := range found {
			if strings.HasPrefix(sentence[at[3]:], "-") {
				continue // torque-to-yield
			}
			end := len(sentence)
			if k+1 < len(found) {
				end = found[k+1][0]
			}
			d.do(s, index, strings.ToLower(sentence[at[2]:at[3]]), sentence[at[3]:end], "")
		}
	}
	for _, t := range s.Torque { // what is torqued is tight, whether or not a verb says so
		if at, _ := d.find(countedName(t.Count, t.Fastener), undoing["tight"]...); at >= 0 {
			d.undo(s, "tight", t.Fastener)
		}
	}
}

// do enters one verb with its object and what follows.
func (d *deeds) do(s *DraftStep, index int, verb, object, rest string) {
	key := ""
	for _, w := range deedWords {
		if w.verb == verb {
			key = w.key
		}
	}
	whole := object + rest
	if m := takenOff.FindStringSubmatch(object); m != nil && splitVerbs[verb] {
		object, key = m[1], "off"
		if strings.HasPrefix(strings.ToLower(m[2]), "back") {
			key = "back"
		}
	}
	names := objects(object)
	pin := len(names) > 0 && lockingPin.MatchString(names[0])
	switch {
	case key == "" && !pin && !pinIn.MatchString(whole):
		return
	case key == "start" && !byHand.MatchString(whole):
		return
	case key == "start", (key == "back" || key == "tight") && byHand.MatchString(whole):
		key = "by_hand"
	case verb == "support":
		if m := supporter.FindStringSubmatch(whole); m != nil {
			count, name := leadingCount(m[1])
			d.leave(s, index, key, countedName(count, name))
		} else {
			s.doubt("%q: what holds it, and which step takes that away?", short(strings.TrimSpace(verb+whole)))
		}
		return
	}
	if pin && (key == "back" || verb == "insert" || verb == "push" || verb == "put" || verb == "slide") {
		key = "support" // it must come out again
	}
	if m := pinIn.FindStringSubmatch(whole); m != nil && (verb == "lock" || verb == "secure" || verb == "hold") {
		key, names = "support", objects(m[1])
	}
	if m := filledWith.FindStringSubmatch(whole); m != nil && key == "fill" {
		names = nil
		if at, _ := d.find(m[1], "drain"); at >= 0 {
			names = []string{m[1]}
		}
	}
	if m := ragIn.FindStringSubmatch(whole); m != nil && (key == "plug" || key == "stuff") {
		key, names = "stuff", objects(m[1])
	}
	if key == "" {
		return
	}
	before := d.last
	for k, name := range names {
		if pronoun.MatchString(name) {
			for _, name := range before {
				d.enter(s, index, key, verb, name)
			}
			continue
		}
		if k == 0 {
			d.last = nil
		}
		d.last = append(d.last, name)
		d.enter(s, index, key, verb, name)
	}
}

// splitVerbs may have their object between them and "off" or "back".
var splitVerbs = map[string]bool{"take": true, "lift": true, "pull": true, "slide": true, "put": true, "screw": true, "press": true, "tap": true, "push": true}

var (
	inBrackets = regexp.MustCompile(`\s*\([^()]*\)`)
	lockingPin = regexp.MustCompile(`(?i)\b(?:lock(?:ing)?|timing|alignment|setting) (?:pins?|bolts?|bars?|tools?|rods?)\b`)
	noThing    = regexp.MustCompile(`(?i)^(?:specs?|specifications?|values?|settings?|sequence|order|steps?|stages?)$`)
	loneAnd    = regexp.MustCompile(`(?i)(?:,|\s(?:and|then|or))+\s*$`)
)

// countedName is a name with its count, where there is one.
func countedName(count int, name string) string {
	if count == 0 {
		return name
	}
	return strconv.Itoa(count) + " " + name
}

// lowerWord is text with a small first letter, unless its first word is a code.
func lowerWord(text string) string {
	if len(text) < 2 || text[1] < 'a' || text[1] > 'z' {
		return text
	}
	return lowerFirst(text)
}

// objects are the things that the text after a verb names.
func objects(text string) []string {
	text = strings.TrimSpace(inBrackets.ReplaceAllString(text, " "))
	if at := objectEnd.FindStringIndex(" " + text); at != nil {
		text = (" " + text)[:at[0]]
	}
	if at := torqueWritten.FindStringIndex(text); at != nil {
		text = text[:at[0]]
	}
	text = strings.TrimSpace(loneAnd.ReplaceAllString(text, ""))
	listed := objectJoin.Split(text, -1)
	if numbersOnly.MatchString(text) { // plugs 1, 2 and 3
		listed = []string{text}
	}
	var names []string
	for _, name := range listed {
		count, rest := leadingCount(strings.TrimSpace(name))
		for articleWord.MatchString(rest) {
			rest = articleWord.ReplaceAllString(rest, "")
			if count == 0 {
				count, rest = leadingCount(rest)
			}
		}
		rest = strings.TrimFunc(rest, func(r rune) bool {
			return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '"' && r != ')' && r != '+'
		})
		words := strings.Fields(rest)
		if len(words) == 0 || len(words) > 6 || len(rest) > 60 || !strings.ContainsFunc(rest, unicode.IsLetter) || !hasSound(rest) || noThing.MatchString(rest) {
			continue
		}
		names = append(names, countedName(count, rest))
		if len(names) == maxFound {
			break
		}
	}
	return names
}
