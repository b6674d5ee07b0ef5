package narrator_test

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// boltedCover is an invented job with every kind of torque that is gone round.
const boltedCover = `
stepcaller: 2
id: bolted-cover
title: Bolted cover
machine: Ostwick Pony
book: [{code: "0412", title: Bolted cover, hours: 0.8}]
tools: []
parts: [cover bolts]
cautions: []
steps:
  - id: loosen
    say: Slacken the cover bolts.
    loosen: [cover bolts]
    loosening:
      - {fastener: cover bolt, count: 4, order: criss-cross, thread: left}
  - id: cover
    say: Tighten the cover.
    tight: [cover bolts]
    torque:
      - {fastener: dowel screw, value: 6 N·m}
      - fastener: cover bolt
        count: 4
        value: 30 N·m
        stages: [snug, half, full, 90°]
        order: criss-cross
        positions: [front left, front right, rear right, rear left]
        lengths: [40 mm, 40 mm, 65 mm, 65 mm]
        condition: oiled
        new: true
        thread: left
      - {fastener: side bolt, count: 3, value: 9 N·m, order: as listed}
  - {id: close, say: Close the hood.}
`

func wrenches(t failer) func(*narrator.Settings) {
	return func(s *narrator.Settings) {
		for _, text := range []procedures.WrenchText{
			{Name: "the small one", Span: "2 to 25 N·m", Step: "0.1 N·m"},
			{Name: "the middle one with the crowfoot", Span: "10 to 60 N·m", Step: "0.1 N·m", Length: 300, Adapter: 50},
		} {
			w, err := procedures.NewWrench(text)
			if err != nil {
				t.Fatal(err)
			}
			s.Wrenches = append(s.Wrenches, w)
		}
	}
}

// talk says words one after another, five seconds apart, and returns what was said to each.
type talk struct {
	*rig
	now float64
}

func (k *talk) word(word string) string {
	k.now += 5
	return k.say(k.now, word)
}

// atCover is a talk that stands at the cover.
func atCover(t failer, settings ...func(*narrator.Settings)) *talk {
	k := &talk{rig: newRigOn(t, boltedCover, settings...)}
	k.word("next")
	return k
}

func says(t *testing.T, got, want string) {
	t.Helper()
	if got != want {
		t.Errorf("said %q\nwant %q", got, want)
	}
}

func TestATighteningIsGoneRoundBoltByBoltOnOneWord(t *testing.T) {
	k := atCover(t, wrenches(t))
	says(t, k.word("torque"), "Dowel screw: 6 N·m. Wrench: the small one. "+
		"Cover bolt, 4 of them: 30 N·m, then 90° further, in 4 stages, criss-cross. Threads oiled. Left-hand thread. New ones in, all 4?")
	order := procedures.CrissCross.Sequence(4)
	names := []string{"front left, 40 mm", "front right, 40 mm", "rear right, 65 mm", "rear left, 65 mm"}
	call := func(i int) string { return fmt.Sprintf("Number %d, %s.", order[i], names[order[i]-1]) }
	says(t, k.word("yes"), "Stage 1 of 4, snug. "+call(0))
	says(t, k.word("next"), call(1))
	says(t, k.word("next"), call(2))
	says(t, k.word("next"), call(3))
	says(t, k.word("next"), "Stage 2 of 4, 15 N·m. Wrench: the small one. "+call(0))
	for range 3 {
		k.word("next")
	}
	// 30 N·m with a crowfoot of 50 mm on 300 mm: 30 × 300/350 = 25.7.
	says(t, k.word("next"), "Stage 3 of 4, 30 N·m. Wrench: the middle one with the crowfoot, set to 25.7 N·m. "+call(0))
	says(t, k.word("repeat"), "Stage 3 of 4, 30 N·m. Wrench: the middle one with the crowfoot, set to 25.7 N·m. "+call(0))
	for range 3 {
		k.word("next")
	}
	says(t, k.word("next"), "Stage 4 of 4, 90° further. "+call(0))
	for range 3 {
		k.word("next")
	}
	says(t, k.word("next"), "All 4 done. Side bolt, 3 of them: 9 N·m, as listed. Wrench: the small one. Bolt by bolt?")
	says(t, k.word("yes"), "9 N·m. Wrench: the small one. Number 1.")
	k.word("next")
	k.word("next")
	says(t, k.word("next"), "All 3 done. Wrench back to its lowest mark.")
	wants(t, k.word("next"), "Step 3. Close the hood.")

	var got []string
	for _, e := range k.log {
		if e.Kind == narrator.Tightened && e.Fastener == "cover bolt" && e.Stage > 2 {
			got = append(got, fmt.Sprintf("%d/%d %s %g %s", e.Stage, e.Number, e.Value, e.NewtonMetres, e.Wrench))
		}
	}
	var want []string
	for _, n := range order {
		want = append(want, fmt.Sprintf("3/%d 30 N·m 30 the middle one with the crowfoot", n))
	}
	for _, n := range order {
		want = append(want, fmt.Sprintf("4/%d 90° 0 ", n))
	}
	if !slices.Equal(got, want) {
		t.Errorf("recorded %q, want %q", got, want)
	}
}

