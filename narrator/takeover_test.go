package narrator_test

import (
	"reflect"
	"slices"
	"testing"

	"stepcaller/narrator"
)

// given is a job that was worked at lift-2 and handed over at its second step, by the names of the taking bay.
func given(t testing.TB) (log []narrator.Event, offer narrator.Offer) {
	r := joined(t, threeSteps)
	r.say(60, "next")
	r.say(80, "torque")
	r.say(100, "hand it over")
	r.say(103, "yes")
	const id = "2023-11-14-1.lift-2"
	for _, e := range r.log {
		if e.Job != "" {
			e.Job = id
			log = append(log, e)
		}
	}
	return log, narrator.Offer{Job: id, Bay: "lift-2", Title: "Fan belt", Machine: "Ostwick Pony", Step: 2}
}

func claimed(log []narrator.Event, seconds float64) narrator.Claimed {
	return narrator.Claimed{At: at(seconds), Job: log[0].Job, Log: log, Bay: "lift-2", Here: "lift-3", Technician: "Marek"}
}

func TestAJobIsTakenOverByVoice(t *testing.T) {
	log, offer := given(t)
	r := &rig{t: t, bay: narrator.NewBay(narrator.DefaultSettings()), file: threeSteps}
	r.take(narrator.Offered{Offers: []narrator.Offer{offer}})
	wants(t, r.say(200, "other job"), "Job Ostwick Pony, Fan belt, from bay lift-2, step 2. Take it?")
	wants(t, r.say(204, "no"), "It stays where it is.")
	r.say(210, "other job")
	if said := r.say(214, "yes"); said != "Fetching it." || r.last.Claim != offer.Job || len(r.last.Events) != 0 {
		t.Fatalf("said %q: %+v", said, r.last)
	}
	r.take(claimed(log, 220))
	for _, want := range []string{"Fan belt. Step 2 of 3, Swap the belt. On it 40 seconds of 10 minutes. The job, 2 minutes of 36 minutes.", "Still off: cover, old belt. Caution. Engine off.", "Caution. Fingers clear of the pulleys. Step 2. Swap the belt."} {
		wants(t, text(r.last), want)
	}
	r.say(300, "next")
	r.say(330, "torque")
	j := r.job()
	want := []narrator.Stretch{
		{From: at(0), To: at(60), Step: 0, Visit: 1, What: narrator.Working},
		{From: at(60), To: at(100), Step: 1, Visit: 2, What: narrator.Working},
		{From: at(100), To: at(220), Step: 1, Visit: 2, What: narrator.Paused, Reason: "handover"},
		{From: at(220), To: at(300), Step: 1, Visit: 2, What: narrator.Working},
		{From: at(300), To: at(400), Step: 2, Visit: 3, What: narrator.Working},
	}
	if line := j.Timeline(at(400)); !reflect.DeepEqual(line, want) {
		t.Errorf("timeline %+v", line)
	}
	stays := []narrator.Stay{{Bay: "lift-2", From: at(0), To: at(100)}, {Bay: "lift-3", From: at(220)}}
	crew := []narrator.Shift{{Technician: "Ines", From: at(0), To: at(100)}, {Technician: "Marek", From: at(220)}}
	if !reflect.DeepEqual(j.Stays, stays) || !reflect.DeepEqual(j.Crew, crew) {
		t.Errorf("stays %+v, crew %+v", j.Stays, j.Crew)
	}
	if again := r.restored(); !reflect.DeepEqual(facts(again), facts(r.bay)) {
		t.Errorf("restored %+v\nwas %+v", facts(again), facts(r.bay))
	}
	for range 2 {
		wants(t, r.say(410, "undo that"), "Taken back")
	}
	if r.job().Step != 1 {
		t.Errorf("undone to step %d", r.job().Step)
	}
	wants(t, r.say(420, "undo that"), "nothing to take back")
}

func TestOffersAreAmongTheOtherJobs(t *testing.T) {
	_, offer := given(t)
	offer.Order = "20417"
	r := newRig(t)
	r.open(10)
	r.take(narrator.Offered{Offers: []narrator.Offer{offer}})
	wants(t, r.say(20, "other job"), "Which job? 1, Fan belt; 2, Ostwick Pony, Fan belt, from bay lift-2, step 2.")
	wants(t, r.say(24, "two"), "Job Ostwick Pony, Fan belt, order 20417, from bay lift-2, step 2. Take it?")
	r.say(28, "yes")
	if r.last.Claim != offer.Job {
		t.Errorf("claims %q", r.last.Claim)
	}
	many := make([]narrator.Offer, 12)
	for i := range many {
		many[i] = offer
		many[i].Job += string(rune('a' + i))
	}
	r.take(narrator.Offered{Offers: many})
	r.say(40, "other job")
	if n := len(r.bay.Dialogue.Question.Choices); n != 9 {
		t.Errorf("%d choices for one digit", n)
	}
	r.take(narrator.Offered{})
	wants(t, r.say(60, "nine"), "") // the offer is gone meanwhile
}

