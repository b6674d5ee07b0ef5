package procedures

import (
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

// itemKinds is the table that ItemKinds lists.
var itemKinds = [...]ItemKind{
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

// ItemKinds is the table of what a step may leave behind, in the order in which
// the lists of one step are taken. Tightening undoes both what was loose and what
// was started by hand; out undoes both plugs and rags.
func ItemKinds() []ItemKind { return slices.Clone(itemKinds[:]) }

// verbKinds is one kind for each verb that puts something right, in the order of the table.
func verbKinds() []ItemKind {
	var kinds []ItemKind
	for i, kind := range itemKinds {
		if firstKind(kind.Undo) == i {
			kinds = append(kinds, kind)
		}
	}
	return kinds
}

// firstKind is the index of the first kind that a verb undoes.
func firstKind(verb string) int {
	return slices.IndexFunc(itemKinds[:], func(kind ItemKind) bool { return kind.Undo == verb })
}

// Item is something a step left in a state that is not the finished one.
type Item struct {
	Kind  ItemKind
	Name  string // as written, without its count
	Count int    // how many there still are, 0 where nobody counted
	Step  int    // index of the step that left it so
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
	accounts map[string]*account // by key of the name
}

// Items lists what is not yet put right, oldest first.
func (l *Ledger) Items() []Item {
	var held []holding
	for _, a := range l.accounts {
		held = append(held, a.holdings()...)
	}
	slices.SortFunc(held, older)
	var items []Item
	for _, h := range held {
		items = append(items, h.item())
	}
	return items
}

// account is the account of the things with this key.
func (l *Ledger) account(key string) *account {
	if l.accounts == nil {
		l.accounts = map[string]*account{}
	}
	if l.accounts[key] == nil {
		l.accounts[key] = &account{}
	}
	return l.accounts[key]
}

// Find is the item with this name and state, and false where there is none.
func (l *Ledger) Find(name, state string) (Item, bool) {
	for _, item := range l.Items() {
		if item.Is(name, state) {
			return item, true
		}
	}
	return Item{}, false
}

// PutRight takes out an item that somebody has accounted for by word, whatever its count. An item that is not in the ledger changes nothing.
func (l *Ledger) PutRight(item Item) {
	for i, kind := range itemKinds {
		if kind.State == item.Kind.State {
			l.account(itemKey(item.Name)).held[i] = holding{}
		}
	}
}

// Begin enters only what a step leaves: a step that is being done may have taken off already what it takes off, and has
// not yet put back what it puts back.
func (l *Ledger) Begin(index int, step *Step) {
	for _, e := range leavings(index, step) {
		l.account(e.key).leave(e)
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
	for _, e := range mendings(index, step) {
		if slip, ok := l.account(e.key).undo(e); !ok {
			slips = append(slips, slip)
		}
	}
	return slips
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
