package labour_test

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/procedures"
)

// rotors is an invented job of two operations that share its first and last steps.
const rotors = `
stepcaller: 2
id: rotors
title: Front rotors
machine: Ostwick Pony
book:
  - {code: B-10, title: Rotors, hours: 1.0}
  - {code: B-20, title: "Noise, find", hours: 0.3, diagnosis: true}
overlap: 0.1
tools: [ratchet, caliper gauge]
parts: [{name: 2 rotors, number: OP-77, core: true}]
choices:
  - {id: hose-hard, ask: Is the hose hard?}
  - {id: pads, ask: Are the pads worn?, approval: true}
steps:
  - {id: drain, say: Wheel off., minutes: 5, off: wheel, stuff: 2 rags, cautions: [{use: raised-vehicle}]}
  - {id: listen, say: Turn it and listen., operations: B-20}
  - id: measure
    say: Measure.
    operations: B-10
    readings:
      - {name: rotor thickness, unit: mm, min: 22.0, max: 24.2, wear: 21.4, positions: [left, right], when: before}
  - {id: hose, say: New hose., only_if: hose-hard, parts: hose}
  - {id: pad, say: New pads., only_if: pads, operations: B-10}
  - id: fit
    say: Fit the caliper.
    parts: 2 caliper bolts
    operations: B-10
    timers: [{name: sealant, minutes: 10}]
    readings:
      - {name: rotor thickness, unit: mm, min: 22.0, positions: [left], when: after}
    torque:
      - {fastener: caliper bolt, count: 2, value: 30 N·m, stages: [half, full, 90°], positions: [upper, lower], new: true}
  - {id: wheel, say: Wheel on., back: wheel, out: 2 rags}
`

// recordedJob has something of everything that a record tells.
func recordedJob() *script {
	s := &script{procedure: rotors}
	s.then(0, narrator.Opened, narrator.Detail{Procedure: "rotors.yaml", Text: rotors, JobKind: "comeback", Earlier: "1999-12-30-2"})
	s.arrived(0, "drain")
	s.then(5, narrator.Answered, narrator.Detail{Step: "drain", Caution: "Never work under a vehicle.", Word: "stands set"})
	s.then(6, narrator.Entered, narrator.Detail{Field: "complaint", Value: "squeals when cold"})
	s.then(7, narrator.Entered, narrator.Detail{Field: "cause", Value: "rotor worn"})
	s.arrived(100, "listen").arrived(300, "measure")
	s.then(310, narrator.Measured, narrator.Detail{Step: "measure", Reading: "rotor thickness", Position: "left", When: "before", Amount: "21.40", Unit: "mm", Judged: "worn"})
	s.then(320, narrator.Measured, narrator.Detail{Step: "measure", Reading: "rotor thickness", Position: "right", When: "before", Amount: "99", Unit: "mm", Judged: "above"}).undo()
	s.then(330, narrator.Found, narrator.Detail{Finding: 1, Step: "measure", Reading: "rotor thickness", Position: "left"})
	s.then(340, narrator.Recorded, narrator.Detail{File: "memos/2000-01-01-1-1.wav", From: at(331), Length: 4 * narrator.Second, Finding: 1})
	s.then(350, narrator.Asked, narrator.Detail{Finding: 1})
	s.then(360, narrator.Held, narrator.Detail{Reason: "approval"}).then(660, narrator.Resumed, narrator.Detail{})
	s.then(661, narrator.Ruled, narrator.Detail{Finding: 1, On: true, By: "customer"})
	s.then(670, narrator.Decided, narrator.Detail{Choice: "hose-hard"})
	s.then(680, narrator.Decided, narrator.Detail{Choice: "pads", On: true})
	s.then(680, narrator.Found, narrator.Detail{Finding: 2, Step: "measure", Choice: "pads"})
	s.then(690, narrator.Asked, narrator.Detail{Finding: 2})
	s.arrived(700, "fit")
	tight := func(seconds float64, number, stage int, value string, nm float64) {
		s.then(seconds, narrator.Tightened, narrator.Detail{Step: "fit", Fastener: "caliper bolt", Number: number, Stage: stage, Value: value,
			NewtonMetres: nm, Wrench: "long one"})
	}
	tight(710, 1, 1, "15 N·m", 15)
	tight(720, 2, 1, "15 N·m", 15)
	tight(730, 1, 2, "30 N·m", 30)
	tight(735, 2, 2, "30 N·m", 30)
	s.undo()
	tight(740, 2, 2, "30 N·m", 30)
	tight(750, 1, 3, "", 0)
	s.then(760, narrator.Measured, narrator.Detail{Step: "fit", Reading: "rotor thickness", Position: "left", When: "after", Amount: "24.0", Unit: "mm", Judged: "inside"})
	s.arrived(800, "wheel")
	s.then(800, narrator.Timed, narrator.Detail{Step: "fit", Timer: "sealant", Length: 10 * narrator.Minute})
	s.then(1400, narrator.Rang, narrator.Detail{Timer: "sealant", Ref: int64(len(s.log))})
	s.then(1500, narrator.PutRight, narrator.Detail{Item: "rags", State: "stuffed"})
	s.then(1510, narrator.Counted, narrator.Detail{On: true})
	return s.finished(1600)
}

