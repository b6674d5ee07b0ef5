package procedures

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// entry is one thing in one of a step's lists.
type entry struct {
	kind  int    // index in itemKinds; in a list that puts right, of the first kind that the list undoes
	text  string // as written
	name  string // without its count
	key   string // itemKey of the name
	count int    // 0 where nobody counted
	step  int    // index of the step
	at    int    // index in the list
	list  string // key of the list
}

// path is where the entry stands in the file.
func (e *entry) path() string { return fmt.Sprintf("steps[%d].%s[%d]", e.step, e.list, e.at) }

// leavings are the entries that a step leaves, in the order of the table.
func leavings(index int, step *Step) (entries []*entry) {
	for i, kind := range itemKinds {
		entries = appendEntries(entries, i, index, kind.Leave, kind.leaves(step))
	}
	return entries
}

// mendings are the entries that a step puts right, in the order of the table.
func mendings(index int, step *Step) (entries []*entry) {
	for i, kind := range itemKinds {
		if firstKind(kind.Undo) == i {
			entries = appendEntries(entries, i, index, kind.Undo, kind.undoes(step))
		}
	}
	return entries
}

func appendEntries(entries []*entry, kind, step int, list string, texts []string) []*entry {
	for at, text := range texts {
		count, name := splitCount(text)
		entries = append(entries, &entry{kind, text, name, itemKey(name), count, step, at, list})
	}
	return entries
}

// holding is a thing in one state.
type holding struct {
	from  *entry // that left it so, nil where it is not so
	count int    // how many there still are, 0 where nobody counted
}

func (h holding) item() Item {
	return Item{itemKinds[h.from.kind], h.from.name, h.count, h.from.step, h.from.key}
}

// older orders holdings as they came about.
func older(a, b holding) int {
	return cmp.Or(cmp.Compare(a.from.step, b.from.step), cmp.Compare(a.from.kind, b.from.kind), cmp.Compare(a.from.at, b.from.at))
}

// account is what the ledger holds of one thing. Its zero value is the thing in
// its place; two accounts are compared with ==.
type account struct {
	held [len(itemKinds)]holding // by kind
	seen uint16                  // kinds it ever was in, by bit
}

// holdings lists the states that the thing is in, oldest first.
func (a *account) holdings() []holding {
	var all []holding
	for _, h := range a.held {
		if h.from != nil {
			all = append(all, h)
		}
	}
	slices.SortFunc(all, older)
	return all
}

// leave enters what a step leaves. A fastener that goes from loose to off, or from
// off to finger-tight, changes its state instead of standing in the ledger twice;
// where fewer go than there are, the others stay as they were.
func (a *account) leave(e *entry) {
	a.seen |= 1 << e.kind
	if fastener(e.kind) {
		other := func(kind int) bool { return kind != e.kind && fastener(kind) }
		first := other
		if itemKinds[e.kind].Leave == "by_hand" { // what is started by hand was off, if anything was
			first = func(kind int) bool { return itemKinds[kind].Leave == "off" }
		}
		a.takeFirst(e.count, first, other)
	}
	h := &a.held[e.kind]
	if h.from == nil {
		h.from = e
	}
	h.count += e.count
}

// undo puts right what an entry names, and says what does not agree, if anything.
func (a *account) undo(e *entry) (slip Slip, ok bool) {
	verb := itemKinds[e.kind].Undo
	all := func(kind int) bool { return undoes(verb, kind) }
	first := func(kind int) bool { return itemKinds[kind].Undo == verb }
	if verb == "out" { // a plug and a rag in one place are two things
		i := slices.IndexFunc(a.holdings(), func(h holding) bool { return all(h.from.kind) })
		if i >= 0 {
			oldest := a.holdings()[i].from.kind
			first = func(kind int) bool { return kind == oldest }
		}
		if e.count == 0 {
			all = first
		}
	}
	lacking, some := a.takeFirst(e.count, first, all)
	slip = Slip{Key: verb, Entry: e.at}
	for kind := range itemKinds {
		slip.Known = slip.Known || itemKinds[kind].Undo == verb && a.seen&(1<<kind) != 0
	}
	switch {
	case !some:
		slip.What = fmt.Sprintf("%q under `%s`, but it is not %s at this step", e.text, verb, states(verb))
	case lacking > 0:
		slip.What = fmt.Sprintf("%d %s under `%s`, but only %d left there", e.count, e.name, verb, e.count-lacking)
	default:
		return Slip{}, true
	}
	return slip, false
}

// takeFirst takes from some kinds before others.
func (a *account) takeFirst(count int, first, then func(kind int) bool) (lacking int, some bool) {
	lacking, some = a.take(count, first)
	if count > 0 && lacking == 0 {
		return 0, some
	}
	lacking, more := a.take(lacking, then)
	return lacking, some || more
}

// take takes a number out of the holdings of some kinds, oldest first; all of them
// where either is not counted. It returns how many were lacking, and whether there was anything.
func (a *account) take(count int, of func(kind int) bool) (lacking int, some bool) {
	all := count == 0
	for kind, h := range a.held {
		if h.from != nil && of(kind) {
			some = true
			all = all || h.count == 0
		}
	}
	if !some {
		return count, false
	}
	for _, h := range a.holdings() {
		switch kind := h.from.kind; {
		case !of(kind):
		case all || h.count <= count:
			a.held[kind] = holding{}
			count -= h.count
		default:
			a.held[kind].count -= count
			return 0, true
		}
	}
	if all {
		return 0, true
	}
	return count, true
}

// states are those that a verb undoes: "loose or finger-tight".
func states(verb string) string {
	var names []string
	for _, kind := range itemKinds {
		if kind.Undo == verb {
			names = append(names, kind.State)
		}
	}
	return strings.Join(names, " or ")
}

// undoes reports whether a verb puts an item of this kind right. What is
// tightened is back on as well.
func undoes(verb string, kind int) bool {
	return itemKinds[kind].Undo == verb || verb == "tight" && itemKinds[kind].Leave == "off"
}

// fastener reports whether the kind is a stage in the life of a fastener.
func fastener(kind int) bool {
	return itemKinds[kind].Leave == "off" || itemKinds[kind].Undo == "tight"
}
