package narrator_test

import (
	"strings"
	"testing"

	"stepcaller/narrator"
)

func containsFold(s, part string) bool {
	return part != "" && strings.Contains(strings.ToLower(s), strings.ToLower(part))
}

const hoses = `
id: hoses
title: Hoses
machine: Ostwick Pony
book: [{code: "1", title: Hoses, hours: 0.5}]
choices:
  - {id: hard, ask: Is the hose hard?}
  - {id: bypass, ask: Does the bypass need renewing?, approval: true}
steps:
  - {id: a, say: Open the bonnet., minutes: 2, open: [bonnet]}
  - {id: b, say: Pull the hose off., minutes: 2, only_if: hard, off: [hose]}
  - {id: c, say: Clean the hose., minutes: 2, unless: hard}
  - {id: d, say: Renew the bypass., title: Bypass hose, minutes: 2, only_if: bypass}
  - {id: e, say: Push the hose on., minutes: 2, only_if: [hard], back: [hose]}
  - {id: f, say: Bleed it., minutes: 2, only_if: bypass}
  - {id: g, say: Shut the bonnet., minutes: 2, shut: [bonnet]}
`

func TestAChoiceOpensAndShutsSteps(t *testing.T) {
	for name, c := range map[string]struct {
		answers []string // to the hose, then to the bypass
		steps   []string
		left    string
	}{
		"hard": {[]string{"yes", "no"}, []string{"a", "b", "e", "g"}, "Nothing is off"},
		"soft": {[]string{"no", "no"}, []string{"a", "c", "g"}, "Nothing is off"},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRigOn(t, hoses)
			seconds, answers := 10.0, c.answers
			for range 12 {
				said := r.say(seconds, "next")
				for strings.HasSuffix(said, "?") && len(answers) > 0 {
					seconds += 30 // somebody goes and looks
					said = r.say(seconds, answers[0])
					answers = answers[1:]
				}
				seconds += 10
			}
			var steps []string
			for _, a := range r.job().Arrivals {
				steps = append(steps, r.job().Procedure.Steps[a.Step].ID)
			}
			if strings.Join(steps, " ") != strings.Join(c.steps, " ") {
				t.Errorf("went through %v, want %v", steps, c.steps)
			}
			if said := r.say(seconds, "finish job"); containsFold(said, "not done") || said != "Finish the job?" {
				t.Errorf("at the end said %q", said)
			}
		})
	}
}

func TestALookCountsForTheStepThatItOpens(t *testing.T) {
	r := newRigOn(t, hoses)
	wants(t, r.say(10, "next"), "Is the hose hard?")
	wants(t, r.say(50, "yes"), "Step 2. Pull the hose off.")
	if a := r.job().Arrivals[1]; a.At != at(10) || a.Step != 1 {
		t.Errorf("arrived %+v", a)
	}
	wants(t, r.say(60, "what's left"), "Still open: bonnet. Off: hose")
	wants(t, r.say(70, "undo that"), "Taken back: that answer. Step 1.")
	if _, known := decision(r, "hard"); known {
		t.Error("the answer stands after it was taken back")
	}
	wants(t, r.say(80, "next"), "Is the hose hard?")
	wants(t, r.say(90, "no"), "Step 3. Clean the hose.")
	wants(t, r.say(100, "where am i"), "Step 3 of 7")
	wants(t, r.say(110, "previous step"), "Step 1.")
	wants(t, r.say(120, "next"), "Is the hose hard?") // asked again: it was gone back past
	wants(t, r.say(130, "yes"), "Step 2.")
}

func decision(r *rig, choice string) (yes, known bool) {
	for _, d := range r.job().Decisions {
		if d.Choice == choice {
			yes, known = d.Yes, true
		}
	}
	return yes, known
}

func TestAnUnansweredChoiceIsAskedAgain(t *testing.T) {
	r := newRigOn(t, hoses)
	r.say(10, "next")
	r.say(90, "yes") // a minute is over
	if r.job().Step != 0 || r.last.Took {
		t.Error("an answer that came too late was taken")
	}
	wants(t, r.hear(100, "next", false), "Next?")
	wants(t, r.say(102, "yes"), "Is the hose hard?")
	wants(t, r.hear(110, "yes", false), "say yes or no")
	wants(t, r.say(113, "yes"), "Step 2")
}

