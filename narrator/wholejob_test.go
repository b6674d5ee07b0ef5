package narrator_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// obliging says what is wanted, one word after the other, until the job is finished. It answers choices as told, takes
// every reading at 23 and everything else with a yes. It returns the steps that were arrived at.
func obliging(t *testing.T, r *rig, choices map[string]string) []string {
	t.Helper()
	id, seconds := r.bay.Active, 700.0
	for range 200 {
		j := r.bay.Jobs[id]
		if !j.Open() {
			var steps []string
			for _, a := range j.Arrivals {
				steps = append(steps, j.Procedure.Steps[a.Step].ID)
			}
			return steps
		}
		seconds += 7
		q := r.bay.Dialogue.Question
		switch {
		case q.Kind == narrator.AskChoice:
			r.say(seconds, choices[q.Choice])
		case q.Kind == narrator.AskMeasure:
			r.figure(seconds, "two", "three")
			seconds += 5
		case q.Kind == narrator.AskTools:
			r.say(seconds, "tools back")
		case q.Kind == narrator.AskByWhom:
			r.say(seconds, "one")
		case q.Kind == narrator.AskApproval:
			r.say(seconds, "no")
		case q.Kind != narrator.NoQuestion:
			r.say(seconds, "yes")
		case j.Wants() != "":
			r.say(seconds, string(j.Wants()))
		case slices.Contains(r.bay.Live(), "approval"):
			r.say(seconds, "approval")
		case len(j.Procedure.Steps[j.Step].Torque) > 0 && len(j.Calls()) == 0:
			r.say(seconds, "torque")
		default:
			if said := r.say(seconds, "next"); strings.Contains(said, "last step") || strings.Contains(said, "letzte Schritt") {
				seconds += 6
				r.say(seconds, "finish job")
			}
		}
		r.restarted(t)
	}
	t.Fatalf("not finished; at step %d, asks %q", r.job().Step+1, r.bay.Dialogue.Question.Kind)
	return nil
}

// restarted checks that a bay rebuilt from the events waits for the same and stands where this one stands.
func (r *rig) restarted(t *testing.T) {
	t.Helper()
	again := r.restored()
	if !reflect.DeepEqual(facts(again), facts(r.bay)) {
		t.Fatalf("restarted %+v\nwas %+v", facts(again), facts(r.bay))
	}
	if a, b := again.Live(), r.bay.Live(); r.bay.Dialogue.Question.Kind == narrator.NoQuestion && !slices.Equal(a, b) {
		t.Fatalf("restarted it hears %v, was %v", a, b)
	}
}

func TestAWholeJobInWhichEverythingOccurs(t *testing.T) {
	all := "up drain hose-off seal hose-on fill run down road last"
	for _, c := range []struct{ hose, bypass, steps string }{
		{"yes", "no", all},
		{"no", "no", "up drain seal fill run down road last"},
		{"yes", "yes", "up drain hose-off seal bypass seal hose-on fill run down road last"},
	} {
		t.Run(c.hose+" "+c.bypass, func(t *testing.T) {
			r := newRigOn(t, everything)
			id := r.bay.Active
			steps := obliging(t, r, map[string]string{"hose-hard": c.hose, "extra-hose": c.bypass})
			if got := strings.Join(steps, " "); got != c.steps {
				t.Errorf("went through %s, want %s", got, c.steps)
			}
			j := r.bay.Jobs[id]
			if left := j.Left(); len(left) > 0 {
				t.Errorf("left %v", left)
			}
			if len(j.Measurements) != 4 || j.Measurements[3].Judged != procedures.Inside {
				t.Errorf("measured %+v", j.Measurements)
			}
			kinds := map[narrator.Kind]int{}
			for _, e := range r.log {
				kinds[e.Kind]++
			}
			if kinds[narrator.PutRight] != 0 || kinds[narrator.Counted] != 1 || kinds[narrator.Sighted] != 1 || kinds[narrator.Rang] == 0 {
				t.Errorf("events %v", kinds)
			}
			for _, s := range j.Spells {
				if s.What == narrator.Paused && s.Reason != "road test" {
					t.Errorf("paused %+v", s)
				}
			}
		})
	}
}