func TestAWalkKeepsItsPlace(t *testing.T) {
	k := atCover(t)
	order := procedures.CrissCross.Sequence(4)
	k.word("torque")
	k.word("yes")
	k.word("next")
	third := fmt.Sprintf("Number %d", order[2])
	wants(t, k.word("next"), third)
	wants(t, k.word("tool list"), "No tools")
	wants(t, k.word("torque"), third)
	says(t, k.word("stop"), fmt.Sprintf("Cover bolt: stage 1, number %d, %s is next. Say torque to go on.", order[2],
		[]string{"front left, 40 mm", "front right, 40 mm", "rear right, 65 mm", "rear left, 65 mm"}[order[2]-1]))
	wants(t, k.word("repeat"), "Say torque to go on")

	wants(t, k.word("previous step"), "Step 1")
	wants(t, k.word("next"), "Step 2")
	wants(t, k.word("torque"), "Stage 1 of 4, snug. "+third)
	wants(t, k.word("undo that"), "The torque must be done again")
	k.word("torque")
	wants(t, k.word("next"), fmt.Sprintf("Number %d", order[3]))
	got := k.word("undo that")
	wants(t, got, fmt.Sprintf("Taken back: stage 1, number %d.", order[2]))
	wants(t, got, third)
	wants(t, k.word("hold the job"), "On hold")
	k.word("parts")
	wants(t, k.word("carry on"), "Step 2. Tighten the cover. Cover bolt. Stage 1 of 4, snug. "+third)
	wants(t, k.word("stop"), "Say torque to go on")
	left := []int{order[2], order[3]}
	slices.Sort(left)
	wants(t, k.word("next"), fmt.Sprintf("Check the torque: dowel screw, 6 N·m; cover bolt, stage 1, numbers %d and %d not done; side bolt, 9 N·m.", left[0], left[1]))
	wants(t, k.word("finish job"), "Torque not complete: cover bolt, step 2.")
}

// Whoever comes back says next to go on with the bolt that was called, and has not tightened it meanwhile.
func TestNextAfterABreakGoesOnWithTheWalk(t *testing.T) {
	order := procedures.CrissCross.Sequence(4)
	third := fmt.Sprintf("Number %d", order[2])
	back := map[string]func(k *talk) string{
		"next and yes": func(k *talk) string { k.word("next"); return k.word("yes") },
		"carry on":     func(k *talk) string { return k.word("carry on") },
		"crash": func(k *talk) string {
			k.word("carry on")
			k.bay = k.restored()
			return text(k.take(narrator.Woke{At: at(k.now + 30), Alive: at(k.now + 20)}))
		},
	}
	for name, comeBack := range back {
		t.Run(name, func(t *testing.T) {
			k := atCover(t)
			k.word("torque")
			k.word("yes")
			k.word("next")
			wants(t, k.word("next"), third)
			k.word("hold the job")
			k.word("phone")
			wants(t, comeBack(k), "Stage 1 of 4, snug. "+third)
			if turn, ok := k.bay.Turn(); !ok || turn.Number != order[2] || k.job().Step != 1 {
				t.Fatalf("stands at step %d, turn %v, %v", k.job().Step+1, turn, ok)
			}
			k.now += 60
			wants(t, k.word("next"), fmt.Sprintf("Number %d", order[3]))
		})
	}
}

