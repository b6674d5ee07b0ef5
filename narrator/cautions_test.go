package narrator_test

import (
	"slices"
	"testing"

	"stepcaller/narrator"
)

// wantsNot fails when something was said.
func wantsNot(t testing.TB, r *rig, what string) {
	t.Helper()
	if got := text(r.last); containsFold(got, what) {
		t.Errorf("said %q, with %q", got, what)
	}
}

func TestACautionIsAnsweredByTheThingItself(t *testing.T) {
	r := newRigOn(t, everything)
	said := text(r.last)
	wants(t, said, "Caution. Work only on a cold engine.")
	wants(t, said, "Then say: power down. Wait 10 minutes, and say it again.")
	wantsNot(t, r, "Step 1")
	if live := r.bay.Live(); !slices.Contains(live, "power down") || slices.Contains(live, "stands set") {
		t.Errorf("live %v", live)
	}
	// The wait is the maker's, from when the power is off: the reading of the caution begins none.
	wants(t, r.say(300, "power down"), "10 minutes left. Then say: power down.")
	wants(t, r.say(420, "power down"), "8 minutes left. Then say: power down.")
	wants(t, r.say(430, "next"), "8 minutes left. Then say: power down.")
	wants(t, r.tickTo(950), "10 minutes are over. Say: power down.")
	wants(t, r.say(952, "next"), "unplug anything. Say: power down.")
	wants(t, r.say(960, "power down"), "Then say: stands set.")
	wants(t, r.say(962, "yes"), "Say: stands set.")
	wants(t, r.say(964, "next"), "Then say: stands set.")
	if r.job().Step != 0 {
		t.Fatal("went on without an answer")
	}
	wants(t, r.hear(966, "stands set", false), "Stands set? Say it again.")
	r.say(968, "yes")
	wants(t, r.say(970, "engine held"), "") // not its turn
	if r.last.Took {
		t.Error("an answer out of turn was taken")
	}
	wants(t, r.say(972, "stands set"), "Chain hoist hooked in. Then say: engine held.")
	if got := r.say(974, "engine held"); got != "Caution. Mind your head. Step 1. Raise the vehicle." {
		t.Errorf("said %q", got)
	}
	if w, _, _, _ := r.totals(980); w != 980 {
		t.Errorf("worked %v s: the clock runs while a caution is answered", w)
	}
	if r.job().Wants() != "" {
		t.Errorf("still wants %q", r.job().Wants())
	}
}

func TestAnAnswerCountsForTheJobWhereTheTableSaysSo(t *testing.T) {
	r := answered(t)
	wants(t, r.say(720, "next"), "Then say: pressure off.") // the stands were answered for
	wants(t, r.last.Sentences[0].Text, "Never work under a vehicle")
	wants(t, r.say(722, "pressure off"), "Step 2. Drain the coolant.")
	wants(t, r.say(730, "previous step"), "Then say: engine held.")
	r.say(732, "engine held")
	wants(t, r.say(734, "next"), "Then say: pressure off.")
	wants(t, r.say(736, "undo that"), "Mind your head. Step 1.")
	wants(t, r.say(738, "undo that"), "Taken back: the answer to the caution. Caution. Chain hoist hooked in. Then say: engine held.")
}

func TestTheEngineStartsOnlyWhenAllAreClear(t *testing.T) {
	r := newRigOn(t, `
id: run
title: Run it
machine: Ostwick Pony
book: [{code: "1", title: Run, hours: 0.2}]
steps:
  - {id: a, say: Check the oil.}
  - {id: b, say: Start the engine., starts_engine: true}
`)
	wants(t, r.say(10, "next"), "clear of it. Then say: all clear.")
	wants(t, r.say(12, "all clear"), "Step 2. Start the engine.")
	wants(t, r.say(20, "repeat"), "Step 2.")
}

func TestWorkOnHoldWaitsForNoAnswer(t *testing.T) {
	r := newRigOn(t, everything)
	r.say(5, "power down")
	r.say(700, "hold the job")
	r.say(702, "break")
	if slices.Contains(r.bay.Live(), "power down") {
		t.Error("the answer counts while the job is on hold")
	}
	wants(t, r.say(800, "carry on"), "say: power down.")
	r.say(802, "power down")
	wants(t, text(r.last), "stands set")
}

