package main

import (
	"context"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/procedures"
	"stepcaller/speech"
	"stepcaller/speech/voicetest"
)

// talker hears what a script says; in between somebody talks, for a note to be taken.
type talker struct {
	scripted
	talk map[speech.Samples]bool // seconds in which somebody talks
	deaf []string                // words of the script that did not count when they were said
}

func (h *talker) Hear(b speech.Block, played []int16) []speech.Heard {
	h.speaking = h.talk[b.At/speech.Rate]
	heard := h.scripted.Hear(b, played)
	for _, w := range heard {
		if !strings.Contains("|"+strings.Join(h.live, "|")+"|", "|"+w.Label+"|") {
			h.deaf = append(h.deaf, w.Label)
		}
	}
	return heard
}

// talks marks a note in a script: somebody talks for two seconds.
const talks = "(talks)"

// scriptedJob runs a script through the whole loop, with the real voice and a journal on the disk, and returns the job's id, its data
// folder and what was said. Only the ears are not real.
func scriptedJob(t *testing.T, start narrator.Start, seconds float64, change func(*Config), script ...said) (id, data string, r *reporter) {
	t.Helper()
	needVoice(t, speech.DefaultCommand)
	atHome(t)
	config := defaultConfig()
	config.Data = filepath.Join(t.TempDir(), "data")
	change(&config)
	settings, err := config.settings()
	if err != nil {
		t.Fatal(err)
	}
	origin := narrator.MomentOf(time.Date(2000, 1, 1, 8, 0, 0, 0, time.UTC))
	player := speech.NewPlayer()
	r = &reporter{origin: origin}
	s, done, err := assemble(t.Context(), config, settings, config.Data, player, r, true)
	if err != nil {
		t.Fatal(err)
	}
	ears := &talker{scripted: scripted{words: map[speech.Samples]speech.Heard{}}, talk: map[speech.Samples]bool{}}
	for _, w := range script {
		from := speech.Samples(w.at*speech.Rate) / speech.Frame * speech.Frame
		if w.word == talks {
			ears.talk[from/speech.Rate], ears.talk[from/speech.Rate+1] = true, true
			continue
		}
		at := from + 50*speech.Frame
		ears.words[at-speech.Frame] = speech.Heard{Label: w.word, From: from, To: from + 30*speech.Frame, At: at, Score: 1, Sure: true}
	}
	s.Ears, s.Source, s.Sink, s.Origin = ears, &silence{end: speech.Samples(seconds * speech.Rate)}, &nowhere{feed: player}, origin
	start.At, start.Job = origin, "2000-01-01-1"
	runJob(t, s, start)
	if err := done(); err != nil {
		t.Fatal(err)
	}
	if len(ears.deaf) > 0 {
		t.Errorf("said when they did not count: %q", ears.deaf)
	}
	return start.Job, config.Data, r
}

// runJob begins a job and runs its session to the end of its sound.
func runJob(t *testing.T, s *Session, start narrator.Start) {
	t.Helper()
	s.listen()
	if err := s.take(t.Context(), start); err != nil {
		t.Fatal(err)
	}
	if err := s.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
}

func sheetOf(t *testing.T, id, data string) labour.Sheet {
	t.Helper()
	var s labour.Sheet
	if err := json.Unmarshal([]byte(command(t, data, "labour", id, "--format", "json")), &s); err != nil {
		t.Fatal(err)
	}
	return s
}

func (r *reporter) spoke(part string) bool {
	for _, s := range r.said() {
		if strings.Contains(s.Written, part) {
			return true
		}
	}
	return false
}

// A job without a procedure is spoken, finished, written out as a draft, and typed facts are added to its record afterwards.
func TestAJobIsSpokenAndWrittenDown(t *testing.T) {
	start := narrator.Start{Procedure: "dictated", Text: dictated("Heater tap", "Ostwick Pony"), Technician: "Ines", Dictate: true}
	id, data, r := scriptedJob(t, start, 150, func(*Config) {},
		said{10, "new step"}, said{12, talks}, said{30, "comes off"}, said{32, talks}, said{45, "new step"}, said{47, talks},
		said{60, "torque"}, said{64, "two"}, said{65, "five"}, said{75, "what's left"}, said{80, "goes on"}, said{100, "finish job"}, said{104, "yes"})
	for _, want := range []string{"without a procedure", "Step 1.", "Off, number 1.", "25 N·m.", "1 is off: number 1.", "On, number 1.", "Finish the job?", "2 steps, worked"} {
		if !r.spoke(want) {
			t.Errorf("never said %q: %+v", want, r.said())
		}
	}
	path := filepath.Join(t.TempDir(), "draft.yaml")
	command(t, data, "draft", id, "-o", path)
	p, mistakes, err := procedures.ReadFile(path)
	if err != nil || p == nil {
		t.Fatal(err, mistakes)
	}
	if !p.Draft || len(p.Steps) != 2 || p.Steps[0].Off[0] != "number 1 (recording 2)" || p.Steps[1].Back[0] != "number 1 (recording 2)" ||
		p.Steps[1].Torque[0].Value.String() != "25 N·m" || p.Steps[1].Minutes != 0.9 { // 45 s to 100 s
		t.Errorf("the draft is %+v", p.Steps)
	}
	if code := run(t.Context(), []string{"start", path, "--data", data}); code != exitUsage {
		t.Errorf("a draft is started with exit code %d", code)
	}
	if code := run(t.Context(), []string{"draft", id, "-o", path, "--data", data}); code != exitUsage {
		t.Errorf("a draft is written over a file with exit code %d", code)
	}
	command(t, data, "enter", id, "odometer  out", "88 420 km")
	command(t, data, "enter", id, "cause", "seal gone")
	command(t, data, "enter", id, "cause", "seal hard")
	sheet := sheetOf(t, id, data)
	if len(sheet.Facts) != 2 || sheet.Facts[0].Value != "seal hard" || sheet.Facts[1].Value != "88 420 km" {
		t.Errorf("facts %+v", sheet.Facts)
	}
	if len(sheet.Dictated) != 5 || len(sheet.Memos) != 3 || sheet.State != labour.Finished || sheet.Elapsed != 100 {
		t.Errorf("sheet %+v", sheet)
	}
	if code := run(t.Context(), []string{"enter", id, "shoe size", "43", "--data", data}); code != exitUsage {
		t.Errorf("an unknown field: exit code %d", code)
	}
	if code := run(t.Context(), []string{"enter", "2000-01-01-9", "cause", "x", "--data", data}); code != exitUsage {
		t.Errorf("an unknown job: exit code %d", code)
	}
}

