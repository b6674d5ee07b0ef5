package main

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
	"stepcaller/procedures"
	"stepcaller/speech"
)

// rotor is a job with an invented machine that has something of everything: a caution that is answered, a choice, a reading with limits, a
// timer, stages of a torque, a rag that has to come out, and tools to be counted.
const rotor = `
stepcaller: 2
id: rotor
title: Front rotor
machine: Ostwick Pony
book:
  - {code: B-10, title: Rotor, hours: 0.8}
tools: [ratchet, caliper gauge]
steps:
  - {id: raise, say: Take the wheel off., cautions: [{use: raised-vehicle}], off: wheel}
  - {id: hose, say: Fit a new hose., only_if: Is the hose cracked?}
  - id: measure
    say: Measure the rotor.
    readings: [{name: rotor thickness, unit: mm, min: 22.0, max: 24.2, wear: 21.4}]
  - {id: seal, say: Lay a bead of sealant and stuff the hole., stuff: rag, timers: [{name: sealant, minutes: 0.5}]}
  - id: fit
    say: Fit the caliper.
    await: sealant
    torque: [{fastener: caliper bolt, count: 2, value: 30 N·m, stages: [half, full], positions: [upper, lower]}]
  - {id: wheel, say: Rag out and wheel on., out: rag, back: wheel}
`

// rotorScript is what the technician says.
func rotorScript() []said {
	script := []said{
		{10, "next"}, {20, "stands set"}, {32, "next"}, {40, "no"},
		{50, "reading"}, {56, "two"}, {57, "one"}, {58, "point"}, {59, "five"}, {72, "yes"}, {82, "yes"}, {90, "no"},
		{100, "approval"}, {106, "yes"}, {114, "two"},
		{125, "next"}, {135, "next"}, {142, "how long left"},
	}
	script = append(script, walked...)
	return append(script,
		said{230, "finish job"}, said{238, "no"}, said{246, "parts"}, said{260, "carry on"}, said{275, "next"},
		said{290, "finish job"}, said{300, "tools back"}, said{308, "yes"}, said{314, "yes"})
}

// rotorSays is what has to be said in answer.
var rotorSays = []string{"Then say: stands set.", "Step 1.", "Is the hose cracked?", "Step 3.", "otor thickness, in millimetres?", "Note it as a finding?",
	"By whom?", "Wait: sealant", "Sealant: time is up.",
	"Stage 1 of 2, 15 N·m. No wrench of yours", "Number 1, upper.", "Taken back: stage 1, number 2.", "Wrench: the long one.", "All 2 done.", "Wrench back to its lowest mark.",
	"Back now?", "Not finished.", "On hold for parts.", "All there?", "Finish the job?", "Job finished."}

// The whole loop, from words to the sheet: a caution is answered, a choice decided, a reading judged and kept as a finding, a timer rings, a
// finish is refused until everything is spoken for.
func TestAWholeJobOfEverything(t *testing.T) {
	start := narrator.Start{Procedure: "rotor.yaml", Text: rotor, Technician: "Ines", JobKind: "warranty"}
	id, data, r := scriptedJob(t, start, 340, func(c *Config) {
		c.Approvers = []string{"customer", "service desk"}
		c.Wrenches = []procedures.WrenchText{{Name: "the long one", Span: "25 to 120 N·m"}}
	}, rotorScript()...)
	for _, want := range rotorSays {
		if !r.spoke(want) {
			t.Errorf("never said %q", want)
		}
	}
	s := sheetOf(t, id, data)
	if s.Kind != "warranty" || s.Elapsed != 290 {
		t.Errorf("%s, %v s", s.Kind, s.Elapsed)
	}
	checkRotor(t, s)
	store, err := journal.Open(data, journal.Reader)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	if found := journal.Verify(t.Context(), store); len(found) > 0 {
		t.Errorf("the journal is not sound: %v", found)
	}
	if t.Failed() {
		for _, said := range r.said() {
			t.Logf("%6.1f %s", said.AtS, said.Written)
		}
	}
}

