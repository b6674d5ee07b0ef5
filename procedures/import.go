package procedures

import (
	"bytes"
	"errors"
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// What a text to import may be at most.
const (
	MaxImport      = 256 << 10 // bytes
	maxImportSteps = 500
)

// Import turns a list of steps in plain text or Markdown into a draft: numbered
// entries or bullets become steps, and what is written in them becomes torques,
// tools, timers, readings, cautions and the ledger's items. Nothing is made up:
// every value stands in the text, converted at most from hours or seconds to
// minutes. A value that cannot be read for certain stays in the step's words, and
// the step gets a doubt that says so. Tables are left out, with a note.
//
// name is the file the text comes from. The error says why no draft could be made.
func Import(name string, text []byte) (Draft, error) {
	switch {
	case len(text) > MaxImport:
		return Draft{}, fmt.Errorf("%s has %d bytes, more than %d; import it in parts", name, len(text), MaxImport)
	case bytes.HasPrefix(text, []byte{0xff, 0xfe}), bytes.HasPrefix(text, []byte{0xfe, 0xff}):
		return Draft{}, fmt.Errorf("%s is UTF-16 text; save it as UTF-8", name)
	case !utf8.Valid(text):
		return Draft{}, fmt.Errorf("%s is not UTF-8 text; save it as UTF-8", name)
	}
	i := importer{seen: map[string]bool{}}
	for _, p := range piecesOf(cleanText(string(text))) {
		if err := i.take(p); err != nil {
			return Draft{}, fmt.Errorf("%s: %w", name, err)
		}
	}
	if len(i.draft.Steps) == 0 {
		return Draft{}, fmt.Errorf("%s holds no list of steps; number them, or begin each with a hyphen", name)
	}
	i.finish()
	if i.draft.Title == "" {
		base := filepath.Base(name)
		i.draft.Title = strings.TrimSuffix(base, filepath.Ext(base))
	}
	return i.draft, nil
}

// cleanText is text with line feeds, spaces for tabs, and no other controls.
func cleanText(text string) string {
	text = strings.NewReplacer("\ufeff", "", "\r\n", "\n", "\r", "\n", "\t", "    ", "\u2028", "\n", "\u2029", "\n", "\u00a0", " ", "\u202f", " ").Replace(text)
	return closeGaps(strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
		case unicode.IsControl(r):
			return ' '
		case unicode.Is(unicode.Cf, r): // a soft hyphen
			return 0
		}
		return r
	}, text))
}

// importer makes a draft piece by piece.
type importer struct {
	draft    Draft
	section  section
	cautions []Caution // for the next step
	verb     string    // for the entries below an entry of one word
	seen     map[string]bool
	deeds    deeds
}

// section is what the entries below a heading are.
type section int

const (
	stepsSection section = iota
	toolsSection
	partsSection
	safetySection
	factsSection // values and other words that are no steps
)

var sectionNames = []struct {
	heading *regexp.Regexp
	is      section
}{
	{regexp.MustCompile(`(?i)^(?:special |required |service )*(?:tools?|equipment)\b`), toolsSection},
	{regexp.MustCompile(`(?i)^(?:required |new |spare )*(?:parts?|materials?|consumables?|fluids?|supplies|lubricants?)\b`), partsSection},
	{regexp.MustCompile(`(?i)^(?:safety|warnings?|cautions?|precautions?|before you (?:start|begin)|important|notes? before)\b`), safetySection},
	{regexp.MustCompile(`(?i)^(?:specifications?|torques?|torque (?:values|settings|table|specs).*|tightening torques.*|technical data|data|contents|references?|notes?|figures?|history|revision.*)\W*$`), factsSection},
}

var (
	factLine    = regexp.MustCompile(`(?i)^(?:machine|vehicle|model|applies to|applicability|engine)\s*:\s*(\S.*)$`)
	titleLine   = regexp.MustCompile(`(?i)^(?:title|job|operation|subject|procedure)\s*:\s*(\S.*)$`)
	needLine    = regexp.MustCompile(`(?i)^(?:special |required |new )*(tools?|equipment|parts?|materials?)(?: needed| required)?\s*:\s*(\S.*)$`)
	betweenNeed = regexp.MustCompile(`\s*[,;]\s*`)
	reverseHint = regexp.MustCompile(`(?i)\b(?:reverse|reversal)\b.*\b(?:removal|dismantling|disassembly|order)\b`)
)

