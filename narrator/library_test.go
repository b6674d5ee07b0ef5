package narrator_test

import (
	"slices"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// TestBundledProcedures does each of them by word from the first step to the last, with every choice answered yes, and with every choice
// answered no. Everything is back at the end, and no step was left out that the answers open.
func TestBundledProcedures(t *testing.T) {
	for _, p := range procedures.Bundled() {
		for _, answer := range []string{"yes", "no"} {
			t.Run(p.ID+" "+answer, func(t *testing.T) { doWhole(t, p, answer) })
		}
	}
}

func doWhole(t *testing.T, p *procedures.Procedure, answer string) {
	t.Helper()
	r := newRigOn(t, p.Text())
	id := r.bay.Active
	for seconds := 700.0; r.bay.Jobs[id].Open(); seconds += 7 {
		if seconds > 6000 {
			t.Fatalf("not finished; at step %d, asks %q, said %q", r.job().Step+1, r.bay.Dialogue.Question.Kind, text(r.last))
		}
		j, live := r.bay.Jobs[id], r.bay.Live()
		switch q := r.bay.Dialogue.Question; {
		case q.Kind == narrator.AskChoice:
			r.say(seconds, answer)
		case q.Kind == narrator.AskMeasure || q.Kind == narrator.AskApproval:
			r.say(seconds, "no")
		case q.Kind == narrator.AskTools:
			r.say(seconds, "tools back")
		case q.Kind == narrator.AskByWhom:
			r.say(seconds, "one")
		case q.Kind == narrator.AskPutRight:
			t.Fatalf("still open: %q", text(r.last))
		case q.Kind != narrator.NoQuestion:
			r.say(seconds, "yes")
		case j.Wants() != "":
			r.say(seconds, string(j.Wants()))
		case slices.Contains(live, "approval"):
			r.say(seconds, "approval")
		default:
			if said := r.say(seconds, "next"); strings.Contains(said, "last step") {
				seconds += 6
				r.say(seconds, "finish job")
			}
		}
	}
	j := r.bay.Jobs[id]
	if left := j.Left(); len(left) > 0 {
		t.Errorf("left %v", left)
	}
	done := map[string]bool{}
	for _, a := range j.Arrivals {
		done[j.Procedure.Steps[a.Step].ID] = true
	}
	for _, step := range p.Steps {
		open := !slices.ContainsFunc(step.OnlyIf, func(premise procedures.Premise) bool { return premise.No == (answer == "yes") })
		if done[step.ID] != open {
			t.Errorf("step %s: done %v, want %v", step.ID, done[step.ID], open)
		}
	}
}
