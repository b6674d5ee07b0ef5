package narrator_test

import (
	"strings"
	"testing"

	"stepcaller/narrator"
)

const openEnds = `
id: manifold
title: Manifold
machine: Ostwick Pony
book: [{code: "1", title: Manifold, hours: 1}]
tools: [ratchet, mirror]
fluids: [{name: coolant, spec: type P2, capacity: 8 l}]
steps:
  - {id: a, say: Take the hose off., minutes: 3, disconnect: [hose], stuff: [4 rags], drain: [coolant]}
  - id: b
    say: Fit it.
    minutes: 3
    connect: [hose]
    loosen: [clamp]
    fill: [coolant]
    level: [coolant]
    torque: [{fastener: flange nut, count: 2, value: 20 N·m, again: after heat}]
  - {id: c, say: Fill up., minutes: 3, out: [4 rags], tight: [clamp], drain: [coolant], fill: [coolant]}
  - {id: d, say: Start it., minutes: 3, starts_engine: true, level: [coolant]}
  - {id: e, say: Nuts once more., minutes: 3, torque: [{fastener: flange nut, count: 2, value: 20 N·m}]}
`

func TestFinishingIsRefusedItemByItem(t *testing.T) {
	r := newRigOn(t, openEnds)
	r.say(10, "next")
	wants(t, r.say(20, "finish job"), "4 rags are stuffed. Out now?")
	wants(t, r.say(24, "yes"), "Clamp is loose. Tight now?")
	wants(t, r.say(28, "no"), "Why does it stay so?")
	wants(t, r.say(32, "parts"), "Not finished. Clamp is loose. On hold for parts.")
	if held := r.job().Held(); held == nil || held.Reason != "parts" || held.From != at(20) {
		t.Fatalf("held %+v", held)
	}
	wants(t, r.say(40, "what's left"), "Loose: clamp.")
	for _, item := range r.job().Left() {
		if why := r.job().SpokenFor(item); (why == "parts") != (item.Name == "clamp") {
			t.Errorf("%s stays so for %q", item, why)
		}
	}
	r.say(50, "carry on")
	wants(t, r.say(60, "finish job"), "Clamp is loose. Tight now?")
	wants(t, r.say(64, "yes"), "2 tools taken along. When they are counted, say tools back.")
	wants(t, r.say(66, "yes"), "Say: tools back.")
	wants(t, r.say(68, "tools back"), "2 tools: ratchet, mirror. All there?")
	wants(t, r.say(70, "no"), "Find what is missing, then")
	wants(t, r.say(80, "tools back"), "All there?")
	wants(t, r.say(84, "yes"), "All tools back.")
	said := r.say(90, "finish job")
	wants(t, said, "3 steps not done. Torque not asked for on step 2. Torque again: flange nut, after heat.")
	wants(t, said, "Finish the job?")
	wants(t, r.say(94, "no"), "Not finished")
	r.say(96, "undo that") // the count
	wants(t, r.say(98, "finish job"), "say tools back")
	r.say(99, "no")
	r.say(100, "undo that") // no tools back
	wants(t, r.say(102, "undo that"), "what was said of an open item")
	wants(t, r.say(104, "finish job"), "Clamp is loose")
}

func TestWhatIsTakenOffAgainIsOpenAgain(t *testing.T) {
	r := newRigOn(t, openEnds)
	r.say(10, "next")
	r.say(20, "finish job")
	r.say(24, "yes")
	r.say(28, "yes")
	wants(t, r.say(40, "what's left"), "Still drained: coolant. Unplugged: hose.") // they are put right in this step
	r.say(44, "previous step")
	wants(t, r.say(48, "what's left"), "stuffed: 4 rags")
}

func TestFinishingAfterEverything(t *testing.T) {
	r := newRigOn(t, openEnds)
	r.say(10, "next")
	r.say(12, "torque")
	r.say(14, "next")
	r.say(16, "next")
	r.say(18, "all clear")
	r.say(19, "next")
	r.say(20, "tools back")
	r.say(22, "yes")
	wants(t, r.say(30, "finish job"), "Torque not asked for on step 5. Torque again: flange nut, after heat. Finish the job?")
	r.say(33, "no")
	r.say(40, "torque")
	if said := r.say(44, "finish job"); said != "Finish the job?" {
		t.Errorf("said %q", said)
	}
	wants(t, r.say(48, "yes"), "Job finished")
	done := r.bay.Jobs["2023-11-14-1"]
	if done.Open() || done.End != at(44) || len(done.Left()) != 0 {
		t.Errorf("ended %v, left %v", done.End.Since(dawn).Seconds(), done.Left())
	}
}

func TestALevelIsRecheckedAfterTheLastFilling(t *testing.T) {
	r := newRigOn(t, openEnds)
	r.say(10, "next") // filled and checked
	r.say(12, "next") // filled again
	r.say(14, "tools back")
	r.say(16, "yes")
	wants(t, r.say(20, "finish job"), "Level not rechecked: coolant.")
	r.say(22, "no")
	r.say(24, "next")
	r.say(26, "all clear")
	r.say(28, "tools back")
	r.say(30, "yes")
	if said := r.say(32, "finish job"); containsFold(said, "level") {
		t.Errorf("said %q", said)
	}
}

func TestGoingOnMakesTheCountOfToolsWorthless(t *testing.T) {
	r := newRigOn(t, openEnds)
	r.say(10, "next")
	r.say(12, "tools back")
	r.say(14, "yes")
	r.say(20, "next")
	wants(t, r.say(30, "finish job"), "say tools back")
}

func TestAFileOfFormat1ListsToolsToBeReadOnly(t *testing.T) {
	r := newRig(t)
	atTheEnd(r)
	r.say(60, "torque")
	if said := r.say(70, "finish job"); said != "Finish the job?" {
		t.Errorf("said %q", said)
	}
}

// A step whose caution waits for its answer was not begun: what it puts back is not back.
func TestACautionThatWaitsKeepsItsStepUndone(t *testing.T) {
	r := newRigOn(t, `
stepcaller: 2
id: cover
title: Cover
machine: Ostwick Pony
book: [{code: "1", title: Cover, hours: 1}]
tools: []
parts: []
cautions: []
steps:
  - {id: a, say: Cover off., off: cover}
  - {id: b, say: Cover on., back: cover, cautions: [{say: The fan starts by itself., answer: ground off}]}
`)
	r.say(5, "next")
	wants(t, r.say(10, "finish job"), "Cover is off.")
	r.say(15, "no")
	r.say(20, "parts")
	r.say(25, "carry on")
	r.say(30, "ground off")
	wants(t, r.say(35, "finish job"), "Finish the job?")
}

func TestALostToolIsTypedInAndTheJobIsFinished(t *testing.T) {
	r := newRigOn(t, strings.Replace(threeSteps, "stepcaller: 1", "stepcaller: 2", 1))
	for i := range 2 {
		r.say(float64(5+5*i), "next")
	}
	wants(t, r.say(20, "finish job"), "1 tool taken along")
	wants(t, r.say(25, "no"), "typed in as tool missing")
	r.take(narrator.Enter{At: at(60), Job: r.job().ID, Field: "tool missing", Value: "ratchet, behind the alternator?"})
	wants(t, r.say(70, "finish job"), "Finish the job?")
}
