package narrator_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// unwritten opens a job without a procedure in a new bay.
func unwritten(t failer) *rig {
	r := &rig{t: t, bay: narrator.NewBay(narrator.DefaultSettings())}
	text := procedures.Draft{Title: "Heater tap", Machine: "Ostwick Pony", Steps: []procedures.DraftStep{{Step: procedures.Step{Say: "Say new step."}}}}.YAML()
	r.take(narrator.Start{At: at(0), Job: "2023-11-14-1", Procedure: "dictated", Text: string(text), Technician: "Ines", Dictate: true})
	r.spoken(1)
	return r
}

// tell says a word that begins a note, and the note of two seconds behind it.
func (r *rig) tell(seconds float64, word string, note int) string {
	r.t.Helper()
	r.say(seconds, word)
	if !r.last.Record {
		r.t.Fatalf("%s begins no note", word)
	}
	o := r.take(narrator.NoteEnded{At: at(seconds + 4), From: at(seconds + 1), Length: 2 * narrator.Second, File: "memos/2023-11-14-1-" + string(rune('0'+note)) + ".wav"})
	r.spoken(seconds + 5)
	return text(o)
}

func TestAJobWithoutAProcedureIsSpoken(t *testing.T) {
	r := unwritten(t)
	wants(t, text(r.last), "without a procedure")
	wants(t, r.tell(10, "new step", 1), "Step 1.")
	wants(t, r.tell(70, "comes off", 2), "Off, number 1.")
	wants(t, r.tell(80, "comes off", 3), "Off, number 2.")
	wants(t, r.say(90, "what's left"), "2 are off: numbers 1 and 2.")
	wants(t, r.tell(130, "new step", 4), "Step 2.")
	wants(t, r.say(140, "torque"), "How much, in N·m?")
	r.say(143, "two")
	r.say(144, "five")
	if said := r.tickTo(150); !strings.Contains(said, "25 N·m") {
		t.Errorf("said %q", said)
	}
	wants(t, r.say(160, "goes on"), "Which number?")
	wants(t, r.say(163, "three"), "not off")
	wants(t, r.say(166, "two"), "On, number 2. 1 is off: number 1.")
	r.say(170, "reading")
	r.say(173, "eight")
	r.say(174, "point")
	r.say(175, "five")
	if said := r.tickTo(180); !strings.Contains(said, "8.5") {
		t.Errorf("said %q", said)
	}
	r.say(190, "hold the job")
	r.say(193, "parts")
	wants(t, r.say(200, "new step"), "Carry on?")
	r.say(203, "no")
	r.say(250, "carry on")
	wants(t, r.say(310, "where am i"), "Step 2, on it 2 minutes")
	if said := r.say(320, "next"); said != "" {
		t.Errorf("next in a job without a procedure: %q", said)
	}
	wants(t, r.say(330, "finish job"), "Still off: number 1. Finish the job?")
	r.say(333, "no")
	wants(t, r.say(340, "goes on"), "On, number 1.")
	wants(t, r.say(350, "goes on"), "Nothing is off.")
	r.say(360, "finish job")
	j := r.job()
	wants(t, r.say(363, "yes"), "2 steps, worked 5 minutes")
	if j.Open() {
		t.Fatal("the job is open")
	}

	file := j.Draft(j.End).YAML()
	p, mistakes := procedures.Load("draft.yaml", file)
	if p == nil {
		t.Fatalf("%v\n%s", mistakes, file)
	}
	if !p.Draft || len(p.Steps) != 2 || p.Title != "Heater tap" {
		t.Fatalf("read as %+v", p)
	}
	one, two := p.Steps[0], p.Steps[1]
	// New step at 10 and 130; finished at 360 with a pause from 190 to 250.
	if one.Minutes != 2 || two.Minutes != 2.8 {
		t.Errorf("%v and %v minutes", one.Minutes, two.Minutes)
	}
	if !slices.Equal(one.Off, []string{"number 1 (recording 2)", "number 2 (recording 3)"}) ||
		!slices.Equal(two.Back, []string{"number 2 (recording 3)", "number 1 (recording 2)"}) {
		t.Errorf("off %q, back %q", one.Off, two.Back)
	}
	if len(two.Torque) != 1 || two.Torque[0].Value.String() != "25 N·m" || len(two.Readings) != 1 || two.Readings[0].Min != nil {
		t.Errorf("torques %+v, readings %+v", two.Torque, two.Readings)
	}
	for _, want := range []string{"memos/2023-11-14-1-3.wav", "type what recording 4 says", "paused for 1 minute, parts", "8.5 as said", "draft: true"} {
		if !strings.Contains(string(file), want) {
			t.Errorf("no %q in\n%s", want, file)
		}
	}
}

func TestADraftOfAJobWithAProcedureIsNone(t *testing.T) {
	if d := newRig(t).job().Draft(at(10)); d != nil {
		t.Errorf("draft %+v", d)
	}
}

