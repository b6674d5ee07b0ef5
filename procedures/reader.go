package procedures

import (
	"fmt"
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
)

// node is a value of the file.
type node = ast.Node

// reader gathers what is wrong with one file while it is read.
type reader struct {
	file     string
	mistakes []Mistake
	paths    []string // of the mistakes, beside them
	places   map[string]place
}

// report adds a mistake at a place; path names the value, such as steps[2].say.
func (r *reader) report(path string, at place, severity Severity, what, mend string) {
	r.mistakes = append(r.mistakes, Mistake{r.file, at.line, at.column, severity, what, mend})
	r.paths = append(r.paths, path)
}

// fail adds an Error at a node.
func (r *reader) fail(path string, n node, what, mend string) {
	r.report(path, placeOf(n), Error, what, mend)
}

// touched reports whether anything under a key was in error, torque values apart.
func (r *reader) touched(key string) bool {
	for i, path := range r.paths {
		if r.mistakes[i].Severity == Error && strings.HasPrefix(path, key) && !strings.Contains(path, ".torque[") {
			return true
		}
	}
	return false
}

// placeOf is where a node begins.
func placeOf(n node) place {
	if m, ok := n.(*ast.MappingNode); ok && len(m.Values) > 0 {
		n = m.Values[0].Key
	}
	if n == nil || n.GetToken() == nil || n.GetToken().Position == nil {
		return place{1, 1}
	}
	at := n.GetToken().Position
	return place{max(1, at.Line), max(1, at.Column)}
}

// readMapping reads the keys of a mapping into a value and reports the keys that
// are unknown, doubled or missing.
func readMapping[T any](r *reader, path string, n node, keys []key[T], into *T) {
	m, ok := n.(*ast.MappingNode)
	if !ok {
		r.fail(path, n, fmt.Sprintf("%s should be keys with values", nameOf(path)),
			fmt.Sprintf("Begin with `%s:`", keys[0].name))
		return
	}
	found := map[string]bool{}
	for _, v := range m.Values {
		name, at := keyName(v), path+"."+keyName(v)
		at = strings.TrimPrefix(at, ".")
		k := lookUp(keys, name)
		switch {
		case k == nil:
			r.fail(at, v.Key, fmt.Sprintf("unknown key `%s`", name), mendKey(keys, name))
		case found[name]:
			r.fail(at, v.Key, fmt.Sprintf("`%s` stands here twice", name), "Keep one of them")
		default:
			r.places[at] = placeOf(v.Value)
			k.read(r, at, v.Value, into)
		}
		found[name] = true
	}
	for _, k := range keys {
		switch {
		case found[k.name] || k.need == optional:
		case k.need == required:
			r.fail(path, n, fmt.Sprintf("%s has no `%s`", nameOf(path), k.name), "Add it: "+lowerFirst(k.doc[:len(k.doc)-1]))
		default:
			r.report(path, placeOf(n), Question, fmt.Sprintf("%s has no `%s`", nameOf(path), k.name),
				fmt.Sprintf("List them, or write `%s: []` where there are none", k.name))
		}
	}
}

// keyName is a mapping key as text.
func keyName(v *ast.MappingValueNode) string {
	if t := v.Key.GetToken(); t != nil {
		return t.Value
	}
	return ""
}

func lookUp[T any](keys []key[T], name string) *key[T] {
	for i := range keys {
		if keys[i].name == name {
			return &keys[i]
		}
	}
	return nil
}

// mendKey suggests the known key nearest to an unknown one.
func mendKey[T any](keys []key[T], name string) string {
	var known []string
	for _, k := range keys {
		known = append(known, k.name)
	}
	if near := nearest(name, known); near != "" {
		return fmt.Sprintf("Did you mean `%s`?", near)
	}
	return "Known here: " + strings.Join(known, ", ")
}

// nameOf is a path for people: "step 3" for steps[2].
func nameOf(path string) string {
	if path == "" {
		return "the procedure"
	}
	last := path[strings.LastIndex(path, ".")+1:]
	if m := indexed.FindStringSubmatch(last); m != nil {
		i, _ := strconv.Atoi(m[2])
		what := map[string]string{"steps": "step", "book": "operation", "torque": "torque entry"}[m[1]]
		if what == "" {
			what = "`" + m[1] + "` entry"
		}
		return fmt.Sprintf("%s %d", what, i+1)
	}
	return "`" + last + "`"
}