func TestTalkBehindAnAnswerWantsThePhraseAgain(t *testing.T) {
	r := newRigOn(t, everything)
	r.say(5, "power down")
	r.say(700, "power down")
	wants(t, r.say(701, ""), "Power down? Say it again.")
	if r.job().Wants() != "power down" || r.bay.Dialogue.Question.Kind != narrator.NoQuestion {
		t.Errorf("wants %q, asks %q", r.job().Wants(), r.bay.Dialogue.Question.Kind)
	}
}

func TestNothingElseIsReadBeforeTheAnswer(t *testing.T) {
	r := newRigOn(t, everything)
	r.say(5, "power down")
	for _, word := range []string{"torque", "reading", "repeat", "what can i say"} {
		if said := r.say(700, word); !containsFold(said, "say: power down.") {
			t.Errorf("%s: said %q", word, said)
		}
	}
	if calls := r.job().Calls(); len(calls) != 0 {
		t.Errorf("torques %+v", calls)
	}
	if next := r.bay.Likely()[0]; !containsFold(next, "Then say: stands set.") {
		t.Errorf("made ready first: %q", next)
	}
}

// A lift is locked, not set on stands: only its own word will do, until the arms are away again.
func TestALiftIsAnsweredForByItsLock(t *testing.T) {
	r := newRigOn(t, `
id: on-the-lift
title: On the lift
machine: Ostwick Pony
book: [{code: "1", title: On the lift, hours: 0.2}]
steps:
  - {id: up, say: Raise it., cautions: [{use: lift}], support: [4 lift arms]}
  - {id: look, say: Look under it., cautions: [{use: lift}]}
  - {id: down, say: Let it down., clear: [4 lift arms]}
  - {id: again, say: Raise it once more., cautions: [{use: lift}]}
`)
	for i, c := range []struct{ word, want string }{
		{"stands set", "lift locked"}, {"yes", "lift locked"}, {"lift locked", ""}, {"next", ""}, {"next", ""}, {"next", "lift locked"}, {"lift locked", ""},
	} {
		r.say(float64(10+5*i), c.word)
		if got := string(r.job().Wants()); got != c.want {
			t.Fatalf("at step %d behind %q: wants %q, want %q", r.job().Step+1, c.word, got, c.want)
		}
	}
}

// An answer is as good as what it vouches for: once the stands are gone, or the engine has run, it is asked for anew.
func TestAnAnswerLapsesWithWhatItVouchesFor(t *testing.T) {
	r := newRigOn(t, `
id: up-twice
title: Up twice
machine: Ostwick Pony
book: [{code: "1", title: Up twice, hours: 0.2}]
steps:
  - {id: up, say: Raise it., cautions: [{use: raised-vehicle}, {use: hot-coolant}], support: [2 axle stands]}
  - {id: look, say: Look under it., cautions: [{use: raised-vehicle}, {use: hot-coolant}]}
  - {id: down, say: Let it down., clear: [2 axle stands]}
  - {id: cap, say: Look into the tank., cautions: [{use: hot-coolant}]}
  - {id: run, say: Run it., starts_engine: true}
  - {id: again, say: Raise it once more., cautions: [{use: raised-vehicle}, {use: hot-coolant}], support: [2 axle stands]}
  - {id: look-again, say: Look under it., cautions: [{use: raised-vehicle}, {use: hot-coolant}]}
  - {id: down-again, say: Let it down., clear: [2 axle stands]}
`)
	for i, c := range []struct{ word, want string }{
		{"stands set", "pressure off"}, {"pressure off", ""}, {"next", ""}, {"next", ""}, {"next", ""},
		{"next", "all clear"}, {"all clear", ""}, {"next", "stands set"}, {"stands set", "pressure off"}, {"pressure off", ""}, {"next", ""},
	} {
		r.say(float64(10+5*i), c.word)
		if got := string(r.job().Wants()); got != c.want {
			t.Fatalf("at step %d behind %q: wants %q, want %q", r.job().Step+1, c.word, got, c.want)
		}
	}
}
