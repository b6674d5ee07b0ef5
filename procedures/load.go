package procedures

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
)

// What a procedure file may be at most. They stand far above any real job and
// keep hostile input from costing time or memory.
const (
	MaxBytes    = 2 << 20 // whole file
	maxLines    = 100_000 // lines in the file
	maxLine     = 4000    // bytes in a line
	maxIndent   = 100     // blanks before a line's text
	maxMistakes = 100     // reported for one file
)

// Load reads a procedure file, in YAML, writes its groups out, and checks it with
// Check. It returns every mistake and question at once, in the order of the file, a
// mistake in a group once; the procedure is nil when one of them is an Error. Load
// takes any bytes and keeps no reference to them.
func Load(name string, data []byte) (*Procedure, []Mistake) {
	r := newReader(name)
	p := &Procedure{Format: FormatVersion, name: name, text: string(data), places: r.places}
	if text, ok := r.clean(data); ok {
		if root := r.parse(text); root != nil {
			readMapping(r, "", root, procedureKeys(), p)
			p.masks = r.masks
			r.settle(p)
			r.compare(p)
		}
	}
	mistakes := once(r.mistakes, r.masks)
	if len(mistakes) > maxMistakes {
		mistakes = mistakes[:maxMistakes]
	}
	if Refused(mistakes) {
		return nil, mistakes
	}
	return p, mistakes
}

// clean refuses what cannot be the text of a procedure and brings the rest to one
// form: no byte order mark, lines ended by a line feed.
func (r *reader) clean(data []byte) (text []byte, ok bool) {
	switch {
	case len(data) > MaxBytes:
		r.report("", place{}, Error, fmt.Sprintf("the file has %d bytes, more than %d", len(data), MaxBytes),
			"Split the job into several procedures")
		return nil, false
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		r.report("", place{1, 1}, Error, "the file is UTF-16 text", "Save it as UTF-8")
		return nil, false
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
	data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	if len(bytes.TrimSpace(data)) == 0 {
		r.report("", place{}, Error, "the file is empty", "Write a procedure into it, or give another file")
		return nil, false
	}
	lines := bytes.Split(data, []byte("\n"))
	if len(lines) > maxLines {
		r.report("", place{}, Error, fmt.Sprintf("the file has %d lines, more than %d", len(lines), maxLines),
			"Split the job into several procedures")
		return nil, false
	}
	for i, line := range lines {
		r.cleanLine(i+1, line)
	}
	return data, len(r.mistakes) == 0
}

// cleanLine reports the bytes that may not stand in a line, one of each sort.
func (r *reader) cleanLine(number int, line []byte) {
	if len(line) > maxLine {
		r.report("", place{number, maxLine + 1}, Error,
			fmt.Sprintf("the line has %d bytes, more than %d", len(line), maxLine), "Break it up")
	}
	indent := line[:len(line)-len(bytes.TrimLeft(line, " \t"))]
	if bytes.ContainsRune(indent, '\t') {
		r.report("", place{number, bytes.IndexByte(indent, '\t') + 1}, Error,
			"a tab in the indentation", "Indent with spaces")
	}
	if len(indent) > maxIndent {
		r.report("", place{number, maxIndent + 1}, Error,
			fmt.Sprintf("the line is indented by %d, more than %d", len(indent), maxIndent), "Indent by two blanks a level")
	}
	column := 1
	for len(line) > 0 {
		c, size := utf8.DecodeRune(line)
		if c == utf8.RuneError && size == 1 {
			r.report("", place{number, column}, Error,
				fmt.Sprintf("byte 0x%02x is not UTF-8 text", line[0]), "Save the file as UTF-8")
			return
		}
		if unicode.IsControl(c) && c != '\t' {
			r.report("", place{number, column}, Error,
				fmt.Sprintf("control character %U in the text", c), "Delete it")
			return
		}
		line = line[size:]
		column++
	}
}

// parse turns the text into a tree of mappings, lists and plain values, or
// reports why it cannot.
func (r *reader) parse(text []byte) (root ast.Node) {
	defer func() { // the text may be anything: a fault of the parser is a mistake in the file
		if fault := recover(); fault != nil {
			r.report("", place{}, Error, "the file cannot be read as YAML", "Compare it with a bundled procedure")
			root = nil
		}
	}()
	tokens := lexer.Tokenize(string(text))
	if !r.readable(tokens) {
		return nil
	}
	file, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		r.syntax(err)
		return nil
	}
	var bodies []ast.Node
	for _, doc := range file.Docs {
		if doc.Body != nil {
			bodies = append(bodies, doc.Body)
		}
	}
	switch len(bodies) {
	case 0:
		r.report("", place{}, Error, "the file holds only comments", "Write a procedure into it, or give another file")
		return nil
	case 1:
	default:
		r.report("", placeOf(bodies[1]), Error, "a second document in the file", "Keep one procedure to a file")
	}
	before := len(r.mistakes)
	ast.Walk(shorthand{r}, bodies[0])
	if len(r.mistakes) > before {
		return nil
	}
	return bodies[0]
}

// syntax reports an error of the YAML parser with a hint for the usual causes.
func (r *reader) syntax(err error) {
	what, at := "not YAML", place{}
	var e yaml.Error
	if errors.As(err, &e) {
		what = strings.TrimSpace(e.GetMessage())
		if t := e.GetToken(); t != nil && t.Position != nil {
			at = place{max(1, t.Position.Line), max(1, t.Position.Column)}
		}
	}
	mend := "Compare the line and its indentation with the lines around it"
	switch {
	case strings.Contains(what, "mapping value is not allowed"), strings.Contains(what, "reserved character"):
		mend = "Put the text in double quotes; a colon followed by a space needs them"
	case strings.Contains(what, "must be specified"), strings.Contains(what, "not found"):
		mend = "Close the bracket or the quotation mark"
	}
	r.report("", at, Error, "YAML: "+what, mend)
}

// shorthand refuses YAML's anchors, aliases and tags: a procedure needs none, and
// they usually are text that wants quotes.
type shorthand struct{ r *reader }

func (v shorthand) Visit(n ast.Node) ast.Visitor {
	switch n.(type) {
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode, *ast.MergeKeyNode, *ast.DirectiveNode:
		sign := n.GetToken().Value
		v.r.report("", placeOf(n), Error, fmt.Sprintf("a value that begins with %q", sign),
			"Put the text in double quotes; anchors, aliases and tags are not used here")
		return nil
	}
	return v
}
