package narrator

import (
	"strings"

	"stepcaller/procedures"
)

// itemTexts is how one state of what is left is told.
type itemTexts struct {
	still    string // the first state of a list
	too      string // a further one
	one, are string // of one thing, of several
	now      string // asks whether it is put right
}

// stateTexts is how a state is told; the states are those of procedures.ItemKinds.
func stateTexts(state string) itemTexts {
	switch state {
	case "unplugged":
		return itemTexts{"Still unplugged: %s.", "Unplugged: %s.", "%s is unplugged.", "%s are unplugged.", "Connected now?"}
	case "loose":
		return itemTexts{"Still loose: %s.", "Loose: %s.", "%s is loose.", "%s are loose.", "Tight now?"}
	case "off":
		return itemTexts{"Still off: %s.", "Off: %s.", "%s is off.", "%s are off.", "Back now?"}
	case "finger-tight":
		return itemTexts{"Still finger-tight: %s.", "Finger-tight: %s.", "%s is finger-tight.", "%s are finger-tight.", "Tight now?"}
	case "open":
		return itemTexts{"Still open: %s.", "Open: %s.", "%s is open.", "%s are open.", "Shut now?"}
	case "plugged":
		return itemTexts{"Still plugged: %s.", "Plugged: %s.", "%s is plugged.", "%s are plugged.", "Out now?"}
	case "stuffed":
		return itemTexts{"Still stuffed: %s.", "Stuffed: %s.", "%s is stuffed.", "%s are stuffed.", "Out now?"}
	case "drained":
		return itemTexts{"Still drained: %s.", "Drained: %s.", "%s is drained.", "%s are drained.", "Filled now?"}
	default: // supported
		return itemTexts{"Still supported: %s.", "Supported: %s.", "%s is supported.", "%s are supported.", "Cleared away now?"}
	}
}

// riskiestFirst lists the states by what it would cost to forget one (common practice): what comes loose on the road or is left inside
// an engine goes before what nobody can overlook.
func riskiestFirst() []string {
	return []string{"finger-tight", "loose", "stuffed", "plugged", "supported", "drained", "open", "unplugged", "off"}
}

// left reads what is still off, open or in, by kind, what is worst to forget first.
func (w wording) left(items []procedures.Item) string {
	if len(items) == 0 {
		return w.F("Nothing is off, open or loose.")
	}
	byState := map[string][]string{}
	for _, it := range items {
		byState[it.Kind.State] = append(byState[it.Kind.State], it.String())
	}
	var parts []string
	for _, state := range riskiestFirst() {
		if byState[state] == nil {
			continue
		}
		text := stateTexts(state).too
		if len(parts) == 0 {
			text = stateTexts(state).still
		}
		parts = append(parts, w.F(text, strings.Join(byState[state], ", ")))
	}
	return strings.Join(parts, " ")
}

// item says how an item is: "4 rags are stuffed."
func (w wording) item(it procedures.Item) string {
	name := it.String()
	text := stateTexts(it.Kind.State).one
	if it.Count > 1 || it.Count == 0 && strings.HasSuffix(name, "s") && !strings.HasSuffix(name, "ss") {
		text = stateTexts(it.Kind.State).are
	}
	return w.F(text, capital(name))
}

// putRightNow asks whether what undoes a kind is done by now.
func (w wording) putRightNow(kind procedures.ItemKind) string { return w.F(stateTexts(kind.State).now) }