// Facts are typed in beside a running session: into its job, also while a note is taken, and into one that was finished before it began.
func TestFactsReachARunningSession(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 20, said{5, "take a note"})
	old := narrator.NewBay(narrator.DefaultSettings())
	for _, in := range []narrator.Input{
		narrator.Start{At: b.Origin - 100, Job: "1999-12-31-1", Procedure: "fan-belt.yaml", Text: fanBelt},
		narrator.Heard{Word: "finish job", From: b.Origin - 50, At: b.Origin - 50, Sure: true},
		narrator.Heard{Word: "yes", From: b.Origin - 40, At: b.Origin - 40, Sure: true},
	} {
		o := narrator.Decide(old, in)
		var events []narrator.Event
		for _, e := range o.Events {
			if e.Job != "" { // the bay's own log begins with the session
				events = append(events, e)
			}
		}
		if err := b.store.Append(t.Context(), events); err != nil {
			t.Fatal(err)
		}
		if err := old.Apply(o); err != nil {
			t.Fatal(err)
		}
	}
	b.begin(t)
	b.ears.speaking = true
	b.upTo(t, 7)
	enter := func(job, field string) error {
		o := order{Enter: &fact{Job: job, Field: field, Value: "x"}}
		return b.obey(t.Context(), Order{Inputs: func(ctx context.Context, at narrator.Moment) ([]narrator.Input, error) {
			in, _, err := o.inputs(ctx, b.store, at)
			return in, err
		}})
	}
	for _, job := range []string{"2000-01-01-1", "1999-12-31-1"} {
		if err := enter(job, "cause"); err != nil {
			t.Fatal(err)
		}
		log, err := b.store.Log(t.Context(), job)
		if last := log[len(log)-1]; err != nil || last.Kind != narrator.Entered || last.Value != "x" {
			t.Errorf("job %s ends with %+v, %v", job, last, err)
		}
	}
	if !b.Notes.Taking() || !b.Bay.Dialogue.Recording {
		t.Error("typing a fact ended the spoken note")
	}
	if b.Bay.Jobs["1999-12-31-1"] != nil {
		t.Error("the finished job stays within reach of spoken words")
	}
	if err := enter("2000-01-01-1", "shoe size"); err == nil {
		t.Error("an unknown field is taken")
	}
	if err := enter("1998-01-01-1", "cause"); exitCode(err) != exitUsage {
		t.Errorf("an unknown job: %v", err)
	}
}

// A job without a procedure is heard by the real ears, talk for its notes between the words.
func TestASpokenJobIsHeard(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	for _, who := range technicians {
		t.Run(who.voice, func(t *testing.T) {
			atHome(t)
			script := []said{{10, "new step"}, {12.5, "drain the coolant into a pan"}, {30, "comes off"}, {32.5, "the clamp by the bulkhead"},
				{45, "new step"}, {47.5, "fit the tap"}, {60, "torque"}, {65, "two"}, {66, "five"}, {76, "goes on"}, {90, "finish job"}, {96, "yes"}}
			config := defaultConfig()
			config.Data = filepath.Join(t.TempDir(), "data")
			source, err := speech.OpenTrack(writeTrack(t, who.track(t, 110, script...)), 0)
			if err != nil {
				t.Fatal(err)
			}
			defer source.Close()
			origin, player := narrator.MomentOf(time.Date(2000, 1, 1, 8, 0, 0, 0, time.UTC)), speech.NewPlayer()
			r := &reporter{origin: origin}
			s, done, err := assemble(t.Context(), config, narrator.DefaultSettings(), config.Data, player, r, true)
			if err != nil {
				t.Fatal(err)
			}
			s.Source, s.Sink, s.Origin = source, &nowhere{feed: player}, origin
			runJob(t, s, narrator.Start{At: origin, Job: "2000-01-01-1", Procedure: "dictated", Text: dictated("Heater tap", ""), Dictate: true})
			if err := done(); err != nil {
				t.Fatal(err)
			}
			sheet := sheetOf(t, "2000-01-01-1", config.Data)
			var parts []string
			for _, d := range sheet.Dictated {
				parts = append(parts, strings.TrimSpace(d.Part+" "+d.Value))
			}
			if got := strings.Join(parts, ", "); got != "step, off, step, torque 25 N·m, on" || len(sheet.Memos) != 3 || sheet.State != labour.Finished {
				t.Errorf("spoken: %s; %d notes, %s; heard %v", got, len(sheet.Memos), sheet.State, r.heard)
			}
		})
	}
}
