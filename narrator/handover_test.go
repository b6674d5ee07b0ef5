package narrator_test

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"stepcaller/narrator"
)

// joined is a rig whose bay has a shop.
func joined(t failer, file string) *rig {
	r := newRigOn(t, file)
	r.take(narrator.Sending{Joined: true, Reached: true, Last: at(0)})
	return r
}

func TestAJobIsHandedOver(t *testing.T) {
	r := joined(t, threeSteps)
	id := r.bay.Active
	r.say(60, "next")
	wants(t, r.say(90, "hand it over"), "2 things are off or open. Hand this job over? It stops here, and any bay may take it on.")
	wants(t, r.say(93, "no"), "It stays here.")
	if !r.bay.Jobs[id].Here() {
		t.Fatal("handed over after a no")
	}
	r.say(100, "hand it over")
	wants(t, r.say(103, "yes"), "Handed over at step 2. Any bay may take it on.")
	j := r.bay.Jobs[id]
	if to, gone := j.Elsewhere(); !gone || to != "" || j.Here() || r.bay.Job() != nil || len(r.bay.Others()) != 0 {
		t.Errorf("with %q, gone %v, active %q", to, gone, r.bay.Active)
	}
	sum := narrator.Sum(j.Timeline(at(5000)))
	if sum.Worked != 100*narrator.Second || sum.Paused != 4900*narrator.Second || sum.Unsure != 0 || sum.Gap != 0 {
		t.Errorf("times %+v", sum)
	}
	if line := j.Timeline(at(5000)); line[len(line)-1].Reason != "handover" || line[len(line)-1].From != at(100) {
		t.Errorf("timeline %+v", line)
	}
	if crew := j.Crew; len(crew) != 1 || crew[0].To != at(100) {
		t.Errorf("crew %+v", crew)
	}
	for word, want := range map[string]string{"next": "No job is open", "undo that": "nothing to take back", "other job": "No other job", "hand it over": "No job is open"} {
		wants(t, r.say(200, word), want)
	}
	o := r.take(narrator.TakeUp{At: at(210), Job: id})
	wants(t, text(o), "That job is handed over.")
	if again := r.restored(); !reflect.DeepEqual(facts(again), facts(r.bay)) {
		t.Errorf("restored %+v\nwas %+v", facts(again), facts(r.bay))
	}
	if o := r.take(narrator.Woke{At: at(300), Alive: at(220)}); len(o.Events) != 0 || len(o.Sentences) != 0 {
		t.Errorf("a start after that: %+v", o)
	}
}

func TestWhatIsUnderWayIsNotHandedOver(t *testing.T) {
	for name, c := range map[string]struct {
		file  string
		words []string
		want  string
	}{
		"no shop":     {threeSteps, nil, "No shop is joined here."},
		"round":       {walkJob, []string{"torque"}, "Go round to the end first, or say stop."},
		"round left":  {walkJob, []string{"torque", "next", "stop"}, "Hand this job over?"},
		"wait":        {everything, []string{"power down"}, "A timer is running: power down, 10 minutes. Hand the job over when it is up."},
		"stuffed":     {everything, []string{"power down", "wait", "power down", "stands set", "engine held", "next", "stands set", "pressure off"}, "Still stuffed: 4 rags. 2 more things are off or open. Hand this job over?"},
		"hold":        {threeSteps, []string{"hold the job", "parts"}, "Hand this job over?"},
		"nothing off": {closedJob, nil, "Hand this job over?"},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRigOn(t, c.file)
			if name != "no shop" {
				r.take(narrator.Sending{Joined: true})
			}
			seconds := 5.0
			for _, w := range c.words {
				if w == "wait" {
					seconds += 700
					continue
				}
				r.say(seconds, w)
				seconds += 3
			}
			said := r.say(seconds, "hand it over")
			if name == "nothing off" && said != "Hand this job over? It stops here, and any bay may take it on." {
				t.Errorf("said %q", said)
			}
			wants(t, said, c.want)
		})
	}
}

// walkJob has a tightening of several rounds in its first step, closedJob nothing off.
const (
	walkJob = `
stepcaller: 2
id: cover
title: Cover
machine: Ostwick Pony
book: [{code: "1", title: Cover, hours: 0.2}]
tools: []
parts: []
cautions: []
steps:
  - id: close
    say: Tighten the cover.
    minutes: 6
    torque:
      - {fastener: cover bolt, count: 4, value: 20 N·m, stages: [half, full], order: criss-cross}
`
	closedJob = "stepcaller: 1\nid: look\ntitle: Look\nmachine: Ostwick Pony\nbook: [{code: \"1\", title: Look, hours: 0.2}]\ntools: []\nparts: []\ncautions: []\nsteps:\n  - {id: look, say: Look at it., minutes: 5}\n"
)