func TestExtraWorkStaysShutUntilItIsApproved(t *testing.T) {
	r := newRigOn(t, hoses)
	r.say(10, "next")
	r.say(12, "no")
	wants(t, r.say(20, "next"), "Does the bypass need renewing?")
	wants(t, r.say(24, "yes"), "Finding 1, bypass hose. Ask the customer?")
	wants(t, r.say(28, "yes"), "Hold the job for approval?")
	wants(t, r.say(32, "no"), "Step 7. Shut the bonnet.")
	wants(t, r.say(60, "approval"), "Finding 1, bypass hose: approved?")
	wants(t, r.say(62, "yes"), "By whom? 1, customer")
	wants(t, r.say(64, "one"), "Approved: step 4. Go there?")
	wants(t, r.say(66, "yes"), "Step 4. Renew the bypass.")
	wants(t, r.say(100, "next"), "Step 6. Bleed it.") // step 5 is shut
	wants(t, r.say(120, "next"), "Step 7.")           // and there it was left off
	f := r.job().Findings[0]
	if !f.Approved || f.By != "customer" || f.Choice != "bypass" || f.Asked != at(28) || f.Ruled != at(60) {
		t.Errorf("finding %+v", f)
	}
	if said := r.say(130, "finish job"); said != "Finish the job?" {
		t.Errorf("said %q", said)
	}
}

func TestADeclinedChoiceIsNo(t *testing.T) {
	r := newRigOn(t, hoses)
	r.say(10, "next")
	r.say(12, "no")
	r.say(20, "next")
	r.say(24, "yes")
	r.say(28, "yes")
	wants(t, r.say(32, "yes"), "On hold for approval")
	r.say(332, "approval")
	r.say(335, "no")
	wants(t, r.say(338, "two"), "Finding 1 declined. The job is on hold for approval. Say carry on.")
	r.say(340, "carry on")
	wantTotals(t, r, 340, 32, 308, 0, 0)
	wants(t, r.say(350, "next"), "Step 7")
	if g := r.job().Gate(3); g != narrator.GateShut {
		t.Errorf("gate %v", g)
	}
	r.say(352, "undo that")
	r.say(354, "undo that")
	wants(t, r.say(356, "undo that"), "Taken back: the approval")
	if f := r.job().Findings[0]; f.Ruled != 0 {
		t.Errorf("finding %+v", f)
	}
}

func TestAChoiceBeforeTheFirstStep(t *testing.T) {
	const file = `
id: filter
title: Filter
machine: Ostwick Pony
book: [{code: "1", title: Filter, hours: 0.5}]
steps:
  - {id: a, say: Knock it clean., only_if: Is the filter dry?, off: [filter]}
  - {id: b, say: Renew it.}
`
	for answer, says := range map[string]string{"yes": "Step 1. Knock it clean.", "no": "Step 2. Renew it."} {
		t.Run(answer, func(t *testing.T) {
			r := newRigOn(t, file)
			wants(t, text(r.last), "Is the filter dry?")
			r.spoken(5)
			wants(t, r.say(80, "repeat"), "Is the filter dry?")
			wants(t, r.say(84, answer), says)
			wants(t, r.say(90, "what's left"), map[string]string{"yes": "Still off: filter", "no": "Nothing is off"}[answer])
		})
	}
}

func TestGoingBackForWhatWasApprovedAsksNothingAgain(t *testing.T) {
	r := newRigOn(t, `
id: hoses
title: Hoses
machine: Ostwick Pony
book: [{code: "1", title: Hoses, hours: 0.5}]
choices: [{id: bypass, ask: Renew the bypass?, approval: true}]
steps:
  - {id: a, say: Open the bonnet., minutes: 2}
  - {id: b, say: Renew the bypass., minutes: 2, only_if: bypass}
  - {id: c, say: Pull the hose off., minutes: 2, only_if: Is it hard?}
  - {id: d, say: Shut the bonnet., minutes: 2}
`)
	for i, word := range []string{"next", "yes", "yes", "no", "no", "approval", "yes", "one", "yes"} {
		said := r.say(10+5*float64(i), word)
		if i == 3 {
			wants(t, said, "Step 2 stays shut until it is approved.")
		}
	}
	wants(t, text(r.last), "Step 2.")
	wants(t, r.say(80, "next"), "Step 4. Shut the bonnet.")
	r.say(90, "previous step")
	wants(t, r.say(100, "previous step"), "Step 1.")
	r.say(110, "next")
	wants(t, r.say(112, "yes"), "Step 2.") // the finding stands
	wants(t, r.say(120, "next"), "Is it hard?")
}
