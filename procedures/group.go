package procedures

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// What groups may write out at most.
const (
	maxSteps   = 5000    // of one procedure, groups written out
	maxWritten = 8 << 20 // bytes of text that all groups write out, about
	maxNesting = 2       // groups within groups
)

// group is a list of steps that stands in the file once and is done several
// times.
type group struct {
	each
	steps       node
	first, last int // lines of the file
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
	if len(list.Values) == 0 {
		r.fail(path, n, nameOf(path)+" has no values", "List them, such as [left, right]")
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

// stepsValue is `steps`: steps, and groups of them, which are written out.
func stepsValue() value[[]Step] {
	steps := stepKeys()
	return value[[]Step]{stepsShape(steps), func(r *reader, at string, n node) ([]Step, bool) {
		list, ok := r.entries(at, n, steps[0].name)
		if !ok {
			return nil, false
		}
		w := writer{r: r, keys: steps, at: at}
		w.steps(list)
		return w.written, true
	}}
}

// writer writes groups out while it reads the steps.
type writer struct {
	r       *reader
	keys    []key[Step]
	at      string // path of the list of steps
	written []Step
	bytes   int
	full    bool // a limit was met and reported
}

// steps reads the entries of a list of steps.
func (w *writer) steps(list []node) {
	for _, entry := range list {
		if valueOf(entry, "each") != nil {
			w.group(entry)
			continue
		}
		if w.full {
			return
		}
		path := fmt.Sprintf("%s[%d]", w.at, len(w.written))
		if len(w.written) == maxSteps {
			w.refuse(path, entry, fmt.Sprintf("more than %d steps", maxSteps))
			return
		}
		var step Step
		w.r.places[path] = placeOf(entry)
		readMapping(w.r, path, entry, w.keys, &step)
		w.written = append(w.written, step)
	}
}

// group writes the steps of a group out, once for each value.
func (w *writer) group(n node) {
	if w.full {
		return
	}
	path := fmt.Sprintf("group[%d]", len(w.r.groups))
	if len(w.r.repeats) == maxNesting {
		w.r.fail(path, n, "a group three deep", "Write the innermost steps out, or make two groups of it")
		return
	}
	g := group{first: placeOf(n).line}
	before := len(w.r.mistakes)
	readMapping(w.r, path, n, groupKeys(value[node]{read: func(_ *reader, _ string, n node) (node, bool) { return n, true }}), &g)
	size := sizeOf(g.steps)
	g.last = max(g.first, size.line)
	w.r.groups = append(w.r.groups, g)
	if len(w.r.mistakes) > before {
		return
	}
	list, ok := w.r.entries(path+".steps", g.steps, w.keys[0].name)
	if !ok {
		return
	}
	switch steps := len(list) * len(g.values); {
	case len(w.written)+steps > maxSteps:
		w.refuse(path, n, fmt.Sprintf("with the %d steps of the group for each %s there are more than %d", steps, g.name, maxSteps))
		return
	case w.bytes+size.bytes*len(g.values) > maxWritten:
		w.refuse(path, n, fmt.Sprintf("the group for each %s writes out too much text", g.name))
		return
	}
	w.bytes += size.bytes * len(g.values)
	around := w.r.repeats
	for _, v := range g.values {
		w.r.repeats = append(slices.Clip(around), repeat{g.name, v})
		w.steps(list)
	}
	w.r.repeats = around
}

// refuse reports a limit, once.
func (w *writer) refuse(path string, n node, what string) {
	w.full = true
	w.r.fail(path, n, what, "Split the job into several procedures")
}

// size is how much a node holds, about, and the last line it begins something on.
type size struct{ bytes, line int }

// sizeOf measures a node with everything in it.
func sizeOf(n node) size {
	s := &size{}
	if n != nil {
		ast.Walk(s, n)
	}
	return *s
}

// Visit counts one node.
func (s *size) Visit(n ast.Node) ast.Visitor {
	if t := n.GetToken(); t != nil && t.Position != nil {
		s.bytes += len(t.Value) + 16
		s.line = max(s.line, t.Position.Line)
	}
	return s
}

// once takes out what the repeats of a group say again: of mistakes at one place
// that differ only in the group's values and in numbers, the first is kept. It
// puts them in the order of the file.
func once(mistakes []Mistake, groups []group) []Mistake {
	slices.SortStableFunc(mistakes, func(a, b Mistake) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	masks := masksOf(groups)
	said := map[Mistake]bool{}
	return slices.DeleteFunc(mistakes, func(m Mistake) bool {
		repeated := false
		for _, mask := range masks {
			if mask.first <= m.Line && m.Line <= mask.last {
				m.What, repeated = mask.values.Replace(m.What), true
			}
		}
		if !repeated {
			return false
		}
		m.What, m.Mend = numbers.ReplaceAllString(m.What, ""), ""
		again := said[m]
		said[m] = true
		return again
	})
}

// mask takes the values of the groups that stand on some lines out of a text.
type mask struct {
	first, last int
	values      *strings.Replacer
}

// masksOf is a mask for each place at which groups stand.
func masksOf(groups []group) (masks []mask) {
	type lines struct{ first, last int }
	values := map[lines][]string{}
	for _, g := range groups {
		at := lines{g.first, g.last}
		for _, v := range g.values {
			values[at] = append(values[at], v, "", idPart(v), "")
		}
	}
	for at, pairs := range values {
		masks = append(masks, mask{at.first, at.last, strings.NewReplacer(pairs...)})
	}
	slices.SortFunc(masks, func(a, b mask) int {
		return cmp.Or(cmp.Compare(a.first, b.first), cmp.Compare(b.last, a.last))
	})
	return masks
}

var numbers = regexp.MustCompile(`\d+`)
