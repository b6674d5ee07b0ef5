package procedures

import (
	"fmt"
	"slices"

	"github.com/goccy/go-yaml/ast"
)

// What groups may write out at most.
const (
	maxSteps   = 5000    // of one procedure, groups written out
	maxWritten = 4 << 20 // bytes of text that all groups write out, about
	maxNesting = 2       // groups within groups
)

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
	groups  int  // read so far
	bytes   int  // written out by groups
	full    bool // a limit was met and reported
}

// steps reads the entries of a list of steps.
func (w *writer) steps(list []node) {
	for _, entry := range list {
		if valueOf(entry, "each") != nil {
			w.group(entry)
			continue
		}
		if w.full || w.r.full() {
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
	if w.full || w.r.full() {
		return
	}
	path := fmt.Sprintf("group[%d]", w.groups)
	w.groups++
	if len(w.r.repeats) == maxNesting {
		w.r.fail(path, n, "a group three deep", "Write the innermost steps out, or make two groups of it")
		return
	}
	var g group
	before := w.r.errors
	readMapping(w.r, path, n, groupKeys(value[node]{read: func(_ *reader, _ string, n node) (node, bool) { return n, true }}), &g)
	size := sizeOf(g.steps)
	if w.r.errors > before {
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
	w.r.masks.add(placeOf(n).line, size.line, g.values)
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