// The same job with real ears: every word is spoken by synthetic technicians and heard.
func TestAWholeJobIsHeard(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	config := filepath.Join(t.TempDir(), "config.yaml")
	if err := os.WriteFile(config, []byte("approvers: [customer, service desk]\nwrenches: [{name: the long one, span: 25 to 120 N·m}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, who := range technicians {
		t.Run(who.voice, func(t *testing.T) {
			script := rotorScript()
			r, _ := rehearseCommand(t, writeProcedure(t, rotor), writeTrack(t, who.track(t, 340, script...)), "--config", config)
			for i, h := range r.Heard {
				if i >= len(script) || h.Word != script[i].word || math.Abs(h.AtS-script[i].at) > 0.05 {
					t.Fatalf("heard %q at %.3f s, which was not said; in all %s", h.Word, h.AtS, words(r))
				}
			}
			if len(r.Heard) != len(script) {
				t.Errorf("heard %s: %d words of %d", words(r), len(r.Heard), len(script))
			}
			checkRotor(t, r.Sheet)
		})
	}
}

// checkRotor holds the sheet of the job against the script.
func checkRotor(t *testing.T, s labour.Sheet) {
	t.Helper()
	switch {
	case s.State != labour.Finished:
		t.Errorf("the job is %s", s.State)
	case len(s.Steps) != 5: // the hose is not one of them
		t.Errorf("steps %+v", s.Steps)
	case len(s.Answers) != 1 || s.Answers[0].Word != "stands set":
		t.Errorf("answers %+v", s.Answers)
	case len(s.Choices) != 1 || s.Choices[0].Yes:
		t.Errorf("choices %+v", s.Choices)
	case len(s.Readings) != 1 || s.Readings[0].Amount != "21.5" || s.Readings[0].Judged != "below":
		t.Errorf("readings %+v", s.Readings)
	case len(s.Findings) != 1 || s.Findings[0].State != labour.FindingApproved || s.Findings[0].By != "service desk":
		t.Errorf("findings %+v", s.Findings)
	case len(s.Timers) != 1 || s.Timers[0].Rang == nil || math.Abs(float64(*s.Timers[0].Rang-s.Timers[0].Started-30)) > 0.0011:
		t.Errorf("timers %+v", s.Timers)
	case len(s.PausesByReason) != 1 || s.PausesByReason[0].Reason != "parts":
		t.Errorf("pauses %+v", s.PausesByReason)
	case !s.Tools.Back || len(s.Open) > 0:
		t.Errorf("tools %+v, left %+v", s.Tools, s.Open)
	}
	checkWalk(t, s)
}

// walked is how the bolts are tightened: bolt by bolt, one of them taken back and done again.
var walked = []said{{175, "torque"}, {186, "next"}, {192, "next"}, {198, "undo that"}, {206, "next"}, {212, "next"}, {219, "next"}}

func checkWalk(t *testing.T, s labour.Sheet) {
	t.Helper()
	if len(s.Torques) != 1 || s.Torques[0].Value != 30 {
		t.Errorf("torques %+v", s.Torques)
	}
	want := []labour.Tightening{
		{Number: 1, Position: "upper", Stage: 1, StageName: "half", Written: "15 N·m", Value: 15, At: 186},
		{Number: 2, Position: "lower", Stage: 1, StageName: "half", Written: "15 N·m", Value: 15, At: 206},
		{Number: 1, Position: "upper", Stage: 2, StageName: "full", Written: "30 N·m", Value: 30, Wrench: "the long one", At: 212},
		{Number: 2, Position: "lower", Stage: 2, StageName: "full", Written: "30 N·m", Value: 30, Wrench: "the long one", At: 219},
	}
	for i, got := range s.Tightenings {
		if i < len(want) {
			want[i].Step, want[i].Fastener = "fit", "caliper bolt"
			if math.Abs(float64(got.At-want[i].At)) < 0.05 {
				got.At = want[i].At
			}
		}
		if i >= len(want) || got != want[i] {
			t.Errorf("tightened %+v", got)
		}
	}
	if len(s.Tightenings) != len(want) {
		t.Errorf("%d tightenings", len(s.Tightenings))
	}
}