// Taking back a note takes back what it was about, and its number is not given to anything else.
func TestUndoInAJobWithoutAProcedure(t *testing.T) {
	r := unwritten(t)
	r.tell(10, "new step", 1)
	r.tell(20, "comes off", 2)
	wants(t, r.say(30, "undo that"), "Taken back: number 1 coming off.")
	wants(t, r.say(40, "what's left"), "Nothing is off.")
	wants(t, r.tell(50, "comes off", 3), "Off, number 2.")
	wants(t, r.say(60, "goes on"), "On, number 2.")
	wants(t, r.say(70, "undo that"), "Taken back: number 2 going on.")
	wants(t, r.say(80, "what's left"), "1 is off: number 2.")
	if memos := r.job().Memos(); len(memos) != 3 || !memos[1].Undone || memos[2].Undone {
		t.Errorf("memos %+v", memos)
	}
}

func TestANoteThatWasNotSaid(t *testing.T) {
	r := unwritten(t)
	r.say(10, "comes off")
	wants(t, text(r.take(narrator.NoteEnded{At: at(20)})), "Off, number 1, without a note.")
	if s := string(r.job().Draft(at(30)).YAML()); !strings.Contains(s, "number 1 (no recording)") {
		t.Errorf("draft\n%s", s)
	}
}

func TestAMachineNeedNotBeNamed(t *testing.T) {
	r := &rig{t: t, bay: narrator.NewBay(narrator.DefaultSettings())}
	file := procedures.Draft{Title: "Heater tap", Steps: []procedures.DraftStep{{Step: procedures.Step{Say: "Say new step."}}}}.YAML()
	r.take(narrator.Start{At: at(0), Job: "2023-11-14-1", Procedure: "dictated", Text: string(file), Dictate: true})
	wants(t, text(r.last), "Heater tap, without a procedure.")
}

// A note that a crash cut off stays with the thing that it was about.
func TestANoteThatACrashCutOff(t *testing.T) {
	r := unwritten(t)
	r.tell(10, "new step", 1)
	r.say(20, "comes off")
	again, err := narrator.Restore(r.bay.Settings, nil, r.job().Log())
	if err != nil {
		t.Fatal(err)
	}
	r.bay = again
	r.take(narrator.NoteFound{At: at(60), Job: "2023-11-14-1", From: at(21), Length: narrator.Second, File: "memos/2023-11-14-1-2.wav"})
	r.take(narrator.NoteFound{At: at(60), Job: "2023-11-14-1", From: at(40), Length: narrator.Second, File: "memos/2023-11-14-1-3.wav"})
	memos := r.bay.Jobs["2023-11-14-1"].Memos()
	if len(memos) != 3 || memos[1].Part != narrator.PartOff || memos[1].Number != 1 || memos[2].Part != "" {
		t.Errorf("memos %+v", memos)
	}
}

func TestWordsOfAJobWithoutAProcedure(t *testing.T) {
	r := unwritten(t)
	live := r.bay.Live()
	for word, want := range map[string]bool{"new step": true, "comes off": true, "goes on": true, "torque": true, "reading": true, "next": false,
		"tool list": false, "undo that": true, "hold the job": true} {
		if slices.Contains(live, word) != want {
			t.Errorf("%q live: %v", word, !want)
		}
	}
	if live := newRig(t).bay.Live(); slices.Contains(live, "new step") || !slices.Contains(live, "next") {
		t.Errorf("live in a job with a procedure: %v", live)
	}
}

// Whatever is said, the job is the same after a restart, its draft loads, and what is off adds up.
func TestAnyJobWithoutAProcedure(t *testing.T) {
	words := append(procedures.TrainedPhrases(), "new step", "comes off", "goes on", "torque", "two", "undo that", "new step", "comes off", "goes on")
	rapid.Check(t, func(t *rapid.T) {
		r := unwritten(t)
		seconds := 2.0
		for n := range rapid.IntRange(1, 40).Draw(t, "inputs") {
			seconds += float64(rapid.IntRange(1, 40).Draw(t, "pause")) * 0.5
			switch {
			case r.bay.Dialogue.Recording:
				length := narrator.Span(rapid.IntRange(0, 2).Draw(t, "length")) * narrator.Second
				r.take(narrator.NoteEnded{At: at(seconds), From: at(seconds - 0.5), Length: length, File: "memos/2023-11-14-1-" + string(rune('1'+n)) + ".wav"})
			case rapid.IntRange(0, 12).Draw(t, "restart") == 0:
				r.take(narrator.Woke{At: at(seconds), Alive: at(seconds - 1)})
			default:
				r.hear(seconds, rapid.SampledFrom(words).Draw(t, "word"), rapid.IntRange(0, 5).Draw(t, "sure") > 0)
				seconds++
			}
			j := r.bay.Jobs["2023-11-14-1"]
			again := r.restored()
			if k := again.Jobs[j.ID]; !reflect.DeepEqual(k.Dictation, j.Dictation) || !reflect.DeepEqual(k.Memos(), j.Memos()) {
				t.Fatalf("replayed %+v\nwas %+v", k.Dictation, j.Dictation)
			}
			off, on := 0, 0
			for _, said := range j.Dictation.Said {
				if said.Part == narrator.PartOff {
					off++
				} else if said.Part == narrator.PartOn {
					on++
				}
			}
			if len(j.Dictation.Off()) != off-on {
				t.Fatalf("off %v of %+v", j.Dictation.Off(), j.Dictation.Said)
			}
			file := j.Draft(at(seconds + 1)).YAML()
			if p, mistakes := procedures.Load("draft.yaml", file); p == nil {
				t.Fatalf("%v\n%s", mistakes, file)
			}
		}
	})
}