func TestTheRecord(t *testing.T) {
	s := labour.Of(recordedJob().job(t), 0)
	seconds := func(s labour.Seconds) *labour.Seconds { return &s }
	text := func(s string) *string { return &s }
	same := func(what string, got, want any) {
		t.Helper()
		if !reflect.DeepEqual(got, want) {
			a, _ := json.Marshal(got)
			b, _ := json.Marshal(want)
			t.Errorf("%s: %s\nwant %s", what, a, b)
		}
	}
	same("kind", []string{s.Kind, s.Earlier}, []string{"comeback", "1999-12-30-2"})
	same("facts", s.Facts, []labour.Fact{{Field: "complaint", Title: "Complaint", Value: "squeals when cold"}, {Field: "cause", Title: "Cause", Value: "rotor worn"}})
	// listen 100..300 is B-20's alone; measure 300..700 less 300 on hold, and fit 700..800, are B-10's; drain 0..100 and wheel 800..1600 are both's.
	same("operations", s.Operations, []labour.Operation{{Code: "B-10", Title: "Rotors", Hours: 1, Worked: 200, Shared: 900},
		{Code: "B-20", Title: "Noise, find", Hours: 0.3, Diagnosis: true, Worked: 200, Shared: 900}})
	same("readings", s.Readings, []labour.Reading{
		{Step: "measure", Name: "rotor thickness", Position: "left", When: "before", Amount: "21.40", Unit: "mm", Min: text("22"), Max: text("24.2"), Wear: text("21.4"), Judged: "worn", At: 310},
		{Step: "fit", Name: "rotor thickness", Position: "left", When: "after", Amount: "24.0", Unit: "mm", Min: text("22"), Judged: "inside", Before: text("21.40"), At: 760},
	})
	same("findings", s.Findings, []labour.Finding{
		{Number: 1, Step: "measure", Reading: "rotor thickness", Position: "left", State: labour.FindingApproved, By: "customer", Found: 330, Asked: seconds(350),
			Ruled: seconds(661), Waited: 311, Paused: 300, Notes: []string{"memos/2000-01-01-1-1.wav"}},
		{Number: 2, Step: "measure", Choice: "pads", State: labour.FindingAsked, Found: 680, Asked: seconds(690), Waited: 910, Notes: []string{}},
	})
	same("timers", s.Timers, []labour.Timer{{Step: "fit", Name: "sealant", Length: 600, Started: 800, Rang: seconds(1400)}})
	same("choices", s.Choices, []labour.Choice{{Choice: "hose-hard", Ask: "Is the hose hard?", At: 670}, {Choice: "pads", Ask: "Are the pads worn?", Yes: true, At: 680}})
	same("answers", s.Answers, []labour.Answer{{Step: "drain", Caution: "Never work under a vehicle.", Word: "stands set", At: 5}})
	same("put right", s.PutRight, []labour.PutRight{{Item: "rags", State: "stuffed", At: 1500}})
	same("tools", s.Tools, labour.Tools{Taken: []string{"ratchet", "caliper gauge"}, Counted: seconds(1510), Back: true})
	if len(s.Tightenings) != 5 {
		t.Fatalf("tightenings %+v", s.Tightenings)
	}
	same("a tightening", s.Tightenings[3], labour.Tightening{Step: "fit", Fastener: "caliper bolt", Number: 2, Position: "lower", Stage: 2, StageName: "full",
		Written: "30 N·m", Value: 30, Wrench: "long one", At: 740})
	same("an angle", s.Tightenings[4], labour.Tightening{Step: "fit", Fastener: "caliper bolt", Number: 1, Position: "upper", Stage: 3, StageName: "90°",
		Wrench: "long one", At: 750})
}

