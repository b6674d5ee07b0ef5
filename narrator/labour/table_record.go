package labour

import (
	"fmt"
	"strings"
)

// facts writes who pays and what was typed in, under the head.
func (t *table) facts(s Sheet) {
	if s.Kind != "customer" {
		text := "Kind " + s.Kind
		if s.Earlier != "" {
			text += " of job " + s.Earlier
		}
		t.line("%s", text)
	}
	if s.Draft {
		t.line("The procedure was a draft: nobody had reviewed it.")
	}
	for _, f := range s.Facts {
		t.line("%s: %s", f.Title, f.Value)
	}
}

// record writes what was decided, measured, tightened, found and left, under the times.
func (t *table) record(s Sheet) {
	for _, c := range s.Choices {
		t.line("%s %s", c.Ask, map[bool]string{true: "Yes", false: "No"}[c.Yes])
	}
	for _, r := range s.Readings {
		t.line("Reading %s", r.text())
	}
	t.tightenings(s.Tightenings)
	for _, f := range s.Findings {
		text := fmt.Sprintf("Finding %d, %s", f.Number, f.State)
		if f.By != "" {
			text += " by " + f.By
		}
		if f.Waited > 0 {
			text += fmt.Sprintf(", waited %s", f.Waited.clock())
		}
		t.line("%s", strings.Join(append([]string{text}, f.Notes...), ": "))
	}
	for _, p := range s.PutRight {
		if p.Reason == "" {
			t.line("Put right before closing: %s, %s", p.Item, p.State)
		}
	}
	for _, item := range s.Open {
		t.line("Left %s: %s%s", item.State, item.Item, because(item.Reason))
	}
	if s.Tools.Counted != nil {
		t.line("Tools, %d of them: %s", len(s.Tools.Taken), map[bool]string{true: "all back", false: "not all back"}[s.Tools.Back])
	}
	for _, d := range s.Dictated {
		text := strings.TrimSpace(fmt.Sprintf("%s %s", d.Part, d.Value))
		if d.Number > 0 {
			text = fmt.Sprintf("%s %d", d.Part, d.Number)
		}
		if d.Worked != nil {
			text += ", worked " + d.Worked.clock()
		}
		t.line("Spoken at %s: %s", d.At.clock(), strings.Join(append([]string{text}, d.Notes...), ": "))
	}
}

func because(reason string) string {
	if reason == "" {
		return ""
	}
	return ", " + reason
}

// tightenings writes a line for each group of fasteners: how many were done in the last stage that was begun.
func (t *table) tightenings(all []Tightening) {
	type group struct{ step, fastener string }
	var order []group
	last := map[group]Tightening{}
	done := map[group]map[int]bool{}
	for _, row := range all {
		g := group{row.Step, row.Fastener}
		if done[g] == nil {
			order = append(order, g)
		}
		if done[g] == nil || row.Stage > last[g].Stage {
			done[g] = map[int]bool{}
		}
		done[g][row.Number] = true
		last[g] = row
	}
	for _, g := range order {
		row := last[g]
		text := fmt.Sprintf("Tightened %s: stage %d, %s, %d done", g.fastener, row.Stage, row.StageName, len(done[g]))
		if row.Wrench != "" {
			text += ", " + row.Wrench
		}
		t.line("%s", text)
	}
}

// text is a reading on one line: "rotor thickness, left: 22.1 mm, inside 22 to 24.2".
func (r Reading) text() string {
	text := r.Name
	if r.Position != "" {
		text += ", " + r.Position
	}
	text += ": " + strings.TrimSpace(r.Amount+" "+r.Unit)
	switch {
	case r.Judged == "":
	case r.Judged == "worn" && r.Wear != nil:
		text += ", worn out, the limit is " + *r.Wear
	case r.Min != nil && r.Max != nil:
		text += fmt.Sprintf(", %s %s to %s", r.Judged, *r.Min, *r.Max)
	case r.Min != nil:
		text += fmt.Sprintf(", %s, at least %s", r.Judged, *r.Min)
	case r.Max != nil:
		text += fmt.Sprintf(", %s, at most %s", r.Judged, *r.Max)
	default:
		text += ", " + r.Judged
	}
	if r.Before != nil {
		text += ", was " + *r.Before
	}
	return text
}