// take adds one piece of the text to the draft.
func (i *importer) take(p piece) error {
	text, pictures := unmarked(p.text)
	last := i.last()
	switch {
	case p.kind == tableLine:
		i.note("A table at line %d was left out: take its values over by hand", p.line)
	case p.kind == warningLine && p.nested && last != nil:
		i.caution(last, text)
	case p.kind == warningLine:
		if c, ok := asCaution(text); ok {
			i.cautions = append(i.cautions, c)
		}
	case p.kind == headingLine:
		i.heading(text)
	case p.kind == plainLine && last == nil:
		i.preface(text)
	case p.kind == plainLine && p.nested && i.section == stepsSection:
		return i.goOn(text, pictures)
	case p.kind == plainLine && i.section == stepsSection:
		if hasSound(text) {
			last.doubt("text after this step that is no entry of the list: %q", short(text))
		}
	default:
		return i.entry(p, text, pictures)
	}
	return nil
}

// last is the step that was added last, nil before the first.
func (i *importer) last() *DraftStep {
	if len(i.draft.Steps) == 0 {
		return nil
	}
	return &i.draft.Steps[len(i.draft.Steps)-1]
}

func (i *importer) note(format string, values ...any) {
	if len(i.draft.Notes) < maxImportSteps {
		i.draft.Notes = append(i.draft.Notes, fmt.Sprintf(format, values...))
	}
}

// heading begins a section. The first heading that names none is the title.
func (i *importer) heading(text string) {
	text = strings.TrimRight(text, ": ")
	for _, s := range sectionNames {
		if s.heading.MatchString(text) {
			i.section = s.is
			return
		}
	}
	i.section = stepsSection
	if m := titleLine.FindStringSubmatch(text); m != nil {
		text = m[1]
	}
	if i.draft.Title == "" && len(i.draft.Steps) == 0 && hasSound(text) {
		i.draft.Title = short(quiet(text))
	}
}

// quiet is text without its capitals, where it has nothing else.
func quiet(text string) string {
	if strings.ToUpper(text) != text || len(text) < 6 {
		return text
	}
	return upperFirst(strings.ToLower(text))
}

// preface is a paragraph before the first step.
func (i *importer) preface(text string) {
	switch m := factLine.FindStringSubmatch(text); {
	case !hasSound(text):
	case m != nil && i.draft.Machine == "":
		i.draft.Machine = short(strings.TrimRight(m[1], ". "))
	case titleLine.MatchString(text) && i.draft.Title == "":
		i.draft.Title = short(titleLine.FindStringSubmatch(text)[1])
	case needLine.MatchString(text):
		i.needs(needLine.FindStringSubmatch(text))
	case i.draft.Title == "" && i.section == stepsSection && len(text) < 100 && !strings.Contains(text, ". "):
		i.draft.Title = short(quiet(strings.TrimRight(text, ".: ")))
	case i.section == safetySection:
		if c, ok := asCaution(text); ok && len(i.draft.Cautions) < maxFound {
			i.draft.Cautions = append(i.draft.Cautions, c)
		}
	default:
		i.note("%s", short(text))
	}
}

// needs takes the tools or parts that one line lists.
func (i *importer) needs(m []string) {
	for _, name := range betweenNeed.Split(strings.TrimRight(m[2], ". "), maxFound) {
		switch kind := strings.ToLower(m[1]); {
		case !hasSound(name):
		case strings.HasPrefix(kind, "t"), kind == "equipment":
			i.draft.Tools = append(i.draft.Tools, short(name))
		default:
			i.draft.Parts = append(i.draft.Parts, Part{Name: short(name)})
		}
	}
}

// entry is an entry of a list in the section at hand.
func (i *importer) entry(p piece, text string, pictures []string) error {
	switch {
	case !hasSound(text):
	case i.section == toolsSection:
		i.draft.Tools = append(i.draft.Tools, short(text))
	case i.section == partsSection:
		i.draft.Parts = append(i.draft.Parts, Part{Name: short(text)})
	case i.section == factsSection:
		i.note("%s", short(text))
	case i.section == safetySection:
		if c, ok := asCaution(text); ok && len(i.draft.Cautions) < maxFound {
			i.draft.Cautions = append(i.draft.Cautions, c)
		}
	case len(i.draft.Steps) == 0 && factLine.MatchString(text) && i.draft.Machine == "":
		i.preface(text)
	case strings.HasSuffix(text, ":") && len(text) < 60:
		// A name for the entries below it, or their verb.
		i.verb = ""
		if loneVerb.MatchString(text) {
			i.verb = strings.TrimSuffix(text, ":") + " "
		}
	default:
		if !p.nested {
			i.verb = ""
		}
		return i.step(i.verb+text, pictures)
	}
	return nil
}

// loneVerb is a verb whose objects are listed below it: "Remove:".
var loneVerb = regexp.MustCompile(`(?i)^(?:remove|refit|install|disconnect|reconnect|unplug|loosen|slacken|drain|take off)(?: the following)?:$`)

// goOn takes an indented paragraph below a step: it belongs to the step.
func (i *importer) goOn(text string, pictures []string) error {
	last := i.last()
	if utf8.RuneCountInString(last.Say)+utf8.RuneCountInString(text) > maxText-1 {
		return i.step(text, pictures)
	}
	if !hasSound(text) {
		i.picture(last, pictures)
		return nil
	}
	last.doubt("a second paragraph that is no step of its own yet: %q", short(text))
	i.picture(last, pictures)
	return nil
}

