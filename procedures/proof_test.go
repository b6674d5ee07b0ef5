package procedures_test

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

// TestCheck_everyPath compares the proof with every path listed: 2ⁿ jobs, each done
// with the plain ledger.
func TestCheck_everyPath(t *testing.T) {
	found := 0
	rapid.Check(t, func(t *rapid.T) {
		p := randomProcedure(t)
		var choices []string
		for _, c := range p.Choices {
			choices = append(choices, c.ID)
		}
		paths := make([]map[string]bool, 1<<len(choices)) // what is wrong on each path
		worst := map[string]procedures.Severity{}         // by place
		for i := range paths {
			paths[i] = map[string]bool{}
			for _, w := range walk(p, func(choice string) bool { return i>>slices.Index(choices, choice)&1 != 0 }) {
				paths[i][fmt.Sprint(w.severity, w.what)] = true
				if s, met := worst[w.place]; !met || w.severity < s {
					worst[w.place] = w.severity
				}
			}
		}
		for _, m := range procedures.Check(p) {
			if strings.Contains(m.What, "is never done") || strings.HasPrefix(m.What, "no step") {
				continue
			}
			found++
			what, when, _ := strings.Cut(m.What, " when ")
			place := placeIn(what)
			if s, met := worst[place]; !met || s != m.Severity {
				t.Fatalf("%s\nfinds %q of severity %d at %q, the paths %v", procedures.DraftOf(p).YAML(), m.What, m.Severity, place, worst)
			}
			delete(worst, place)
			given := map[int]bool{}
			for _, a := range answered.FindAllStringSubmatch(when, -1) {
				given[slices.Index(choices, a[1])] = a[2] == "yes"
			}
			// on all paths with these answers, and with none of them less
			for left := range given {
				if holds(paths, without(given, left), fmt.Sprint(m.Severity, what)) {
					t.Fatalf("%s\n%q needs no answer to %s", procedures.DraftOf(p).YAML(), m.What, choices[left])
				}
			}
			if !holds(paths, given, fmt.Sprint(m.Severity, what)) {
				t.Fatalf("%s\n%q is not so on every such path", procedures.DraftOf(p).YAML(), m.What)
			}
		}
		if len(worst) > 0 {
			t.Fatalf("%s\nwas not found wrong at %v", procedures.DraftOf(p).YAML(), worst)
		}
	})
	if found == 0 {
		t.Error("nothing was ever wrong")
	}
}

// answered is an answer in what Check says of a path.
var answered = regexp.MustCompile("`([^`]+)` (?:is )?(yes|no)")

func without(given map[int]bool, choice int) map[int]bool {
	fewer := maps.Clone(given)
	delete(fewer, choice)
	return fewer
}

// holds reports whether something is wrong on all paths with these answers.
func holds(paths []map[string]bool, given map[int]bool, what string) bool {
	for i := range paths {
		path := true
		for choice, yes := range given {
			path = path && (i>>choice&1 != 0) == yes
		}
		if path && !paths[i][what] {
			return false
		}
	}
	return true
}

// placeIn is what a message is about, its counts and reasons apart.
func placeIn(what string) string {
	for _, form := range []string{
		`^(step \S+): "?(?:\d+ )?(\w+?)s?"? (under .\w+.),`,
		`^(step \S+) leaves "(?:\d+ )?(\w+?)s?" (.*) to the end`,
		`^(step \S+): "?(?:\d+ )?(\w+?)s?"? goes back over "(?:\d+ )?(\w+?)s?",`,
		`^(step \S+) (starts|is a road test) .*while "(?:\d+ )?(\w+?)s?" (is .*)`,
		`^(step \S+) (waits) for the timer "(\w+)"`,
		`^(step \S+) (fills) "(\w+)"`,
	} {
		if m := regexp.MustCompile(form).FindStringSubmatch(what); m != nil {
			return strings.Join(m[1:], " ")
		}
	}
	return what
}

// wrong is something wrong on one path.
type wrong struct {
	place, what string
	severity    procedures.Severity
}

