package narrator_test

import (
	"slices"
	"testing"

	"stepcaller/narrator"
)

// found says that something is worn, from a second on, with a note of six seconds.
func (r *rig) found(seconds float64, file string) string {
	r.say(seconds, "also found")
	if !r.last.Record {
		r.t.Fatal("no note begun")
	}
	r.say(seconds+6, "end of note")
	o := r.take(narrator.NoteEnded{At: at(seconds + 7), From: at(seconds + 0.7), Length: 6 * narrator.Second, File: file})
	r.spoken(seconds + 8)
	return text(o)
}

func TestAFindingIsNotedAskedAndRuledOn(t *testing.T) {
	r := newRig(t)
	r.say(10, "next")
	if slices.Contains(r.bay.Live(), "approval") {
		t.Error("approval counts though nothing is asked")
	}
	wants(t, r.found(20, "memos/a.wav"), "Finding 1, noted, 6 seconds. Ask the customer?")
	wants(t, r.say(30, "no"), "Finding 1 is kept.")
	wants(t, r.found(40, "memos/b.wav"), "Finding 2, noted")
	wants(t, r.say(50, "yes"), "Hold the job for approval?")
	wants(t, r.say(54, "yes"), "On hold for approval.")
	if !slices.Contains(r.bay.Live(), "approval") {
		t.Error("approval does not count though a finding is asked")
	}
	wants(t, r.hear(600, "approval", false), "Approval?")
	wants(t, r.say(604, "yes"), "Finding 2: approved?")
	wants(t, r.say(608, "yes"), "By whom? 1, customer; 2, service desk; 3, foreman. Say the number.")
	wants(t, r.say(612, "three"), "Finding 2 approved. The job is on hold for approval. Say carry on.")
	r.say(654, "carry on")
	wantTotals(t, r, 654, 54, 600, 0, 0)
	if s := r.job().Spells[0]; s.Reason != "approval" {
		t.Errorf("spell %+v", s)
	}
	want := []narrator.Finding{{Number: 1, Step: "belt", At: at(20)},
		{Number: 2, Step: "belt", At: at(40), Asked: at(50), Ruled: at(600), Approved: true, By: "foreman"}}
	if got := r.job().Findings; !slices.Equal(got, want) {
		t.Errorf("findings %+v", got)
	}
	if m := r.job().Memos(); len(m) != 2 || m[0].Finding != 1 || m[1].Finding != 2 {
		t.Errorf("memos %+v", m)
	}
	r.say(700, "next")
	r.say(702, "torque")
	wants(t, r.say(704, "finish job"), "Not asked about: finding 1. Finish the job?")
}

func TestAFindingTakenBackLeavesItsNumber(t *testing.T) {
	r := newRig(t)
	r.found(20, "memos/a.wav")
	wants(t, r.say(30, "undo that"), "the note")
	wants(t, r.say(32, "undo that"), "the finding")
	wants(t, r.found(40, "memos/b.wav"), "Finding 2")
	if f := r.job().Findings; len(f) != 1 || f[0].Number != 2 {
		t.Errorf("findings %+v", f)
	}
	if m := r.job().Memos(); len(m) != 2 || !m[0].Undone {
		t.Errorf("memos %+v", m)
	}
}

func TestAFindingWithoutANote(t *testing.T) {
	for _, c := range []struct {
		note narrator.NoteEnded
		says string
	}{
		{narrator.NoteEnded{}, "Finding 1, without a note. Ask the customer?"},
		{narrator.NoteEnded{Length: narrator.Second, Fault: "the disk is full"}, "Finding 1. The note could not be kept: the disk is full. Ask the customer?"},
	} {
		r := newRig(t)
		r.say(20, "also found")
		c.note.At = at(40)
		wants(t, text(r.take(c.note)), c.says)
		if len(r.job().Findings) != 1 || len(r.job().Memos()) != 0 {
			t.Errorf("findings %+v, memos %+v", r.job().Findings, r.job().Memos())
		}
	}
}

func TestARulingByNobodyCountsAllTheSame(t *testing.T) {
	r := newRig(t)
	r.found(20, "memos/a.wav")
	r.say(30, "yes")
	r.say(34, "no")
	r.say(40, "approval")
	r.say(44, "no")
	wants(t, r.tickTo(60), "Finding 1 declined.")
	if f := r.job().Findings[0]; f.Ruled != at(40) || f.Approved || f.By != "" {
		t.Errorf("finding %+v", f)
	}
	if slices.Contains(r.bay.Live(), "approval") {
		t.Error("approval counts though all is ruled on")
	}
}

func TestANoteThatACrashCutOffStaysWithItsFinding(t *testing.T) {
	r := newRig(t)
	r.say(20, "also found")
	id := r.bay.Active
	r.take(narrator.NoteFound{At: at(90), Job: id, From: at(20.7), Length: narrator.Second, File: "memos/a.wav"})
	r.take(narrator.NoteFound{At: at(90), Job: id, From: at(30), Length: narrator.Second, File: "memos/b.wav"})
	if m := r.job().Memos(); len(m) != 2 || m[0].Finding != 1 || m[1].Finding != 0 {
		t.Errorf("memos %+v", m)
	}
}
