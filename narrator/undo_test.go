package narrator_test

import (
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
)

// Undo right after an answer gives the state from before the answer.
func TestUndoingAnAnswerIsExact(t *testing.T) {
	undone := map[narrator.QuestionKind]int{}
	rapid.Check(t, func(t *rapid.T) {
		over := false
		day(t, func(r *rig, seconds float64) {
			q := r.bay.Dialogue.Question
			due := r.bay.Due()
			switch {
			case over || q.Kind == narrator.NoQuestion || !r.bay.Listening || r.bay.Dialogue.Recording:
				return
			case q.Kind == narrator.AskSince || q.Kind == narrator.AskMeasure || q.Kind == narrator.AskMeant || q.Kind == narrator.AskCarryOn:
				return // the answer makes no act of its own
			case due != 0 && due <= at(seconds+5):
				return
			}
			before := facts(r.bay)
			r.hear(seconds+2, rapid.SampledFrom(wanted(r.bay)).Draw(t, "answer"), true)
			kinds := []narrator.Kind{}
			for _, e := range r.last.Events {
				if e.Kind != narrator.Word {
					kinds = append(kinds, e.Kind)
				}
			}
			next := r.bay.Dialogue.Question.Kind
			if len(kinds) == 0 || slices.Contains(kinds, narrator.Unsure) || next == narrator.AskSince || next == narrator.AskByWhom {
				return
			}
			r.hear(seconds+4, "undo that", true)
			if after := facts(r.bay); !reflect.DeepEqual(before, after) {
				t.Fatalf("%s answered with %v, then undone: was %+v\nis %+v", q.Kind, kinds, before, after)
			}
			undone[q.Kind]++
			over = q.Kind != narrator.AskWorked // else the day goes on: few questions are as common
		})
	})
	t.Logf("undone: %v", undone)
}
