package procedures

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
)

// value is one kind of value that a file may hold: what it looks like, and how it
// is read. Reading returns false where the value cannot be used; it has then
// reported why.
type value[V any] struct {
	shape shape
	read  func(r *reader, at string, n node) (V, bool)
}

// scalar is a plain value's text, as written for numbers, with the values of the
// groups around it put in.
func (r *reader) scalar(path string, n node) (text string, ok bool) {
	return r.filled(path, n, func(value string) string { return value })
}

// filled is scalar with a way to write the groups' values.
func (r *reader) filled(path string, n node, write func(string) string) (text string, ok bool) {
	if text, ok = r.plain(path, n); ok && len(r.repeats) > 0 {
		text, ok = r.fill(path, n, text, write)
	}
	if ok && utf8.RuneCountInString(text) > maxText {
		r.fail(path, n, fmt.Sprintf("%s is longer than %d characters", nameOf(path), maxText), "Nobody listens that long; break it up")
		return "", false
	}
	return text, ok
}

// plain is a plain value's text as it stands in the file, never empty.
func (r *reader) plain(path string, n node) (text string, ok bool) {
	switch v := n.(type) {
	case *ast.StringNode:
		text = v.Value
	case *ast.LiteralNode:
		text = v.Value.Value
	case *ast.IntegerNode, *ast.FloatNode:
		text = n.GetToken().Value
	case *ast.NullNode:
	case *ast.MappingNode:
		mend := "Put it in double quotes if a colon stands in it"
		if len(v.Values) == 1 && v.IsFlowStyle {
			mend = "Put it in double quotes if it begins with a { or a colon stands in it"
		}
		r.fail(path, n, nameOf(path)+" should be text, not keys with values", mend)
		return "", false
	case *ast.SequenceNode:
		r.fail(path, n, nameOf(path)+" should be one text, not a list", "Keep one entry, without brackets or hyphen")
		return "", false
	default:
		r.fail(path, n, nameOf(path)+" should be text", "Put it in double quotes")
		return "", false
	}
	if text = strings.TrimSpace(text); text == "" {
		r.fail(path, n, nameOf(path)+" is empty", "Fill it in; text that begins with # needs double quotes")
	}
	return text, text != ""
}

// maxText bounds one text in characters.
const maxText = 1000

// textValue is any text.
func textValue() value[string] { return value[string]{textShape(), (*reader).scalar} }

// spokenValue is text of which something must be left to speak.
func spokenValue() value[string] {
	return value[string]{textShape(), func(r *reader, at string, n node) (string, bool) {
		text, ok := r.scalar(at, n)
		if ok && !hasSound(text) {
			r.fail(at, n, fmt.Sprintf("nothing in %q can be spoken", text), "Write it in words")
			return "", false
		}
		return text, ok
	}}
}

// questionValue is a question for a yes or a no.
func questionValue() value[string] {
	spoken := spokenValue()
	return value[string]{questionShape(), func(r *reader, at string, n node) (string, bool) {
		text, ok := spoken.read(r, at, n)
		if ok && !strings.HasSuffix(text, "?") {
			r.fail(at, n, fmt.Sprintf("%q is no question", text), "Ask for a yes or a no, and end it with a question mark")
			return "", false
		}
		return text, ok
	}}
}

// idText is what an id looks like.
const idText = `^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$`

var idPattern = regexp.MustCompile(idText)

func idValue() value[string] {
	return value[string]{idShape(), func(r *reader, at string, n node) (string, bool) {
		text, ok := r.filled(at, n, idPart)
		return text, ok && r.isID(at, n, text)
	}}
}

// stepIDValue is the id of a step. In a group it tells the repeats apart: the
// value is added where the text does not say where it goes.
func stepIDValue() value[string] {
	return value[string]{idShape(), func(r *reader, at string, n node) (string, bool) {
		text, ok := r.plain(at, n)
		if !ok {
			return "", false
		}
		for _, repeat := range r.repeats {
			if mark := "{" + repeat.name + "}"; !strings.Contains(text, mark) {
				text += "-" + mark
			}
		}
		if len(r.repeats) > 0 {
			if text, ok = r.fill(at, n, text, idPart); !ok {
				return "", false
			}
		}
		return text, r.isID(at, n, text)
	}}
}

// isID reports an id that is none.
func (r *reader) isID(path string, n node, text string) bool {
	if !idPattern.MatchString(text) {
		r.fail(path, n, fmt.Sprintf("%q is no id", text), "Use up to 64 letters, digits, dots, hyphens and underscores")
		return false
	}
	return true
}

