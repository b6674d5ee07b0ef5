package procedures

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

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

	errors int              // reported, those that a group repeats included
	said   map[Mistake]bool // outlines of mistakes in groups

	questions map[string]string // that steps ask for themselves, by the step's path
	masks     masks             // of the groups read so far
	repeats   []repeat          // being written out, the outermost first
}

// newReader is a reader for a file of this name.
func newReader(file string) *reader {
	return &reader{file: file, places: map[string]place{}, said: map[Mistake]bool{}, questions: map[string]string{}}
}

// report adds a mistake at a place; path names the value, such as steps[2].say.
func (r *reader) report(path string, at place, severity Severity, what, mend string) {
	m := Mistake{r.file, at.line, at.column, severity, what, mend}
	if severity == Error {
		r.errors++
	}
	outline, repeated := r.masks.outline(m)
	if r.full() || repeated && r.said[outline] {
		return
	}
	r.said[outline] = true
	r.mistakes = append(r.mistakes, m)
	r.paths = append(r.paths, path)
}

// full reports whether there are mistakes enough for one reading.
func (r *reader) full() bool { return len(r.mistakes) >= 2*maxMistakes }

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
		if r.full() {
			return
		}
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
	draft := isDraft(m)
	for _, k := range keys {
		if found[k.name] || k.need == optional {
			continue
		}
		what, mend := fmt.Sprintf("%s has no `%s`", nameOf(path), k.name), "Add it: "+lowerFirst(k.doc[:len(k.doc)-1])
		switch {
		case k.need == reviewed && draft:
			r.report(path, placeOf(n), Question, what, mend)
		case k.need == required || k.need == reviewed:
			r.fail(path, n, what, mend)
		default:
			r.report(path, placeOf(n), Question, what,
				fmt.Sprintf("List them, or write `%s: []` where there are none", k.name))
		}
	}
}

// isDraft reports whether a mapping says `draft: true`.
func isDraft(m *ast.MappingNode) bool {
	return slices.ContainsFunc(m.Values, func(v *ast.MappingValueNode) bool {
		flag, ok := v.Value.(*ast.BoolNode)
		return ok && flag.Value && keyName(v) == "draft"
	})
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
		what := map[string]string{"steps": "step", "book": "operation", "torque": "torque entry", "group": "group"}[m[1]]
		if what == "" {
			what = "`" + m[1] + "` entry"
		}
		return fmt.Sprintf("%s %d", what, i+1)
	}
	return "`" + last + "`"
}

var indexed = regexp.MustCompile(`^(\w+)\[(\d+)\]$`)

func lowerFirst(text string) string { return strings.ToLower(text[:1]) + text[1:] }

// valueOf is the value of a key in a mapping, nil where it is not there.
func valueOf(n node, name string) node {
	if m, ok := n.(*ast.MappingNode); ok {
		for _, v := range m.Values {
			if keyName(v) == name {
				return v.Value
			}
		}
	}
	return nil
}

// silent is a reader that reads the same and reports to nobody.
func (r *reader) silent() *reader {
	quiet := newReader(r.file)
	quiet.repeats = r.repeats
	return quiet
}