func (i *importer) picture(step *DraftStep, pictures []string) {
	for _, file := range pictures {
		step.doubt("a picture here: %q; copy it beside the procedure and name it under `figures`", short(file))
	}
}

var errManySteps = errors.New("the list is too long")

// step adds a step, or several where the text is too long for one.
func (i *importer) step(text string, pictures []string) error {
	for first := true; text != ""; first = false {
		if len(i.draft.Steps) == maxImportSteps {
			return fmt.Errorf("%w: more than %d steps; import it in parts", errManySteps, maxImportSteps)
		}
		say, rest := cutText(text, maxText*3/4)
		s := DraftStep{}
		s.Cautions, i.cautions = i.cautions, nil
		s.Say = i.lift(&s, say)
		text = rest
		if !hasSound(s.Say) {
			i.cautions = append(i.cautions, s.Cautions...)
			continue
		}
		if !first {
			s.doubt("it goes on from the step before, which was too long to listen to")
		}
		s.ID = i.id(s.Say)
		i.read(&s)
		i.picture(&s, pictures)
		i.draft.Steps = append(i.draft.Steps, s)
	}
	return nil
}

// lift takes the sentences that are cautions out of a step's words.
func (i *importer) lift(s *DraftStep, text string) string {
	var say []string
	for _, sentence := range sentences(text) {
		if m := warningMark.FindStringSubmatch(sentence); m != nil {
			i.caution(s, m[2])
			continue
		}
		if m := warningLoud.FindStringSubmatch(sentence); m != nil {
			i.caution(s, m[1])
			continue
		}
		say = append(say, sentence)
	}
	return strings.Join(say, " ")
}

func (i *importer) caution(s *DraftStep, text string) {
	if c, ok := asCaution(text); ok && len(s.Cautions) < 50 {
		s.Cautions = append(s.Cautions, c)
	}
}

// asCaution is a caution in its own words, and false where there is nothing to
// say.
func asCaution(text string) (Caution, bool) {
	text, _ = cutText(text, maxText*3/4)
	return Caution{Say: upperFirst(text)}, hasSound(text)
}

func upperFirst(text string) string {
	r, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(r)) + text[size:]
}

var notInID = regexp.MustCompile(`[^a-z0-9]+`)

// id is a name for a step, made of its first words that mean something.
func (i *importer) id(say string) string {
	var words []string
	for _, w := range strings.Fields(notInID.ReplaceAllString(strings.ToLower(say), " ")) {
		if !idleWords[w] && len(words) < 4 {
			words = append(words, w)
		}
	}
	id, _ := cutRunes(strings.Join(words, "-"), 40)
	id = strings.Trim(id, "-")
	if id == "" {
		id = "step"
	}
	unique := id
	for n := 2; i.seen[unique]; n++ {
		unique = fmt.Sprintf("%s-%d", id, n)
	}
	i.seen[unique] = true
	return unique
}

var idleWords = map[string]bool{"the": true, "a": true, "an": true, "of": true, "and": true, "all": true, "both": true, "it": true, "then": true,
	"with": true, "from": true, "into": true, "in": true, "on": true, "to": true, "for": true, "by": true, "off": true, "its": true, "at": true, "x": true}

// doubt adds something to be looked at to the step.
func (s *DraftStep) doubt(format string, values ...any) {
	if len(s.Doubts) < maxFound {
		s.Doubts = append(s.Doubts, fmt.Sprintf(format, values...))
	}
}

// maxFound bounds what is taken out of one step.
const maxFound = 20

// read finds in a step's words what the format has keys for.
func (i *importer) read(s *DraftStep) {
	readTorques(s, i.deeds.counted)
	readTimers(s)
	readReadings(s)
	readTools(s)
	readParts(s)
	i.deeds.read(s, len(i.draft.Steps))
	readOccasions(s)
	if reverseHint.MatchString(s.Say) {
		s.doubt("the way back is not written out; `stepcaller procedures reassembly` drafts it from the steps before")
	}
}

// finish settles what only the whole list shows.
func (i *importer) finish() {
	last := i.last()
	for _, c := range i.cautions {
		last.Cautions = append(last.Cautions, c)
		last.doubt("the caution %q stands after the last step", short(c.Say))
	}
	i.deeds.finish(i.draft.Steps)
	names := map[string]bool{}
	for k := range i.draft.Steps {
		for j := range i.draft.Steps[k].Timers {
			t := &i.draft.Steps[k].Timers[j]
			base := t.Name
			for n := 2; names[t.Name]; n++ {
				t.Name = fmt.Sprintf("%s %d", base, n)
			}
			names[t.Name] = true
		}
	}
}