// What was read out is not done: a step is not left in silence while its new bolts or its rounds are open.
func TestATorqueThatWasOnlyReadIsNotDone(t *testing.T) {
	k := atCover(t)
	k.word("torque")
	got := k.word("next") // instead of an answer to "New ones in?"
	wants(t, got, "Check the torque: cover bolt, new ones not confirmed; side bolt, 9 N·m. Step 3.")
	k.word("previous step")
	k.word("torque")
	k.word("yes")
	k.word("stop")
	wants(t, k.word("next"), "Check the torque: cover bolt, stage 1, numbers 1, 2, 3 and 4 not done; side bolt, 9 N·m. Step 3.")
	wants(t, k.word("finish job"), "Torque not complete: cover bolt, step 2.")
}

func TestNewBoltsAreAskedForFirst(t *testing.T) {
	k := atCover(t)
	k.word("torque")
	says(t, k.word("no"), "Put the new ones in first, then say torque.")
	wants(t, k.word("torque"), "New ones in, all 4?")
	k.word("next")
	wants(t, k.word("finish job"), "New ones not confirmed: cover bolt, step 2.")
	k.word("no")
	k.word("previous step")
	k.word("torque")
	wants(t, k.word("yes"), "Stage 1 of 4")
	k.word("stop")
	k.word("next")
	if got := k.word("finish job"); strings.Contains(got, "confirmed") {
		t.Errorf("said %q", got)
	}
}

func TestATorqueThatNoWrenchReachesIsToldSo(t *testing.T) {
	k := atCover(t, func(s *narrator.Settings) {
		w, err := procedures.NewWrench(procedures.WrenchText{Name: "the long one", Span: "40 to 200 N·m"})
		if err != nil {
			t.Fatal(err)
		}
		s.Wrenches = []procedures.Wrench{w}
	})
	wants(t, k.word("torque"), "No wrench of yours is good for 6 N·m; the long one is good from 40 N·m.")
}

func TestLooseningGoesBackwards(t *testing.T) {
	k := &talk{rig: newRigOn(t, boltedCover)}
	order := procedures.CrissCross.Loosening(4)
	says(t, k.word("torque"), fmt.Sprintf("Loosen: cover bolt, 4 of them, in this order: %d, %d, %d, %d. Left-hand thread: clockwise to loosen.",
		order[0], order[1], order[2], order[3]))
}

func TestAnOfferedWalkIsNoObstacle(t *testing.T) {
	k := &talk{rig: newRigOn(t, strings.Replace(threeSteps, "value: 10 N·m", "value: 10 N·m, order: criss-cross", 1))}
	k.word("next")
	k.word("next")
	says(t, k.word("torque"), "Cover bolts, 4 of them: 10 N·m, criss-cross. Bolt by bolt?")
	says(t, k.word("next"), "That was the last step. When all is done, say finish job.")
}

// Whatever is said, a fastener is recorded once a stage unless it is taken back or done anew, always the one that was called, and a
// restart knows as much.
func TestWalk_everyTurnOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := atCover(t)
		words := []string{"next", "next", "next", "next", "torque", "yes", "no", "undo that", "stop", "previous step", "repeat", "hold the job", "carry on"}
		for range rapid.IntRange(1, 120).Draw(t, "length") {
			called, walking := k.bay.Turn()
			held := k.job().Held() != nil || k.bay.Dialogue.Question.Kind != narrator.NoQuestion
			before := len(k.log)
			word := rapid.SampledFrom(words).Draw(t, "word")
			k.word(word)
			for _, e := range k.log[before:] {
				if e.Kind != narrator.Tightened {
					continue
				}
				if got := (narrator.Turn{Entry: called.Entry, Stage: e.Stage, Number: e.Number}); !walking || got != called {
					t.Fatalf("%q recorded %v while %v was called (%v, held %v)", word, got, called, walking, held)
				}
			}
		}
		done := map[string]int{}
		arrived := 0
		for _, e := range live(k.job().Log()) {
			switch e.Kind {
			case narrator.Arrived:
				arrived++
			case narrator.Tightened:
				key := fmt.Sprint(e.Fastener, e.Stage, e.Number)
				if last, ok := done[key]; ok && last == arrived {
					t.Fatalf("%s recorded twice in one visit", key)
				}
				done[key] = arrived
			}
		}
		again, err := narrator.NewJob(k.job().Log())
		if err != nil {
			t.Fatal(err)
		}
		live, _ := k.job().Begun()
		restored, _ := again.Begun()
		if !reflect.DeepEqual(live, restored) {
			t.Fatalf("a restart stands at %v, not at %v", restored, live)
		}
	})
}