func TestAHandoverIsTyped(t *testing.T) {
	r := joined(t, threeSteps)
	first := r.bay.Active
	second := r.open(50)
	in := narrator.HandOver{At: at(60), Job: first, To: "lift-3"}
	if err := in.Check(r.bay); err != nil {
		t.Fatal(err)
	}
	wants(t, text(r.take(in)), "Handed over to bay lift-3.")
	if r.bay.Active != second || len(r.bay.Others()) != 0 {
		t.Errorf("active %q, others %d", r.bay.Active, len(r.bay.Others()))
	}
	wants(t, text(r.take(narrator.TakeUp{At: at(70), Job: first})), "That job is with bay lift-3.")
	for _, typed := range []interface{ Check(*narrator.Bay) error }{
		in, narrator.Enter{At: at(80), Job: first, Field: "cause", Value: "worn"},
		narrator.Correct{At: at(80), Job: first, Technician: "Ines", From: at(1), To: at(2), What: narrator.Working, Why: "x"},
		narrator.Annotate{At: at(80), Job: first, Technician: "Ines", Text: "x"}, narrator.Withdraw{At: at(80), Job: first, Technician: "Ines", Seq: 1},
	} {
		if err := typed.Check(r.bay); err == nil || err.Error() != "job "+first+" is with bay lift-3; write it there" {
			t.Errorf("%T: %v", typed, err)
		}
	}
	if err := (narrator.HandOver{At: at(90), Job: "1999-01-01-1"}).Check(r.bay); err == nil {
		t.Error("an unknown job is handed over")
	}
	wants(t, r.say(100, "undo that"), "nothing to take back") // changing to the second job came before the handover
	r.say(110, "next")
	wants(t, r.say(120, "undo that"), "Taken back: next.")
}

func TestAJobIsLost(t *testing.T) {
	zone := time.Local
	time.Local = time.UTC
	defer func() { time.Local = zone }()
	for name, c := range map[string]struct {
		took  float64 // the day begins at 22:13:20
		words []string
		want  string
	}{
		"at it":      {1000, nil, "Bay lift-3 took this job over at half past ten. What was done here since is kept beside it."},
		"asked":      {100, []string{"finish job"}, "took this job over at quarter past ten"},
		"on hold":    {400, []string{"hold the job", "parts"}, "at twenty past ten"},
		"o'clock":    {6400, nil, "at twelve o'clock"},
		"other time": {940, nil, "at 29 minutes past ten"},
		"to":         {2740, nil, "at 1 minute to eleven"},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t)
			id := r.bay.Active
			seconds := 100.0
			for _, w := range c.words {
				r.say(seconds, w)
				seconds += 3
			}
			o := r.take(narrator.Lost{At: at(8000), Job: id, By: "lift-3", Took: at(c.took)})
			wants(t, text(o), c.want)
			if to, gone := r.bay.Jobs[id].Elsewhere(); !gone || to != "lift-3" || r.bay.Active != "" {
				t.Errorf("with %q, gone %v", to, gone)
			}
			if o := r.take(narrator.Lost{At: at(8001), Job: id, By: "lift-3", Took: at(1000)}); len(o.Sentences)+len(o.Events) != 0 {
				t.Errorf("said again: %+v", o)
			}
			if log := r.bay.Jobs[id].Log(); log[len(log)-1].Kind != narrator.Handed || !log[len(log)-1].On {
				t.Errorf("ends with %+v", log[len(log)-1])
			}
		})
	}
	r := newRig(t)
	first := r.bay.Active
	r.open(10)
	wants(t, text(r.take(narrator.Lost{At: at(20), Job: first, By: "pit", Took: at(15)})), "Fan belt: Bay pit took")
	if r.bay.Job() == nil {
		t.Error("the job that is worked at is left")
	}
}

func TestWhetherAllIsSent(t *testing.T) {
	zone := time.Local
	time.Local = time.UTC
	defer func() { time.Local = zone }()
	last := at(1000)
	for _, c := range []struct {
		narrator.Sending
		want string
	}{
		{narrator.Sending{}, "No shop is joined here."},
		{narrator.Sending{Joined: true}, "The shop was not reached yet."},
		{narrator.Sending{Joined: true, Last: last}, "Everything is sent."},
		{narrator.Sending{Joined: true, Events: 12, Jobs: 2, Notes: 1, Last: last}, "12 events of 2 jobs and 1 note are not sent yet. The shop was last reached at half past ten."},
		{narrator.Sending{Joined: true, Events: 1, Jobs: 1, Reached: true, Last: last}, "1 event of 1 job is not sent yet."},
		{narrator.Sending{Joined: true, Events: 3, Jobs: 1}, "3 events of 1 job are not sent yet. The shop was not reached yet."},
		{narrator.Sending{Joined: true, Notes: 2, Reached: true, Last: last}, "2 notes are not sent yet."},
	} {
		r := newRig(t)
		r.take(c.Sending)
		r.say(5, "finish job")
		said := r.say(8, "all sent")
		wants(t, said, c.want)
		wants(t, said, "Back now?") // the question stays
		if slices.Contains(r.bay.Live(), "all sent") != true {
			t.Error("all sent does not count")
		}
	}
}
