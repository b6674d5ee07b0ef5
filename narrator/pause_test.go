package narrator_test

import (
	"testing"

	"stepcaller/narrator"
)

func TestHoldAsksWhyAndStopsTheClock(t *testing.T) {
	r := newRig(t)
	wants(t, r.say(100, "hold the job"), "What for?")
	wants(t, r.say(104, "parts"), "On hold for parts")
	wantTotals(t, r, 200, 100, 100, 0, 0)
	wants(t, r.say(220, "hold the job"), "on hold for parts")
	wants(t, r.say(300, "carry on"), "after 3 minutes for parts")
	wantTotals(t, r, 310, 110, 200, 0, 0)
	if s := r.job().Spells[0]; s.Reason != "parts" || s.From != at(100) || s.To != at(300) {
		t.Errorf("spell %+v", s)
	}
}

func TestAReasonUnaskedForIsNoWord(t *testing.T) {
	r := newRig(t)
	before := len(r.log)
	r.say(50, "parts")
	r.say(60, "yes")
	r.say(61, "five")
	if len(r.log) != before || r.last.Took {
		t.Errorf("events %+v", r.log[before:])
	}
	r.say(70, "hold the job")
	r.say(90, "phone") // the answer's 8 s are over
	if got := r.job().Spells[0].Reason; got != "" {
		t.Errorf("reason %q from an answer that came too late", got)
	}
}

func TestNextOnHoldAsksToCarryOnAndCountsFromTheWord(t *testing.T) {
	r := newRig(t)
	r.say(100, "hold the job")
	wants(t, r.say(200, "next"), "Carry on?")
	wants(t, r.say(204, "yes"), "Step 2")
	wantTotals(t, r, 210, 110, 100, 0, 0)
	if a := r.job().Arrivals[1]; a.At != at(200) {
		t.Errorf("arrived %v s after dawn", a.At.Since(dawn).Seconds())
	}
}

func TestStopSilencesAndChangesNothing(t *testing.T) {
	r := newRig(t)
	r.say(10, "stop")
	if o := r.last; !o.Cut || len(o.Sentences) != 0 || len(o.Events) != 1 || o.Events[0].Kind != narrator.Word {
		t.Errorf("outcome %+v", o)
	}
}

func TestAwaySinceTheLastWord(t *testing.T) {
	r := newRig(t)
	r.say(60, "where am i")
	wants(t, r.say(200, "i was away"), "since when")
	wants(t, r.say(204, "last word"), "Away for 2 minutes")
	wants(t, r.say(208, "phone"), "Noted, the phone")
	wantTotals(t, r, 210, 70, 140, 0, 0)
	wants(t, r.say(220, "undo that"), "the reason")
	wants(t, r.say(230, "undo that"), "the time away")
	wantTotals(t, r, 240, 240, 0, 0, 0)
}

func TestAwaySinceSoManyMinutes(t *testing.T) {
	r := newRig(t)
	r.say(290, "repeat")
	r.say(300, "i was away")
	r.say(304, "two")
	r.tickTo(312)
	wantTotals(t, r, 320, 200, 120, 0, 0)
	r.say(330, "i was away")
	r.say(334, "nine")
	r.say(335, "nine")
	r.tickTo(340) // 99 minutes: since the job began, at most
	wantTotals(t, r, 340, 10, 330, 0, 0)
}

func TestAwayWithoutSinceIsUnsure(t *testing.T) {
	r := newRig(t)
	r.say(100, "repeat")
	r.say(200, "i was away")
	r.tickTo(220)
	wantTotals(t, r, 220, 120, 0, 100, 0)
}

func TestALongSilenceIsUnsureUntilSomebodySays(t *testing.T) {
	r := newRig(t) // step 1 is expected to take 5 minutes
	wantTotals(t, r, 900, 900, 0, 0, 0)
	wantTotals(t, r, 901, 0, 0, 901, 0)
	said := r.say(1000, "next")
	wants(t, said, "Step 2. Swap the belt.")
	wants(t, said, "Step 1 was quiet for 17 minutes, expected 5 minutes. Was all of it work?")
	wantTotals(t, r, 1010, 10, 0, 1000, 0)
	r.say(1008, "yes")
	wantTotals(t, r, 1020, 1020, 0, 0, 0)

	r.say(1030, "where am i")
	r.say(3000, "repeat") // more than three times 10 minutes
	wants(t, r.say(3004, "no"), "What was it for?")
	r.say(3008, "helping")
	wantTotals(t, r, 3010, 1040, 1970, 0, 0)
}

func TestTakingTheWordBackDoesNotVouchForTheSilence(t *testing.T) {
	r := newRig(t)
	r.say(1000, "next")
	r.say(1020, "undo that")
	wantTotals(t, r, 1020, 20, 0, 1000, 0)
}

func TestLeavingForTheNightReadsWhatIsOpenAndTheMorningAgain(t *testing.T) {
	r := newRig(t)
	r.say(60, "next")
	wants(t, r.say(100, "leaving it for tonight"), "Still off: cover, old belt")
	morning := 100 + 14*3600.0
	said := r.say(morning, "carry on")
	wants(t, said, "for the night")
	wants(t, said, "Still off: cover, old belt")
	wantTotals(t, r, morning+10, 110, morning-100, 0, 0)
}

func TestAGapIsNotWork(t *testing.T) {
	r := newRig(t)
	r.say(50, "repeat")
	said := text(r.take(narrator.Woke{At: at(500), Alive: at(80)}))
	wants(t, said, "Step 1 of 3")
	wantTotals(t, r, 510, 90, 0, 0, 420)
	r.say(520, "hold the job")
	r.take(narrator.Woke{At: at(900), Alive: at(600)})
	wantTotals(t, r, 900, 100, 380, 0, 420)
}

func TestANightWithoutAHoldIsUnsureUpToTheGap(t *testing.T) {
	r := newRig(t)
	r.say(10, "repeat")
	r.take(narrator.Woke{At: at(50000), Alive: at(20000)})
	wantTotals(t, r, 50000, 10, 0, 19990, 30000)
}

func TestAnotherTerminalsJobLeavesTheSilenceUnsure(t *testing.T) {
	r := newRig(t)
	first := r.bay.Active
	r.open(20000)
	sum := narrator.Sum(r.bay.Jobs[first].Timeline(at(20000)))
	if sum.Unsure.Seconds() != 20000 {
		t.Errorf("sums %+v", sum)
	}
}

func TestHelpOnHoldHoldsOnce(t *testing.T) {
	r := newRig(t)
	r.say(10, "hold the job")
	r.say(12, "parts")
	r.say(20, "help")
	wants(t, r.say(22, "yes"), "on hold for parts")
	r.say(30, "carry on")
	if held := r.job().Held(); held != nil {
		t.Errorf("still held: %+v", held)
	}
}

func TestADoubtfulIWasAwayKeepsTheLastWordBeforeIt(t *testing.T) {
	r := newRig(t)
	r.say(60, "repeat")
	r.hear(200, "i was away", false)
	r.say(203, "yes")
	wants(t, r.say(208, "last word"), "Away for 2 minutes")
}