// live is a log without what was taken back.
func live(log []narrator.Event) []narrator.Event {
	gone := map[int64]bool{}
	for _, e := range log {
		if e.Kind == narrator.Undone {
			gone[e.Ref] = true
		}
	}
	return slices.DeleteFunc(slices.Clone(log), func(e narrator.Event) bool { return gone[e.Act] })
}

// A hub nut is seated, slackened and set in one step (common practice for adjustable wheel bearings): one nut, two torques.
func TestOneNutMayHaveTwoTorquesInAStep(t *testing.T) {
	file := strings.Replace(threeSteps, "{fastener: cover bolts, count: 4, value: 10 N·m}",
		"{fastener: hub nut, value: 60 N·m, stages: [snug, full]}\n      - {fastener: hub nut, value: 7 N·m, low: bearing preload, stages: [snug, full]}", 1)
	k := &talk{rig: newRigOn(t, strings.Replace(file, "stepcaller: 1", "stepcaller: 2", 1))}
	k.word("next")
	k.word("next")
	wants(t, k.word("torque"), "Stage 1 of 2, snug.")
	says(t, k.word("next"), "Stage 2 of 2, 60 N·m.")
	says(t, k.word("next"), "Done. Hub nut: 7 N·m, in 2 stages. Stage 1 of 2, snug.")
	says(t, k.word("next"), "Stage 2 of 2, 7 N·m.")
	says(t, k.word("next"), "Done. Wrench back to its lowest mark.")
	var got []string
	for _, e := range k.log {
		if e.Kind == narrator.Tightened {
			got = append(got, fmt.Sprintf("%d %s", e.Stage, e.Value))
		}
	}
	if want := []string{"1 snug", "2 60 N·m", "3 snug", "4 7 N·m"}; !slices.Equal(got, want) {
		t.Errorf("recorded %q, want %q", got, want)
	}
}

// Stars and rows number their fasteners by the pattern, which nobody has at hand: it is said where the walk begins.
func TestTheNumberingIsSaidWhereNothingElseTellsIt(t *testing.T) {
	file := strings.Replace(threeSteps, "count: 4, value: 10 N·m", "count: 5, value: 10 N·m, order: star", 1)
	k := &talk{rig: newRigOn(t, file)}
	k.word("next")
	k.word("next")
	k.word("torque")
	says(t, k.word("yes"), "10 N·m. Numbered clockwise from the top. Number 1.")
	if got := k.word("next"); strings.Contains(got, "Numbered") {
		t.Errorf("said %q", got)
	}
	wants(t, k.word("what can i say"), "Next when it is tight")
}

func TestTheWrenchGoesBackBehindAPlainTorqueToo(t *testing.T) {
	file := strings.Replace(threeSteps, "old belt]}", "old belt], torque: [{fastener: tensioner bolt, value: 25 N·m}]}", 1)
	k := &talk{rig: newRigOn(t, file)}
	k.word("next")
	k.word("torque")
	if got := k.word("next"); strings.Contains(got, "Wrench back") {
		t.Errorf("said %q before a step with a torque", got)
	}
	k = &talk{rig: newRigOn(t, strings.Replace(file, "    torque:\n      - {fastener: cover bolts, count: 4, value: 10 N·m}\n", "", 1))}
	k.word("next")
	k.word("torque")
	says(t, k.word("next"), "Wrench back to its lowest mark. Step 3. Put the cover back.")
}

func TestAFastenerIsCalledByItsNameForTheEar(t *testing.T) {
	file := strings.Replace(threeSteps, "cover bolts, count: 4", "M6×1.0 8.8 cover bolt, count: 4", 1)
	k := &talk{rig: newRigOn(t, file)}
	k.word("next")
	k.word("next")
	says(t, k.word("torque"), "Cover bolt, 4 of them: 10 N·m.")
	if calls := k.job().Calls(); len(calls) != 1 || calls[0].Fastener != "M6×1.0 8.8 cover bolt" {
		t.Errorf("recorded %+v", calls)
	}
}
