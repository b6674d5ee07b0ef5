package narrator_test

import (
	"reflect"
	"testing"

	"stepcaller/narrator"
)

func TestNextEndsTheStepWhereTheWordBegins(t *testing.T) {
	r := newRig(t)
	wants(t, r.say(60, "next"), "Step 2. Swap the belt.")
	line := r.job().Timeline(at(90))
	want := []narrator.Stretch{
		{From: at(0), To: at(60), Step: 0, Visit: 1, What: narrator.Working},
		{From: at(60), To: at(90), Step: 1, Visit: 2, What: narrator.Working},
	}
	if !reflect.DeepEqual(line, want) {
		t.Errorf("timeline %+v, want %+v", line, want)
	}
}

func TestCautionsComeBeforeTheStep(t *testing.T) {
	r := newRig(t)
	r.say(60, "next")
	if got := r.last.Sentences; len(got) != 2 || got[0].Text != "Caution. Fingers clear of the pulleys." {
		t.Errorf("said %v", got)
	}
}

func TestLastStepDoesNotFinish(t *testing.T) {
	r := newRig(t)
	r.say(10, "next")
	r.say(20, "next")
	wants(t, r.say(30, "next"), "last step")
	if r.job().Step != 2 || !r.job().Open() {
		t.Errorf("step %d, open %v", r.job().Step, r.job().Open())
	}
}

func TestGoingBackReopensTheStepsClock(t *testing.T) {
	r := newRig(t)
	r.say(60, "next")
	wants(t, r.say(100, "previous step"), "Step 1.")
	r.say(130, "next")
	spent := map[int]float64{}
	for _, s := range r.job().Timeline(at(150)) {
		spent[s.Step] += s.Length().Seconds()
	}
	if spent[0] != 90 || spent[1] != 60 {
		t.Errorf("spent %v, want 90 s and 60 s", spent)
	}
	r.say(160, "previous step")
	wants(t, r.say(170, "previous step"), "first step")
}

func TestTorqueIsCalledOnceAVisitAndInTheTechniciansUnit(t *testing.T) {
	r := newRig(t, func(s *narrator.Settings) { s.Unit = 1 }) // lbf·ft
	wants(t, r.say(5, "torque"), "No torque")
	r.say(10, "next")
	r.say(20, "next")
	// 10 N·m = 10/1.3558179483314004 lbf·ft = 7.3756 (NIST SP 811, App. B)
	wants(t, r.say(30, "torque"), "Cover bolts, 4 of them: 7.38 lbf·ft")
	r.say(40, "torque")
	calls := r.job().Calls()
	if len(calls) != 1 || calls[0].NewtonMetres != 10 || calls[0].Step != "close" || calls[0].At != at(30) {
		t.Errorf("calls %+v", calls)
	}
	wants(t, r.say(50, "undo that"), "The torque must be done again")
	if calls := r.job().Calls(); len(calls) != 1 || !calls[0].Undone {
		t.Errorf("calls after undo %+v", calls)
	}
	wants(t, r.say(60, "finish job"), "Torque not asked for on step 3. Finish the job?")
}

func TestFinishCountsFromTheWordNotTheYes(t *testing.T) {
	r := newRig(t)
	r.say(60, "next")
	r.say(120, "next")
	r.say(121, "torque")
	wants(t, r.say(180, "finish job"), "Finish the job?")
	job := r.job()
	wants(t, r.say(185, "yes"), "Worked 3 minutes, book 36 minutes, efficiency 1200 %")
	if job.End != at(180) || r.bay.Job() != nil {
		t.Errorf("ended at %v s, active %v", job.End.Since(dawn).Seconds(), r.bay.Job())
	}
	wants(t, r.say(190, "undo that"), "Taken back: finishing the job")
	if !r.job().Open() {
		t.Error("the job stays finished")
	}
}

func TestFinishNamesWhatIsNotDone(t *testing.T) {
	r := newRig(t)
	wants(t, r.say(60, "finish job"), "Cover is off. Back now?")
	wants(t, r.say(62, "yes"), "2 steps not done. Finish the job?")
	wants(t, r.say(64, "no"), "Not finished")
	if !r.job().Open() {
		t.Error("finished")
	}
}