// flagValue is true or false.
func flagValue() value[bool] {
	return value[bool]{shape{"title": "true or false", "type": "boolean"}, func(r *reader, at string, n node) (bool, bool) {
		b, ok := n.(*ast.BoolNode)
		if !ok {
			r.fail(at, n, nameOf(at)+" should be true or false", "Write `true`, or leave the key out")
			return false, false
		}
		return b.Value, true
	}}
}

// choiceOf is one of some words; what names them in messages.
func choiceOf[V ~string](what string, words ...V) value[V] {
	var names []string
	for _, word := range words {
		names = append(names, string(word))
	}
	return value[V]{namesShape(names), func(r *reader, at string, n node) (V, bool) {
		text, ok := r.scalar(at, n)
		if ok && !slices.Contains(names, text) {
			r.fail(at, n, fmt.Sprintf("%q is no %s", text, what), mendName(text, names))
			return "", false
		}
		return V(text), ok
	}}
}

// mendName suggests the known name nearest to an unknown one.
func mendName(name string, known []string) string {
	if near := nearest(name, known); near != "" {
		return fmt.Sprintf("Did you mean `%s`?", near)
	}
	return "Known: " + strings.Join(known, ", ")
}

// maxList bounds a list in entries, steps apart.
const maxList = 1000

// listOf is a list of values; a single one is a list of one.
func listOf[E any](entry value[E]) value[[]E] {
	return value[[]E]{listShape(entry.shape, 0), func(r *reader, at string, n node) ([]E, bool) {
		entries := []node{n}
		if list, ok := n.(*ast.SequenceNode); ok {
			entries = list.Values
		}
		if r.tooLong(at, n, len(entries)) {
			return nil, false
		}
		var all []E
		for i, entryNode := range entries {
			path := fmt.Sprintf("%s[%d]", at, i)
			r.places[path] = placeOf(entryNode)
			if e, ok := entry.read(r, path, entryNode); ok {
				all = append(all, e)
			}
		}
		return all, true
	}}
}

// tooLong reports a list that nobody would write.
func (r *reader) tooLong(at string, n node, entries int) bool {
	if entries > maxList {
		r.fail(at, n, fmt.Sprintf("%s has %d entries, more than %d", nameOf(at), entries, maxList), "Split the job into several procedures")
	}
	return entries > maxList
}

// someOf is listOf with at least one entry.
func someOf[E any](entry value[E]) value[[]E] {
	list := listOf(entry)
	return value[[]E]{listShape(entry.shape, 1), func(r *reader, at string, n node) ([]E, bool) {
		if s, ok := n.(*ast.SequenceNode); ok && len(s.Values) == 0 {
			r.fail(at, n, nameOf(at)+" is an empty list", "Name at least one, or leave the key out")
			return nil, false
		}
		return list.read(r, at, n)
	}}
}

// mappingOf is keys with values. What is wrong in it leaves it usable.
func mappingOf[E any](keys []key[E]) value[E] {
	return value[E]{mappingShape(keys), func(r *reader, at string, n node) (e E, ok bool) {
		readMapping(r, at, n, keys, &e)
		return e, true
	}}
}

// entriesOf is a list of mappings, at least one.
func entriesOf[E any](keys []key[E]) value[[]E] {
	s := shape{"title": "list of entries", "type": "array", "minItems": 1, "maxItems": maxList, "items": mappingShape(keys)}
	return value[[]E]{s, func(r *reader, at string, n node) ([]E, bool) {
		list, ok := r.entries(at, n, keys[0].name)
		if !ok || r.tooLong(at, n, len(list)) {
			return nil, false
		}
		all := make([]E, len(list))
		for i, entry := range list {
			path := fmt.Sprintf("%s[%d]", at, i)
			r.places[path] = placeOf(entry)
			readMapping(r, path, entry, keys, &all[i])
		}
		return all, true
	}}
}

// entries are the nodes of a list that may not be empty; first is the key that
// each begins with.
func (r *reader) entries(at string, n node, first string) ([]node, bool) {
	list, ok := n.(*ast.SequenceNode)
	if !ok || len(list.Values) == 0 {
		r.fail(at, n, nameOf(at)+" should be a list with at least one entry", fmt.Sprintf("Begin each entry with `- %s:`", first))
		return nil, false
	}
	return list.Values, true
}

// textOr is a text from which a value is made, or the value's own mapping.
func textOr[V any](name string, of func(string) V, mapping value[V]) value[V] {
	s := anyShape("text, or keys", textShape(), mapping.shape)
	s[nameKey] = name
	return value[V]{s, func(r *reader, at string, n node) (V, bool) {
		if isMapping(n) {
			return mapping.read(r, at, n)
		}
		text, ok := r.scalar(at, n)
		return of(text), ok
	}}
}

func isMapping(n node) bool {
	_, ok := n.(*ast.MappingNode)
	return ok
}