var indexed = regexp.MustCompile(`^(\w+)\[(\d+)\]$`)

func lowerFirst(text string) string { return strings.ToLower(text[:1]) + text[1:] }

// scalar is a plain value's text, as written for numbers.
func (r *reader) scalar(path string, n node) (text string, ok bool) {
	switch v := n.(type) {
	case *ast.StringNode:
		text = v.Value
	case *ast.LiteralNode:
		text = v.Value.Value
	case *ast.IntegerNode, *ast.FloatNode:
		text = n.GetToken().Value
	case *ast.NullNode:
	case *ast.MappingNode:
		r.fail(path, n, nameOf(path)+" should be text, not keys with values", "Put it in double quotes if a colon stands in it")
		return "", false
	case *ast.SequenceNode:
		r.fail(path, n, nameOf(path)+" should be one text, not a list", "Keep one entry, without brackets or hyphen")
		return "", false
	default:
		r.fail(path, n, nameOf(path)+" should be text", "Put it in double quotes")
		return "", false
	}
	text = strings.TrimSpace(text)
	switch {
	case text == "":
		r.fail(path, n, nameOf(path)+" is empty", "Fill it in; text that begins with # needs double quotes")
	case utf8.RuneCountInString(text) > maxText:
		r.fail(path, n, fmt.Sprintf("%s is longer than %d characters", nameOf(path), maxText), "Nobody listens that long; break it up")
	default:
		return text, true
	}
	return "", false
}

// maxText bounds one text in characters.
const maxText = 1000

func textInto[T any](field func(*T) *string) func(*reader, string, node, *T) {
	return func(r *reader, path string, n node, into *T) {
		if text, ok := r.scalar(path, n); ok {
			*field(into) = text
		}
	}
}

// spokenInto reads text of which something must be left to speak.
func spokenInto[T any](field func(*T) *string) func(*reader, string, node, *T) {
	return func(r *reader, path string, n node, into *T) {
		text, ok := r.scalar(path, n)
		if ok && !hasSound(text) {
			r.fail(path, n, fmt.Sprintf("nothing in %q can be spoken", text), "Write it in words")
		}
		*field(into) = text
	}
}

// idText is what an id looks like.
const idText = `^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$`

var idPattern = regexp.MustCompile(idText)

func idInto[T any](field func(*T) *string) func(*reader, string, node, *T) {
	return func(r *reader, path string, n node, into *T) {
		text, ok := r.scalar(path, n)
		if ok && !idPattern.MatchString(text) {
			r.fail(path, n, fmt.Sprintf("%q is no id", text), "Use up to 64 letters, digits, dots, hyphens and underscores")
		}
		*field(into) = text
	}
}

// textsInto reads a list of texts; a single text is a list of one.
func textsInto[T any](field func(*T) *[]string) func(*reader, string, node, *T) {
	return func(r *reader, path string, n node, into *T) {
		entries := []node{n}
		if list, ok := n.(*ast.SequenceNode); ok {
			entries = list.Values
		}
		for i, entry := range entries {
			at := fmt.Sprintf("%s[%d]", path, i)
			r.places[at] = placeOf(entry)
			if text, ok := r.scalar(at, entry); ok {
				*field(into) = append(*field(into), text)
			}
		}
	}
}

// entriesInto reads a list of texts, each into a value made of it.
func entriesInto[T, E any](of func(string) E, field func(*T) *[]E) func(*reader, string, node, *T) {
	return func(r *reader, path string, n node, into *T) {
		var texts []string
		textsInto(func(*T) *[]string { return &texts })(r, path, n, into)
		for _, text := range texts {
			*field(into) = append(*field(into), of(text))
		}
	}
}

// listInto reads a list of mappings, at least one.
func listInto[T, E any](keys []key[E], field func(*T) *[]E) func(*reader, string, node, *T) {
	return func(r *reader, path string, n node, into *T) {
		list, ok := n.(*ast.SequenceNode)
		if !ok || len(list.Values) == 0 {
			r.fail(path, n, nameOf(path)+" should be a list with at least one entry",
				fmt.Sprintf("Begin each entry with `- %s:`", keys[0].name))
			return
		}
		*field(into) = make([]E, len(list.Values))
		for i, entry := range list.Values {
			at := fmt.Sprintf("%s[%d]", path, i)
			r.places[at] = placeOf(entry)
			readMapping(r, at, entry, keys, &(*field(into))[i])
		}
	}
}

