package procedures

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// ItemKind is one way in which a step may leave something, and what undoes it.
type ItemKind struct {
	Leave     string // key of a step's list of what is left so
	Undo      string // key of a step's list of what is put right
	State     string // spoken: "the cover is off"
	Temporary bool   // must not be left in the finished job

	leaves, undoes func(*Step) []string
}

// ItemKinds is the table of what a step may leave behind, in the order in which
// the lists of one step are taken. Tightening undoes both what was loose and what
// was started by hand; out undoes both plugs and rags.
func ItemKinds() []ItemKind {
	return []ItemKind{
		{"disconnect", "connect", "unplugged", false,
			func(s *Step) []string { return s.Disconnect }, func(s *Step) []string { return s.Connect }},
		{"loosen", "tight", "loose", false,
			func(s *Step) []string { return s.Loosen }, func(s *Step) []string { return s.Tight }},
		{"off", "back", "off", false,
			func(s *Step) []string { return s.Off }, func(s *Step) []string { return s.Back }},
		{"by_hand", "tight", "finger-tight", true,
			func(s *Step) []string { return s.ByHand }, func(s *Step) []string { return s.Tight }},
		{"open", "shut", "open", false,
			func(s *Step) []string { return s.Open }, func(s *Step) []string { return s.Shut }},
		{"plug", "out", "plugged", true,
			func(s *Step) []string { return s.Plug }, func(s *Step) []string { return s.Out }},
		{"stuff", "out", "stuffed", true,
			func(s *Step) []string { return s.Stuff }, func(s *Step) []string { return s.Out }},
		{"drain", "fill", "drained", false,
			func(s *Step) []string { return s.Drain }, func(s *Step) []string { return s.Fill }},
		{"support", "clear", "supported", true,
			func(s *Step) []string { return s.Support }, func(s *Step) []string { return s.Clear }},
	}
}

// verbKinds is one kind for each verb that puts something right, in the order of the table.
func verbKinds() []ItemKind {
	var kinds []ItemKind
	for _, kind := range ItemKinds() {
		if !slices.ContainsFunc(kinds, func(k ItemKind) bool { return k.Undo == kind.Undo }) {
			kinds = append(kinds, kind)
		}
	}
	return kinds
}

// Item is something a step left in a state that is not the finished one.
type Item struct {
	Kind  ItemKind
	Name  string // as written, without its count
	Count int    // how many there still are, 0 where nobody counted
	Step  int    // index of the step that left it so
	entry int    // index in that step's list
	key   string // itemKey of the name
}

// String is the item with its count: "4 rags", "1 rag".
func (i Item) String() string {
	switch i.Count {
	case 0:
		return i.Name
	case 1:
		return "1 " + singular(i.Name)
	default:
		return strconv.Itoa(i.Count) + " " + i.Name
	}
}

// Is reports whether the item goes by this name, article, case, count and plural apart, and is in this state:
// that of its Kind, such as "finger-tight".
func (i Item) Is(name, state string) bool { return i.Kind.State == state && i.key == itemKey(name) }

// Ledger keeps account of what is off, loose, open, stuffed and so on while the
// steps of a procedure are done. Its zero value is a machine in one piece.
type Ledger struct {
	items []Item
	seen  map[string]bool // names that were ever left in some state
}

// Items lists what is not yet put right, oldest first.
func (l *Ledger) Items() []Item { return slices.Clone(l.items) }

// Find is the item with this name and state, and false where there is none.
func (l *Ledger) Find(name, state string) (Item, bool) {
	for _, item := range l.items {
		if item.Is(name, state) {
			return item, true
		}
	}
	return Item{}, false
}

// PutRight takes out an item that somebody has accounted for by word, whatever its count. An item that is not in the ledger changes nothing.
func (l *Ledger) PutRight(item Item) {
	l.items = slices.DeleteFunc(l.items, func(old Item) bool { return old.Is(item.Name, item.Kind.State) })
}

// Begin enters only what a step leaves: a step that is being done may have taken off already what it takes off, and has
// not yet put back what it puts back.
func (l *Ledger) Begin(index int, step *Step) {
	if l.seen == nil {
		l.seen = map[string]bool{}
	}
	for _, kind := range ItemKinds() {
		for i, text := range kind.leaves(step) {
			count, name := splitCount(text)
			l.leave(Item{kind, name, count, index, i, itemKey(name)})
		}
	}
}

