package narrator_test

import (
	"strings"
	"testing"

	"stepcaller/narrator"
)

const driving = `
id: wheel
title: Wheel bearing
machine: Ostwick Pony
book: [{code: "1", title: Wheel bearing, hours: 1}]
steps:
  - {id: a, say: Wheel on., minutes: 3, timers: [{name: sealant, minutes: 10}]}
  - {id: b, say: Drive it and listen., minutes: 8, road_test: true, cautions: [{use: wheels}]}
  - {id: c, say: Look it over., minutes: 3}
`

func TestARoadTestIsSilentAndAPauseOfItsOwn(t *testing.T) {
	r := newRigOn(t, driving)
	wants(t, r.say(100, "next"), "Then say: wheels tight.")
	if said := r.say(110, "wheels tight"); said != "Step 2, road test. Drive it and listen." {
		t.Errorf("said %q", said)
	}
	if said := r.tickTo(1000); said != "" {
		t.Errorf("said %q on the road", said)
	}
	if said := text(r.take(narrator.Woke{At: at(1000), Alive: at(900)})); said != "" {
		t.Errorf("said %q on the road", said)
	}
	wants(t, r.say(1100, "next"), "Step 3. Look it over.")
	wants(t, r.tickTo(1105), "Sealant: time is up.")
	wantTotals(t, r, 1110, 120, 990, 0, 0)
	if s := r.job().Spells[0]; s.Reason != "road test" || s.From != at(110) || s.To != at(1100) {
		t.Errorf("spell %+v", s)
	}
	wants(t, r.say(1120, "undo that"), "Taken back: next. The job is on hold for the road test.")
	wants(t, r.say(1200, "repeat"), "Step 2. Drive it and listen.")
	wantTotals(t, r, 1210, 120, 1090, 0, 0)
	wants(t, r.say(1220, "undo that"), "Taken back: carrying on.")
	wants(t, r.say(1222, "undo that"), "Taken back: the answer to the caution")
	wantTotals(t, r, 1230, 1230, 0, 0, 0)
}

func TestSidesAreExplainedOnceAJob(t *testing.T) {
	r := newRigOn(t, `
id: pads
title: Pads
machine: Ostwick Pony
book: [{code: "1", title: Pads, hours: 1}]
steps:
  - {id: a, say: Loosen the bolts., minutes: 3}
  - {id: b, say: Take it off., minutes: 3, off: [left front caliper]}
  - {id: c, say: Turn the rear wheel., minutes: 3}
`)
	wantsNot(t, r, "driver's seat")
	if said := r.say(10, "next"); said != "Left and right are as sat in the driver's seat; the front of the engine is its belt end. Step 2. Take it off." {
		t.Errorf("said %q", said)
	}
	r.say(20, "next")
	wantsNot(t, r, "driver's seat")
	r.say(30, "undo that")
	r.say(32, "undo that")
	wants(t, r.say(40, "next"), "driver's seat")
}

func TestWhatWantsItsTorqueAgainIsNamedBehindTheRoadTest(t *testing.T) {
	file := strings.Replace(driving, "say: Wheel on., minutes: 3", "say: Wheel on., minutes: 3, torque: [{fastener: wheel bolt, value: 110 N·m, again: after road test}]", 1)
	r := newRigOn(t, file)
	r.say(5, "torque")
	r.say(10, "next")
	r.say(15, "wheels tight")
	says(t, r.say(100, "next"), "Step 3. Look it over. Torque again: wheel bolt, after road test.")
	r.say(110, "previous step")
	r.say(115, "previous step")
	r.say(120, "torque")
	if said := r.say(130, "finish job"); strings.Contains(said, "Torque again") {
		t.Errorf("said %q", said)
	}
}
