package narrator_test

import (
	"testing"

	"stepcaller/narrator"
)

const sealing = `
id: sump
title: Sump
machine: Ostwick Pony
book: [{code: "1", title: Sump, hours: 2}]
steps:
  - id: seal
    say: Lay the sealant on.
    minutes: 2
    timers:
      - {name: sealant, minutes: 10, say: The sealant has skinned.}
      - {name: degassing, minutes: 4, from: word}
  - {id: wipe, say: Wipe the pan., minutes: 2, timers: [{name: cool-down, minutes: 60, from: begin}]}
  - {id: fit, say: Fit the sump., minutes: 2, await: [sealant, degassing]}
`

func TestTimersStartAtTheirMomentAndRing(t *testing.T) {
	r := newRigOn(t, sealing)
	wants(t, r.say(5, "how long left"), "No timer is running")
	wants(t, r.say(10, "start timer"), "Degassing: 4 minutes from now.")
	wants(t, r.say(60, "next"), "Step 2. Wipe the pan.")
	wants(t, r.say(70, "how long left"), "Degassing, 3 minutes; sealant, 10 minutes; cool-down, 60 minutes.")
	wants(t, r.say(120, "next"), "Wait: sealant, 9 minutes left. Wait: degassing, 2 minutes left. Step 3. Fit the sump.")
	if said := r.tickTo(251); said != "Degassing: time is up." {
		t.Errorf("said %q", said)
	}
	if said := r.tickTo(4000); said != "The sealant has skinned. Cool-down: time is up." {
		t.Errorf("said %q", said)
	}
	for _, e := range r.log {
		if e.Kind == narrator.Rang && e.At != at(map[string]float64{"degassing": 250, "sealant": 660, "cool-down": 3660}[e.Timer]) {
			t.Errorf("%s rang at %v s", e.Timer, e.At.Since(dawn).Seconds())
		}
	}
}

func TestStartTimerStartsOverAndCanBeTakenBack(t *testing.T) {
	r := newRigOn(t, sealing)
	r.say(10, "next")
	r.say(100, "start timer")
	wants(t, r.say(110, "how long left"), "cool-down, 60 minutes") // 3590 s
	wants(t, r.say(120, "undo that"), "Taken back: the timer")
	if timers := r.job().Timers; len(timers) != 2 || timers[1].From != at(10) {
		t.Errorf("timers %+v", timers)
	}
	r.say(200, "next")
	wants(t, r.say(210, "start timer"), "Degassing: 4 minutes from now.")
	wants(t, r.say(220, "previous step"), "Step 2")
	if timers := r.job().Timers; timers[1].From != at(10) {
		t.Errorf("going back started it over: %+v", timers)
	}
	wants(t, r.say(230, "previous step"), "Step 1")
	r.say(240, "next")
	if s := r.job().Timers[2]; s.Name != "sealant" || s.From != at(240) {
		t.Errorf("sealant laid on again: %+v", r.job().Timers)
	}
}

func TestATimerNotStartedIsNamedWhereItIsWaitedFor(t *testing.T) {
	r := newRigOn(t, sealing)
	r.say(10, "next")
	wants(t, r.say(700, "next"), "Wait: degassing is not started. Step 3.")
}

func TestATimerRingsThroughAHoldAnotherJobAndADeafBay(t *testing.T) {
	r := newRigOn(t, sealing)
	r.say(10, "start timer")
	r.say(20, "hold the job")
	r.say(22, "parts")
	r.say(30, "stop listening")
	r.open(40)
	wants(t, r.tickTo(300), "Sump: degassing: time is up.")
}

func TestATimerOfTheTimeWithoutTheProgramRingsWhenItRunsAgain(t *testing.T) {
	r := newRigOn(t, sealing)
	r.say(10, "start timer")
	said := text(r.take(narrator.Woke{At: at(5000), Alive: at(100)}))
	if want := "Degassing: time is up. Sump. Step 1 of 3"; said[:len(want)] != want {
		t.Errorf("said %q", said)
	}
	if said := r.tickTo(6000); said != "" {
		t.Errorf("said it again: %q", said)
	}
}

func TestATimerWaitsForTheNote(t *testing.T) {
	r := newRigOn(t, sealing)
	r.say(10, "start timer")
	r.say(200, "take a note")
	if said := r.tickTo(300); said != "" {
		t.Errorf("said %q into the note", said)
	}
	r.take(narrator.NoteEnded{At: at(300), From: at(201), Length: 90 * narrator.Second, File: "memos/a.wav"})
	wants(t, r.tickTo(310), "Degassing: time is up.")
}

func TestACoolDownIsNoUnsureSilence(t *testing.T) {
	r := newRigOn(t, sealing)
	r.say(10, "next") // 2 minutes are expected, the cool-down takes 60
	wantTotals(t, r, 3610, 3610, 0, 0, 0)
	r.tickTo(3700)
	wantTotals(t, r, 3970, 3970, 0, 0, 0)
	wantTotals(t, r, 3971, 3610, 0, 361, 0)
}

func TestARunningTimerIsNamedBeforeTheEnd(t *testing.T) {
	r := newRigOn(t, sealing)
	r.say(10, "next")
	r.say(20, "next")
	wants(t, r.say(130, "finish job"), "Still running: sealant, 8 minutes; cool-down, 58 minutes. Finish the job?")
}

// Who forgot the word on the step before says it where the wait is told.
func TestAForgottenTimerIsStartedWhereItIsWaitedFor(t *testing.T) {
	r := newRigOn(t, sealing)
	r.say(10, "next")
	wants(t, r.say(20, "next"), "Wait: degassing is not started.")
	wants(t, r.say(30, "start timer"), "Degassing: 4 minutes from now.")
	wants(t, r.say(40, "start timer"), "No timer on this step")
}