// Slip is an entry of a step that does not agree with the ledger.
type Slip struct {
	Key   string // the list the entry stands in
	Entry int    // its index there
	Known bool   // the thing was left so earlier and is already put right
	What  string // what does not agree
}

// Do enters one step: first what it leaves, then what it puts right. It returns
// the entries that put right what was not left so.
func (l *Ledger) Do(index int, step *Step) []Slip {
	l.Begin(index, step)
	var slips []Slip
	for _, kind := range verbKinds() {
		for i, text := range kind.undoes(step) {
			if what := l.undo(kind.Undo, text); what != "" {
				slips = append(slips, Slip{kind.Undo, i, l.seen[kind.Undo+" "+itemKey(text)], what})
			}
		}
	}
	return slips
}

// leave enters an item. A fastener that goes from loose to off, or from off to
// finger-tight, changes its state instead of standing in the ledger twice.
func (l *Ledger) leave(item Item) {
	l.seen[item.Kind.Undo+" "+item.key] = true
	if fastener(item.Kind) {
		l.items = slices.DeleteFunc(l.items, func(old Item) bool {
			return fastener(old.Kind) && old.Kind.Leave != item.Kind.Leave && old.key == item.key
		})
	}
	for i := range l.items {
		if old := &l.items[i]; old.Kind.Leave == item.Kind.Leave && old.key == item.key {
			old.Count += item.Count
			return
		}
	}
	l.items = append(l.items, item)
}

// undo takes an item out of the ledger and says what does not agree, if anything.
func (l *Ledger) undo(verb, text string) string {
	count, name := splitCount(text)
	key := itemKey(name)
	for i := range l.items {
		item := &l.items[i]
		if item.key != key || !undoes(verb, item.Kind) {
			continue
		}
		switch {
		case count == 0 || item.Count == 0 || count == item.Count:
			l.items = slices.Delete(l.items, i, i+1)
		case count < item.Count:
			item.Count -= count
		default:
			what := fmt.Sprintf("%d %s under `%s`, but only %d left there", count, name, verb, item.Count)
			l.items = slices.Delete(l.items, i, i+1)
			return what
		}
		return ""
	}
	var states []string
	for _, kind := range ItemKinds() {
		if kind.Undo == verb {
			states = append(states, kind.State)
		}
	}
	return fmt.Sprintf("%q under `%s`, but it is not %s at this step", text, verb, strings.Join(states, " or "))
}

// undoes reports whether a verb puts an item of this kind right. What is
// tightened is back on as well.
func undoes(verb string, kind ItemKind) bool {
	return kind.Undo == verb || verb == "tight" && kind.Leave == "off"
}

// fastener reports whether the kind is a stage in the life of a fastener.
func fastener(kind ItemKind) bool {
	return kind.Leave == "off" || kind.Undo == "tight"
}

// splitCount takes the leading count off an item's text: "4 rags". A number that
// belongs to a size, as in "10 mm plug", is no count.
func splitCount(text string) (int, string) {
	text = strings.TrimSpace(text)
	first, rest, _ := strings.Cut(text, " ")
	count, err := strconv.Atoi(first)
	rest = strings.TrimSpace(rest)
	if err != nil || count < 1 || rest == "" {
		return 0, text
	}
	second, _, _ := strings.Cut(rest, " ")
	if _, unit := unitWords[second]; unit {
		return 0, text
	}
	return count, rest
}

// itemKey is what two texts for the same thing have in common: case, count,
// article and plural do not matter.
func itemKey(text string) string {
	_, name := splitCount(text)
	words := strings.Fields(strings.ToLower(name))
	if len(words) > 1 && (words[0] == "the" || words[0] == "a" || words[0] == "an") {
		words = words[1:]
	}
	for i, word := range words {
		words[i] = singular(word)
	}
	return strings.Join(words, " ")
}

// singular takes the plural's s off a name.
func singular(name string) string {
	if len(name) <= 3 || strings.HasSuffix(name, "ss") {
		return name
	}
	return strings.TrimSuffix(name, "s")
}