// walk does the job on one path with the plain ledger.
func walk(p *procedures.Procedure, yes func(string) bool) (all []wrong) {
	var ledger procedures.Ledger
	timers, filled := map[string]bool{}, map[string]string{}
	add := func(severity procedures.Severity, format string, args ...any) {
		what := fmt.Sprintf(format, args...)
		all = append(all, wrong{placeIn(what), what, severity})
	}
	for i := range p.Steps {
		s := &p.Steps[i]
		if slices.ContainsFunc(s.OnlyIf, func(o procedures.Premise) bool { return yes(o.Choice) == o.No }) {
			continue
		}
		for _, name := range s.Await {
			started := slices.ContainsFunc(p.Steps[:i], func(s procedures.Step) bool {
				return slices.ContainsFunc(s.Timers, func(t procedures.Timer) bool { return t.Name == name })
			})
			if started && !timers[name] {
				add(procedures.Error, "step %s waits for the timer %q, which never starts", s.ID, name)
			}
		}
		for _, timer := range s.Timers {
			timers[timer.Name] = true
		}
		before := ledger.Items()
		for _, slip := range ledger.Do(i, s) {
			severity := procedures.Error
			if slip.Known {
				severity = procedures.Question
			}
			add(severity, "step %s: %s", s.ID, slip.What)
		}
		after := ledger.Items()
		for _, old := range before {
			now, still := ledger.Find(old.Name, old.Kind.State)
			if still && (s.Drives || s.Starts && slices.Contains([]string{"stuffed", "plugged", "finger-tight", "unplugged", "drained"}, old.Kind.State)) {
				does := "starts the engine"
				if s.Drives {
					does = "is a road test"
				}
				add(procedures.Question, "step %s %s while %q is %s", s.ID, does, now, now.Kind.State)
			}
			refitted := slices.Contains([]string{"off", "open", "unplugged"}, old.Kind.State) && (!still || now.Count < old.Count)
			for _, cover := range p.Covers {
				if !refitted || !old.Is(cover.Part, old.Kind.State) {
					continue
				}
				for _, hidden := range cover.Hides {
					i := slices.IndexFunc(after, func(item procedures.Item) bool {
						return item.Is(hidden, item.Kind.State) && item.Kind.State != "drained" && item.Kind.State != "supported"
					})
					if i >= 0 {
						add(procedures.Error, "step %s: %q goes back over %q, which is still %s", s.ID, partIn(s, cover.Part), after[i], after[i].Kind.State)
					}
				}
			}
		}
		for _, text := range s.Fill {
			filled[strings.TrimSuffix(strings.TrimLeft(text, "0123456789 "), "s")] = text[strings.LastIndex(text, " ")+1:] + " " + s.ID
		}
		for _, name := range s.Level {
			delete(filled, name)
		}
	}
	for _, item := range ledger.Items() {
		severity := procedures.Question
		if item.Kind.Temporary {
			severity = procedures.Error
		}
		add(severity, "step %s leaves %q %s to the end of the job", p.Steps[item.Step].ID, item, item.Kind.State)
	}
	for _, f := range p.Fluids {
		if name, id, open := strings.Cut(filled[f.Name], " "); open {
			add(procedures.Question, "step %s fills %q, and no step after it rechecks the level", id, name)
		}
	}
	return all
}

// partIn is the name under which a step moves a part.
func partIn(s *procedures.Step, part string) string {
	for _, list := range [][]string{s.Connect, s.Tight, s.Back, s.Shut, s.Out, s.Fill, s.Clear, s.Disconnect, s.Loosen, s.Off, s.ByHand} {
		for _, text := range list {
			if name := strings.TrimLeft(text, "0123456789 "); strings.TrimSuffix(name, "s") == part {
				return name
			}
		}
	}
	return part
}

// randomProcedure has a few things that all kinds of steps do everything to.
func randomProcedure(t *rapid.T) *procedures.Procedure {
	p := &procedures.Procedure{ID: "random", Title: "Random", Machine: "Car"}
	for i := range rapid.SampledFrom([]int{0, 1, 2, 3, 4, 5, 6, 10}).Draw(t, "choices") {
		p.Choices = append(p.Choices, procedures.Choice{ID: fmt.Sprintf("c%d", i), Ask: "Is it?"})
	}
	things := []string{"nut", "rag", "cap"}[:rapid.IntRange(1, 3).Draw(t, "things")]
	lists := func(s *procedures.Step) []*[]string {
		return []*[]string{&s.Off, &s.Back, &s.Off, &s.Back, &s.Loosen, &s.ByHand, &s.Tight, &s.Tight, &s.Stuff, &s.Plug, &s.Out, &s.Out, &s.Open, &s.Shut,
			&s.Disconnect, &s.Connect, &s.Support, &s.Clear, &s.Drain, &s.Fill}
	}
	used := len(lists(&procedures.Step{}))
	used = rapid.SampledFrom([]int{2, 4, 8, used}).Draw(t, "lists")
	for i := range rapid.IntRange(1, 12).Draw(t, "steps") {
		s := procedures.Step{ID: fmt.Sprintf("s%d", i), Say: "Do it."}
		if len(p.Choices) > 0 {
			for range rapid.SampledFrom([]int{0, 0, 1, 1, 1, 2, 3}).Draw(t, "premises") {
				choice := rapid.SampledFrom(p.Choices).Draw(t, "choice").ID
				s.OnlyIf = append(s.OnlyIf, procedures.Premise{Choice: choice, No: rapid.Bool().Draw(t, "no")})
			}
		}
		all := lists(&s)[:used]
		for range rapid.IntRange(0, 3).Draw(t, "entries") {
			list, thing := rapid.SampledFrom(all).Draw(t, "list"), rapid.SampledFrom(things).Draw(t, "thing")
			if slices.ContainsFunc(*list, func(text string) bool { return strings.Contains(text, thing) }) {
				continue
			}
			if n := rapid.SampledFrom([]int{0, 0, 0, 1, 2, 3, 5}).Draw(t, "count"); n > 1 {
				thing = fmt.Sprintf("%d %ss", n, thing)
			} else if n == 1 {
				thing = "1 " + thing
			}
			*list = append(*list, thing)
		}
		s.Starts = rapid.IntRange(0, 9).Draw(t, "starts") == 0
		s.Drives = rapid.IntRange(0, 19).Draw(t, "drives") == 0
		if rapid.IntRange(0, 4).Draw(t, "timer") == 0 {
			s.Timers = []procedures.Timer{{Name: "glue", Minutes: 1}}
		}
		if rapid.IntRange(0, 4).Draw(t, "await") == 0 {
			s.Await = []string{"glue"}
		}
		if rapid.IntRange(0, 4).Draw(t, "level") == 0 {
			s.Level = []string{"nut"}
		}
		p.Steps = append(p.Steps, s)
	}
	if rapid.Bool().Draw(t, "covered") {
		p.Covers = []procedures.Cover{{Part: "nut", Hides: []string{"rag", "cap"}}}
	}
	p.Fluids = []procedures.Fluid{{Name: "nut"}}
	return p
}