func TestTheRecordOfASpokenJob(t *testing.T) {
	s := &script{}
	text := procedures.Draft{Title: "Heater tap", Machine: "Pony", Steps: []procedures.DraftStep{{Step: procedures.Step{Say: "Speak."}}}}.YAML()
	s.then(0, narrator.Opened, narrator.Detail{Procedure: "spoken", Text: string(text), Part: "job"}).arrived(0, "1")
	s.then(10, narrator.Dictated, narrator.Detail{Part: "step", Number: 1})
	s.then(15, narrator.Recorded, narrator.Detail{File: "memos/2000-01-01-1-1.wav", From: at(11), Length: narrator.Second, Part: "step", Number: 1})
	s.then(20, narrator.Dictated, narrator.Detail{Part: "off", Number: 1}).held(30, "parts", 50)
	s.then(60, narrator.Dictated, narrator.Detail{Part: "step", Number: 2})
	s.then(70, narrator.Dictated, narrator.Detail{Part: "torque", Value: "25 N·m", NewtonMetres: 25}).finished(100)
	got := labour.Of(s.job(t), 0)
	seconds := func(s labour.Seconds) *labour.Seconds { return &s }
	want := []labour.Dictated{
		{Part: "step", Number: 1, Step: 1, At: 10, Worked: seconds(30), Notes: []string{"memos/2000-01-01-1-1.wav"}},
		{Part: "off", Number: 1, Step: 1, At: 20, Notes: []string{}},
		{Part: "step", Number: 2, Step: 2, At: 60, Worked: seconds(40), Notes: []string{}},
		{Part: "torque", Value: "25 N·m", Step: 2, At: 70, Notes: []string{}},
	}
	if !reflect.DeepEqual(got.Dictated, want) || got.Draft {
		t.Errorf("dictated %+v\nwant %+v; draft %v", got.Dictated, want, got.Draft)
	}
}

// Whatever happened, every worked second belongs to one operation alone or is shared, and no finding waits longer than the job lasts.
func TestOperationsAndWaitsAddUp(t *testing.T) {
	whole := recordedJob()
	rapid.Check(t, func(t *rapid.T) {
		s := &script{log: append([]narrator.Event{}, whole.log[:2]...)}
		for _, e := range whole.log[2 : len(whole.log)-1] { // drawn events out of the whole job
			if rapid.IntRange(0, 3).Draw(t, "left out") > 0 {
				s.then(e.At.Since(dawn).Seconds(), e.Kind, e.Detail)
			}
		}
		j, err := narrator.NewJob(s.log)
		if err != nil {
			t.Fatal(err)
		}
		sheet := labour.Of(j, at(float64(rapid.IntRange(1510, 3000).Draw(t, "now"))))
		var own, shared labour.Seconds
		for _, o := range sheet.Operations {
			own, shared = own+o.Worked, o.Shared
		}
		if math.Abs(float64(own+shared-sheet.Worked)) > 0.01 {
			t.Fatalf("alone %v and shared %v of %v", own, shared, sheet.Worked)
		}
		for _, f := range sheet.Findings {
			if f.Paused > f.Waited || f.Waited > sheet.Elapsed || (f.Ruled != nil) != (f.State == labour.FindingApproved || f.State == labour.FindingDeclined) {
				t.Fatalf("finding %+v of %v s", f, sheet.Elapsed)
			}
		}
	})
}