func TestACloseCallOverAClaim(t *testing.T) {
	log, offer := given(t)
	for name, c := range map[string]struct {
		change func(*narrator.Claimed)
		want   string
	}{
		"unreachable": {func(in *narrator.Claimed) { in.Fault = narrator.ShopUnreachable }, "The shop cannot be reached. The job stays where it is."},
		"taken":       {func(in *narrator.Claimed) { in.Fault = narrator.TakenByOther }, "Another bay has it by now."},
		"failed":      {func(in *narrator.Claimed) { in.Fault, in.Cause = narrator.ClaimFailed, "disk is full." }, "The job could not be fetched: disk is full."},
		"no log":      {func(in *narrator.Claimed) { in.Log = nil }, "The job could not be fetched: "},
		"torn log":    {func(in *narrator.Claimed) { in.Log = in.Log[1:] }, "The job could not be fetched: "},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t)
			r.take(narrator.Offered{Offers: []narrator.Offer{offer}})
			in := claimed(log, 220)
			c.change(&in)
			wants(t, text(r.take(in)), c.want)
			if len(r.last.Events) != 0 || r.bay.Jobs[offer.Job] != nil {
				t.Errorf("left %+v", r.last.Events)
			}
		})
	}
}

// A job that is taken back goes on in the log that this bay has.
func TestAJobComesBack(t *testing.T) {
	r := joined(t, threeSteps)
	id := r.bay.Active
	r.say(60, "next")
	r.say(100, "hand it over")
	r.say(103, "yes")
	other := narrator.NewBay(narrator.DefaultSettings())
	hand := func(in narrator.Input) {
		if err := other.Apply(narrator.Decide(other, in)); err != nil {
			t.Fatal(err)
		}
	}
	hand(narrator.Claimed{At: at(200), Job: id, Log: r.bay.Jobs[id].Log(), Bay: "lift-2", Here: "lift-3"})
	hand(narrator.Heard{Word: "next", From: at(300), To: at(301), At: at(301), Sure: true})
	hand(narrator.HandOver{At: at(400), Job: id, To: "lift-2"})
	had := len(r.bay.Jobs[id].Log())
	log := slices.Clone(other.Jobs[id].Log())
	r.take(narrator.Offered{Offers: []narrator.Offer{{Job: id, Bay: "lift-3", Title: "Fan belt", Step: 3}}})
	wants(t, r.say(450, "other job"), "from bay lift-3, step 3")
	r.say(454, "yes")
	r.take(narrator.Claimed{At: at(500), Job: id, Log: log, Bay: "lift-3", Here: "lift-2"})
	if e := r.last.Events[0]; e.Seq != int64(had+1) || r.job().Step != 2 || len(r.job().Stays) != 3 {
		t.Errorf("goes on with %+v, step %d, stays %+v", e, r.job().Step, r.job().Stays)
	}
	wantTotals(t, r, 600, 400, 200, 0, 0)
	if again := r.restored(); !reflect.DeepEqual(facts(again), facts(r.bay)) {
		t.Errorf("restored %+v\nwas %+v", facts(again), facts(r.bay))
	}
}

// Taken by force, the job goes on from the last that the shop knows; the bay that lost it has a story of its own, and does not take the other.
func TestAJobIsTakenByForce(t *testing.T) {
	r := newRig(t)
	id := r.bay.Active
	r.say(60, "next")
	arrived := slices.Clone(r.bay.Jobs[id].Log())
	r.say(300, "next")
	other := &rig{t: t, bay: narrator.NewBay(narrator.DefaultSettings())}
	wants(t, text(other.take(narrator.Claim{At: at(350), Job: id, Force: true})), "Fetching it.")
	if !other.last.Force || other.last.Claim != id {
		t.Errorf("claims %+v", other.last)
	}
	other.take(narrator.Claimed{At: at(360), Job: id, Log: arrived, Bay: "lift-2", Here: "lift-3"})
	wantTotals(t, other, 400, 100, 300, 0, 0)
	if j := other.job(); j.Step != 1 || j.Stays[0].To != at(60) || j.Stays[1].From != at(360) {
		t.Errorf("step %d, stays %+v", j.Step, j.Stays)
	}
	r.take(narrator.Lost{At: at(500), Job: id, By: "lift-3", Took: at(360)})
	if worked := narrator.Sum(r.bay.Jobs[id].Timeline(at(900))).Worked; worked != 500*narrator.Second {
		t.Errorf("the other story worked %v", worked.Seconds())
	}
	r.take(narrator.Offered{Offers: []narrator.Offer{{Job: id, Bay: "lift-3", Title: "Fan belt", Step: 3}}})
	wants(t, r.say(600, "other job"), "No other job is open.")
	wants(t, text(r.take(narrator.Claimed{At: at(610), Job: id, Log: other.job().Log(), Bay: "lift-3", Here: "lift-2"})), "story of its own")
}

// Who takes a job over answers for its cautions; what was waited for is not waited for again, and no timer starts anew.
func TestCautionsAreAnsweredAnew(t *testing.T) {
	r := answered(t)
	r.take(narrator.Sending{Joined: true})
	id := r.bay.Active
	r.say(720, "hand it over")
	r.say(724, "yes")
	other := &rig{t: t, bay: narrator.NewBay(narrator.DefaultSettings())}
	other.take(narrator.Claimed{At: at(800), Job: id, Log: r.bay.Jobs[id].Log(), Bay: "lift-2", Here: "lift-3"})
	wants(t, text(other.last), "Caution. Work only on a cold engine.")
	wants(t, text(other.last), "Say: power down.")
	wants(t, other.say(810, "next"), "Say: power down.")
	wants(t, other.say(820, "power down"), "stands set")
	other.say(830, "stands set")
	wants(t, other.say(840, "engine held"), "Step 1. Raise the vehicle.")
}
