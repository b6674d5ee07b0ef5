package procedures

import (
	"regexp"
	"strings"
	"unicode"
)

// lineKind is what a piece of a written procedure is.
type lineKind int

const (
	plainLine lineKind = iota
	headingLine
	entryLine   // of a list
	warningLine // marked as a warning, caution or note
	tableLine
)

// piece is one heading, list entry, warning or paragraph with the lines that
// belong to it joined.
type piece struct {
	kind   lineKind
	text   string
	line   int  // where it begins, from 1
	nested bool // it stands indented, under the entry before it
}

var (
	hashHeading = regexp.MustCompile(`^\s{0,3}#{1,6}\s+(.*?)[\s#]*$`)
	boldHeading = regexp.MustCompile(`^\s{0,3}(?:\*\*|__)([^*_]{2,60}?):?(?:\*\*|__):?$`)
	ruling      = regexp.MustCompile(`^\s*(?:-{3,}|={3,}|\*{3,}|_{3,})\s*$`)
	codeFence   = regexp.MustCompile("^\\s*(?:```|~~~)")
	tableRow    = regexp.MustCompile(`^\s*\|`)
	// listSign is a bullet, or a number or letter with its dot or bracket.
	listSign = regexp.MustCompile(`^(\s*)(?:[-*+•–]|\(?\d{1,3}[.)]|\d{1,2}(?:\.\d{1,2})+\.?|\(?[a-z][.)]|(?:Step|STEP)\s+\d{1,3}\s*[.:)-]?)\s+(?:\[[ xX]\]\s+)?(\S.*)$`)
	// levels is the number of an entry in an outline: 1.2. A figure may begin like one.
	outlineNumber = regexp.MustCompile(`^\s*\d{1,2}\.\d`)
	sentenceStart = regexp.MustCompile(`^[A-Z][a-z]{2,}`)
	// marked is a warning's first word.
	warningMark  = regexp.MustCompile(`^\W*(?i:(warning|caution|danger|attention|important|notice|note))\W*(?:[:!\]–—]|\s-|\*\*)\s*(.*)$`)
	warningAlone = regexp.MustCompile(`^\W*(?:WARNING|CAUTION|DANGER|ATTENTION|IMPORTANT|NOTICE|NOTE|Warning|Caution|Danger|Important|Note)\W*$`)
	// loud is a heading of a plain text: in capitals, or a few words before a colon.
	plainHeading = regexp.MustCompile(`^\s*(?:[A-Z][A-Z0-9 ,&/()'-]{3,60}:?|[A-Z][A-Za-z ,&/'-]{2,40}:)\s*$`)
	// warningLoud is a warning's first word without a sign after it.
	warningLoud = regexp.MustCompile(`^\W*(?:WARNING|CAUTION|DANGER|IMPORTANT)\s+(.*)$`)
)

// piecesOf takes a text in Markdown, or a plain one, apart.
func piecesOf(text string) []piece {
	var pieces []piece
	open := false // the last piece goes on with the next line
	add := func(p piece) {
		pieces = append(pieces, p)
		open = p.kind != headingLine && p.kind != tableLine
	}
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimRightFunc(line, unicode.IsSpace)
		nested := indent(line) >= 2
		quoted := strings.TrimLeft(line, " ")
		if rest, quote := strings.CutPrefix(quoted, ">"); quote {
			line = strings.TrimPrefix(rest, " ")
		}
		var last *piece
		if len(pieces) > 0 {
			last = &pieces[len(pieces)-1]
		}
		p := piece{line: i + 1, nested: nested}
		switch m := listSign.FindStringSubmatch(line); {
		case line == "", codeFence.MatchString(line):
			open = false
		case ruling.MatchString(line):
			if open && last.kind == plainLine { // underlined
				last.kind = headingLine
			}
			open = false
		case tableRow.MatchString(line):
			if last == nil || last.kind != tableLine {
				add(piece{kind: tableLine, text: line, line: i + 1})
			}
		case boldHeading.MatchString(line) && !warningAlone.MatchString(line) && !warningMark.MatchString(line):
			p.kind, p.text = headingLine, boldHeading.FindStringSubmatch(line)[1]
			add(p)
		case hashHeading.MatchString(line):
			p.kind, p.text = headingLine, hashHeading.FindStringSubmatch(line)[1]
			add(p)
		case m != nil && (!outlineNumber.MatchString(line) || sentenceStart.MatchString(m[2])):
			p.kind, p.text = entryLine, m[2]
			if w := warningMark.FindStringSubmatch(m[2]); w != nil {
				p.kind, p.text = warningLine, w[2]
			}
			add(p)
		case warningMark.MatchString(line):
			p.kind, p.text = warningLine, warningMark.FindStringSubmatch(line)[2]
			add(p)
		case warningAlone.MatchString(line):
			p.kind = warningLine
			add(p)
		case open:
			last.text = strings.TrimSpace(last.text + " " + strings.TrimSpace(line))
		case plainHeading.MatchString(line) && !p.nested:
			p.kind, p.text = headingLine, strings.TrimRight(line, ": ")
			add(p)
		default:
			p.text = strings.TrimSpace(line)
			add(p)
		}
	}
	return pieces
}

func indent(line string) int { return len(line) - len(strings.TrimLeft(line, " ")) }

var (
	pictureLink = regexp.MustCompile(`!\[([^\]]*)\]\(([^)\s]*)[^)]*\)`)
	textLink    = regexp.MustCompile(`\[([^\]]+)\]\([^)]*\)`)
	htmlTag     = regexp.MustCompile(`</?[A-Za-z][^<>]{0,80}>`)
	strongSign  = regexp.MustCompile("\\*\\*|__|`|\\\\([*_#\\[\\]])")
	slantedText = regexp.MustCompile(`(^|[\s(])[*_](\S[^*_]*\S|\S)[*_]($|[\s).,;:!?])`)
)

// unmarked is text without Markdown's signs. Pictures are taken out and returned.
func unmarked(text string) (plain string, pictures []string) {
	for _, m := range pictureLink.FindAllStringSubmatch(text, -1) {
		pictures = append(pictures, m[2])
	}
	text = pictureLink.ReplaceAllString(text, " ")
	text = textLink.ReplaceAllString(text, gap+"$1"+gap)
	text = htmlTag.ReplaceAllString(text, " ")
	text = strongSign.ReplaceAllString(text, gap+"$1"+gap)
	text = slantedText.ReplaceAllString(text, "$1$2$3")
	return strings.Join(strings.Fields(closeGaps(text)), " "), pictures
}

// gap stands where something without a sound was taken out of a text.
const gap = "\x00"

// figureGap is a gap between two figures. They would make another number.
var figureGap = regexp.MustCompile(`([0-9.,])` + gap + `+`)

// closeGaps takes the gaps out of a text: figures stay apart, letters close up.
func closeGaps(text string) string {
	return strings.ReplaceAll(figureGap.ReplaceAllString(text, "$1 "), gap, "")
}
