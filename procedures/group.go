package procedures

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// group is a list of steps that stands in the file once and is done several
// times.
type group struct {
	each
	steps node
}

// each is what a group is repeated for.
type each struct {
	name   string // stands in braces where the value goes
	values []string
}

// repeat is the value that a group's name stands for while it is written out.
type repeat struct{ name, value string }

// nameText is what the name of a group's value looks like, markText where it
// stands in a text.
const (
	nameText = `^[a-z][a-z_]{0,31}$`
	markText = `\{[a-z][a-z_]{0,31}\}`
)

var (
	namePattern = regexp.MustCompile(nameText)
	markPattern = regexp.MustCompile(`\{([^{}]*)\}`)
)

// rangeText is a range of whole numbers, eachText one of some values.
const (
	rangeText = `^\s*(\d{1,4}) to (\d{1,4})\s*$`
	eachText  = `^\s*[^\s{}](?:[^{}]{0,58}[^\s{}])?\s*$`
)

var (
	rangePattern = regexp.MustCompile(rangeText)
	eachPattern  = regexp.MustCompile(eachText)
)

// fill puts the values of the groups into a text; write is how.
func (r *reader) fill(path string, n node, text string, write func(string) string) (string, bool) {
	known := true
	text = markPattern.ReplaceAllStringFunc(text, func(mark string) string {
		name := mark[1 : len(mark)-1]
		for _, repeat := range r.repeats {
			if repeat.name == name {
				return write(repeat.value)
			}
		}
		if known {
			var names []string
			for _, repeat := range r.repeats {
				names = append(names, repeat.name)
			}
			r.fail(path, n, fmt.Sprintf("nothing is called {%s} in this group", name), mendName(name, names))
		}
		known = false
		return mark
	})
	return text, known
}

// idPart is a value as it stands in an id.
func idPart(value string) string { return strings.Join(strings.Fields(value), "-") }

// eachValue is the `each` of a group.
func eachValue() value[each] {
	return value[each]{eachShape(), func(r *reader, at string, n node) (each, bool) {
		m, ok := n.(*ast.MappingNode)
		if !ok || len(m.Values) != 1 {
			r.fail(at, n, "`each` should be one name with its values", "Write it as `side: [left, right]`; a group within the group takes a second name")
			return each{}, false
		}
		name, path := keyName(m.Values[0]), at+"."+keyName(m.Values[0])
		if !namePattern.MatchString(name) {
			r.fail(path, m.Values[0].Key, fmt.Sprintf("%q cannot be the name of a group's value", name), "Use small letters and underscores")
			return each{}, false
		}
		for _, outer := range r.repeats {
			if outer.name == name {
				r.fail(path, m.Values[0].Key, fmt.Sprintf("{%s} is given by the group around this one", name), "Use another name")
				return each{}, false
			}
		}
		values, ok := r.eachValues(path, m.Values[0].Value)
		return each{name, values}, ok
	}}
}

// eachValues are the values of a group: a list of texts, or a range.
func (r *reader) eachValues(path string, n node) (values []string, ok bool) {
	list, isList := n.(*ast.SequenceNode)
	if !isList {
		text, ok := r.scalar(path, n)
		if !ok {
			return nil, false
		}
		return r.eachRange(path, n, text)
	}
	switch n := len(list.Values); {
	case n == 0:
		r.fail(path, list, nameOf(path)+" has no values", "List them, such as [left, right]")
		return nil, false
	case r.tooLong(path, list, n):
		return nil, false
	}
	for i, entry := range list.Values {
		at := fmt.Sprintf("%s[%d]", path, i)
		text, ok := r.scalar(at, entry)
		switch {
		case !ok:
			return nil, false
		case !eachPattern.MatchString(text):
			r.fail(at, entry, fmt.Sprintf("%q cannot be put into a text", text), "Use up to 60 characters without braces")
			return nil, false
		case slices.Contains(values, text):
			r.fail(at, entry, fmt.Sprintf("%q stands here twice", text), "Keep one of them")
			return nil, false
		}
		values = append(values, text)
	}
	return values, true
}

// eachRange are the whole numbers of a range such as "1 to 4".
func (r *reader) eachRange(path string, n node, text string) (values []string, ok bool) {
	m := rangePattern.FindStringSubmatch(text)
	if m == nil {
		r.fail(path, n, fmt.Sprintf("%q is no list and no range", text), "Write a list such as [left, right], or a range such as 1 to 4")
		return nil, false
	}
	from, _ := strconv.Atoi(m[1]) // at most four digits
	to, _ := strconv.Atoi(m[2])
	if from > to {
		r.fail(path, n, fmt.Sprintf("the range %s runs backwards", text), fmt.Sprintf("Write %d to %d", to, from))
		return nil, false
	}
	for i := from; i <= to; i++ {
		values = append(values, strconv.Itoa(i))
	}
	return values, true
}