func TestFinishWithoutAnswerIsNoFinish(t *testing.T) {
	r := newRig(t)
	atTheEnd(r)
	r.say(60, "finish job")
	r.say(72, "yes")
	if !r.job().Open() {
		t.Error("a yes 11 s after the question finished the job")
	}
}

func TestAnAnswerThatBeganInTimeCounts(t *testing.T) {
	r := newRig(t)
	atTheEnd(r)
	r.say(60, "finish job") // asked until 61, so an answer counts that begins by 69
	r.tickTo(69.5)
	r.say(69, "yes")
	if r.bay.Job() != nil {
		t.Error("a yes that began in time did not finish the job")
	}
}

// atTheEnd leaves nothing open.
func atTheEnd(r *rig) {
	r.say(40, "next")
	r.say(50, "next")
}

func TestDoubtfulWordIsAskedAboutAndCountsFromItsStart(t *testing.T) {
	r := newRig(t)
	wants(t, r.hear(60, "next", false), "Next?")
	if r.job().Step != 0 {
		t.Fatal("moved without a yes")
	}
	r.say(63, "yes")
	if a := r.job().Arrivals[1]; a.At != at(60) {
		t.Errorf("arrived %v s after dawn", a.At.Since(dawn).Seconds())
	}
	wants(t, r.hear(90, "previous step", false), "Previous step?")
	wants(t, r.say(93, "no"), "Left as it was")
	if r.job().Step != 1 {
		t.Error("went back after a no")
	}
}

func TestTalkRightBehindAWordTurnsItIntoAQuestion(t *testing.T) {
	r := newRig(t)
	r.say(60, "next") // ends at 60.5
	wants(t, r.say(61.2, ""), "Next?")
	if r.job().Step != 0 {
		t.Error("the step is not taken back")
	}
	r.say(64, "yes")
	if r.job().Step != 1 || r.job().Arrivals[1].At != at(60) {
		t.Errorf("arrivals %+v", r.job().Arrivals)
	}
	r.say(100, "next")
	r.say(101.5, "") // a whole second later: somebody else's talk
	if r.job().Step != 2 {
		t.Error("talk a second later took the step back")
	}
}

func TestHelpAsksToStop(t *testing.T) {
	r := newRig(t)
	if said := r.hear(10, "help", false); said != "Shall I stop?" || !r.last.Cut {
		t.Errorf("said %q", said)
	}
	r.say(12, "yes")
	if held := r.job().Held(); held == nil || held.From != at(10) {
		t.Errorf("held %+v", held)
	}
}

func TestNothingIsObeyedButStartListening(t *testing.T) {
	r := newRig(t)
	r.say(10, "stop listening")
	r.say(20, "next")
	r.say(25, "finish job")
	if r.job().Step != 0 || r.last.Took {
		t.Error("obeyed while not listening")
	}
	wants(t, r.say(30, "start listening"), "Listening.")
	r.say(40, "next")
	if r.job().Step != 1 {
		t.Error("not obeyed after start listening")
	}
}

func TestOtherJobIsChosenByNumber(t *testing.T) {
	r := newRig(t)
	first := r.bay.Active
	second := r.open(100)
	if r.bay.Active != second || r.bay.Jobs[first].Held().Reason != "other job" {
		t.Fatal("the first job is not on hold for the second")
	}
	wants(t, r.say(150, "other job"), "1, Fan belt")
	r.say(154, "one")
	if r.bay.Active != first {
		t.Fatal("not switched")
	}
	wantTotals(t, r, 160, 110, 50, 0, 0)
	r.say(170, "undo that")
	if r.bay.Active != second || r.job().Held() != nil {
		t.Errorf("active %q, held %v", r.bay.Active, r.job().Held())
	}
}