// number is a plain number's text.
func (r *reader) number(path string, n node) (text string, ok bool) {
	switch n.(type) {
	case *ast.IntegerNode, *ast.FloatNode:
		return n.GetToken().Value, true
	}
	r.fail(path, n, nameOf(path)+" should be a number", "Write digits, such as 10 or 0.6, without quotes")
	return "", false
}

func hoursInto[T any](field func(*T) *Hours) func(*reader, string, node, *T) {
	return func(r *reader, path string, n node, into *T) {
		text, ok := r.number(path, n)
		if !ok {
			return
		}
		h, err := ParseHours(text)
		switch {
		case err != nil:
			r.fail(path, n, nameOf(path)+": "+err.Error(), "Write tenths of an hour, such as 1.6")
		case h < 0:
			r.fail(path, n, fmt.Sprintf("%s of %s h is below zero", nameOf(path), h), "Write the hours without a minus")
		case !h.InTenths():
			r.report(path, placeOf(n), Question, fmt.Sprintf("%s of %s h is not in tenths", nameOf(path), h),
				"Check it against the labour time guide")
		}
		*field(into) = max(0, h)
	}
}

func minutesInto[T any](field func(*T) *float64) func(*reader, string, node, *T) {
	return func(r *reader, path string, n node, into *T) {
		text, ok := r.number(path, n)
		if !ok {
			return
		}
		m, err := strconv.ParseFloat(text, 64)
		switch {
		case err != nil || m > maxMinutes:
			r.fail(path, n, fmt.Sprintf("%q minutes", text), fmt.Sprintf("Write a number up to %d", maxMinutes))
		case m < 0:
			r.fail(path, n, fmt.Sprintf("%s minutes are below zero", text), "Write the minutes without a minus")
		default:
			*field(into) = m
		}
	}
}

// maxMinutes bounds what one step may be expected to take: a day.
const maxMinutes = 24 * 60

func countInto[T any](least, most int, field func(*T) *int) func(*reader, string, node, *T) {
	return func(r *reader, path string, n node, into *T) {
		text, ok := r.number(path, n)
		if !ok {
			return
		}
		value, ok := new(big.Rat).SetString(text)
		if !ok || !value.IsInt() || value.Cmp(big.NewRat(int64(least), 1)) < 0 || value.Cmp(big.NewRat(int64(most), 1)) > 0 {
			r.fail(path, n, fmt.Sprintf("%s of %s", nameOf(path), text), fmt.Sprintf("Write a whole number from %d to %d", least, most))
			return
		}
		*field(into) = int(value.Num().Int64())
	}
}

func torqueInto[T any](field func(*T) *Torque) func(*reader, string, node, *T) {
	return func(r *reader, path string, n node, into *T) {
		text, ok := r.scalar(path, n)
		if !ok {
			return
		}
		t, err := ParseTorque(text)
		if err != nil {
			what, mend, _ := strings.Cut(err.Error(), "; ")
			r.fail(path, n, what, strings.ToUpper(mend[:1])+mend[1:])
		}
		*field(into) = t
	}
}

func orderInto[T any](field func(*T) *Order) func(*reader, string, node, *T) {
	return func(r *reader, path string, n node, into *T) {
		text, ok := r.scalar(path, n)
		if !ok {
			return
		}
		o, err := ParseOrder(text)
		if err != nil {
			r.fail(path, n, fmt.Sprintf("%q is no tightening order", text), mendOrder(text))
		}
		*field(into) = o
	}
}

// readFormat reads the format number and refuses files newer than the program.
func readFormat(r *reader, path string, n node, p *Procedure) {
	text, ok := r.number(path, n)
	if !ok {
		return
	}
	format, err := strconv.Atoi(text)
	switch {
	case err != nil || format < 1:
		r.fail(path, n, fmt.Sprintf("format %s", text), fmt.Sprintf("Write a whole number from 1 to %d", FormatVersion))
	case format > FormatVersion:
		r.fail(path, n, fmt.Sprintf("the file is format %d, this program reads up to %d", format, FormatVersion),
			"Use a newer version of the program")
	default:
		p.Format = format
	}
}
