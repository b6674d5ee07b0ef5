package narrator_test

import (
	"strings"
	"testing"

	"stepcaller/narrator"
)

func TestFactsAreTypedInAndPutRight(t *testing.T) {
	r := newRig(t)
	id := r.bay.Active
	enter := func(job, field, value string) {
		r.take(narrator.Enter{At: at(10), Job: job, Field: field, Value: value})
	}
	enter(id, "cause", "bearing worn")
	enter(id, "cause", "pulley bearing worn")
	enter(id, "code before", "P0300")
	enter(id, "code before", "")
	n := len(r.log)
	enter(id, "colour", "red")
	enter("2023-11-14-9", "cause", "rust")
	if len(r.log) != n {
		t.Errorf("events %+v", r.log[n:])
	}
	if j := r.job(); j.Fact("cause") != "pulley bearing worn" || j.Fact("code before") != "" {
		t.Errorf("cause %q, code before %q", j.Fact("cause"), j.Fact("code before"))
	}
	wants(t, r.say(20, "undo that"), "nothing to take back")
}

func TestAFinishedJobTakesFacts(t *testing.T) {
	r := newRig(t)
	id := r.bay.Active
	atTheEnd(r)
	r.say(60, "finish job")
	r.say(62, "yes")
	r.take(narrator.Enter{At: at(600), Job: id, Field: "odometer out", Value: "84 213 km"})
	if j := r.bay.Jobs[id]; j.Fact("odometer out") != "84 213 km" || j.End != at(60) {
		t.Errorf("odometer out %q, ended %v", j.Fact("odometer out"), j.End)
	}
}

func TestCheckFact(t *testing.T) {
	for _, f := range narrator.Fields() {
		if err := narrator.CheckFact(f.Key, "x"); err != nil {
			t.Error(err)
		}
	}
	for _, c := range []struct{ field, value, says string }{
		{"colour", "red", `no field "colour"; use one of: complaint`},
		{"cause", "\xff", "UTF-8"},
		{"cause", strings.Repeat("a", 4001), "4001 bytes; write at most 4000"},
	} {
		if err := narrator.CheckFact(c.field, c.value); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.field, err)
		}
	}
}

func TestAComebackNamesTheEarlierJob(t *testing.T) {
	for _, c := range []struct{ kind, earlier, says string }{
		{"", "", ""}, {"warranty", "", ""}, {"comeback", "2023-11-01-2", ""},
		{"comeback", "", "name it"}, {"goodwill", "2023-11-01-2", "only a comeback"}, {"free", "", `no kind of job "free"`},
	} {
		err := narrator.CheckJobKind(c.kind, c.earlier)
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q, %q: %v", c.kind, c.earlier, err)
		}
	}
	r := newRig(t)
	r.take(narrator.Start{At: at(10), Job: "2023-11-14-7", Procedure: "fan-belt.yaml", Text: threeSteps, JobKind: "comeback", Earlier: "2023-11-01-2"})
	if j := r.job(); j.Kind != "comeback" || j.Earlier != "2023-11-01-2" {
		t.Errorf("kind %q, earlier %q", j.Kind, j.Earlier)
	}
}