func TestJoiningAndSteppingOut(t *testing.T) {
	r := newRig(t, func(s *narrator.Settings) { s.Technicians = []string{"Ines", "Marek", "Tove"} })
	wants(t, r.say(100, "joining in"), "1, Marek; 2, Tove")
	r.say(104, "two")
	wants(t, r.say(200, "stepping out"), "1, Ines; 2, Tove")
	r.say(204, "one")
	crew := r.job().Crew
	want := []narrator.Shift{{Technician: "Ines", From: at(0), To: at(200)}, {Technician: "Tove", From: at(100)}}
	if !reflect.DeepEqual(crew, want) {
		t.Errorf("crew %+v, want %+v", crew, want)
	}
	wants(t, r.say(300, "stepping out"), "alone on this job")
	r.say(304, "yes")
	if held := r.job().Held(); held == nil || held.From != at(300) {
		t.Errorf("held %+v", held)
	}
}

func TestANoteIsTakenUndisturbed(t *testing.T) {
	r := newRig(t)
	r.say(10, "take a note")
	if !r.last.Record {
		t.Fatal("no note begun")
	}
	r.say(15, "next")
	if r.job().Step != 0 {
		t.Error("a word in a note was obeyed")
	}
	r.say(20, "end of note")
	if r.last.EndNote != at(20) {
		t.Errorf("ends at %v", r.last.EndNote)
	}
	o := r.take(narrator.NoteEnded{At: at(20.7), From: at(10.7), Length: 9 * narrator.Second, File: "memos/a.wav"})
	wants(t, text(o), "Noted, 9 seconds")
	memos := r.job().Memos()
	if len(memos) != 1 || memos[0].At != at(10.7) || memos[0].Undone {
		t.Errorf("memos %+v", memos)
	}
	wants(t, r.say(30, "undo that"), "the note")
	if memos := r.job().Memos(); len(memos) != 1 || !memos[0].Undone {
		t.Errorf("memos after undo %+v", memos)
	}
}

func TestVolumeAndPaceHaveLimits(t *testing.T) {
	r := newRig(t)
	for i := range 5 {
		r.say(float64(10+i*5), "louder")
		r.say(float64(12+i*5), "speak faster")
	}
	if r.bay.Volume != 100 || r.bay.Pace != 240 {
		t.Errorf("volume %d, pace %d", r.bay.Volume, r.bay.Pace)
	}
	wants(t, r.say(60, "louder"), "as far as it goes")
}

func TestLiveWordsFollowTheQuestion(t *testing.T) {
	r := newRig(t)
	has := func(word string) bool {
		for _, w := range r.bay.Live() {
			if w == word {
				return true
			}
		}
		return false
	}
	if !has("next") || has("yes") || has("parts") || has("five") {
		t.Errorf("live without a question: %v", r.bay.Live())
	}
	r.say(10, "finish job")
	if !has("yes") || !has("next") || has("five") {
		t.Errorf("live after finish: %v", r.bay.Live())
	}
	r.say(12, "no")
	r.say(20, "take a note")
	if has("next") || !has("end of note") {
		t.Errorf("live in a note: %v", r.bay.Live())
	}
}

func TestAYesFinishesNoOtherJob(t *testing.T) {
	r := newRig(t)
	atTheEnd(r)
	r.say(60, "finish job")
	second := r.open(62)
	r.say(64, "yes")
	if !r.bay.Jobs[second].Open() || r.bay.Active != second {
		t.Error("the other job is finished")
	}
}

func TestAskingWhatToSayLeavesTheQuestionOpen(t *testing.T) {
	r := newRig(t)
	r.say(10, "hold the job")
	said := r.say(12, "what can i say")
	wants(t, said, "parts, approval")
	wants(t, said, "What for?")
	r.say(16, "louder")
	wants(t, r.say(20, "phone"), "On hold for the phone")
}

func TestTalkBehindAYesTurnsItIntoAQuestion(t *testing.T) {
	r := newRig(t)
	r.hear(60, "next", false)
	r.say(63, "yes")
	wants(t, r.say(64, ""), "Next?")
	if r.job().Step != 0 {
		t.Error("the step is not taken back")
	}
}
