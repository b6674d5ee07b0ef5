package procedures_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	shopspring "github.com/shopspring/decimal"

	"stepcaller/procedures"
)

// everything says all that a file may say, groups and the ledger apart.
const everything = `stepcaller: 2
id: job
title: A job
machine: Car
book:
  - {code: A1, title: A job, hours: 0.5}
  - {code: D1, title: Finding it, hours: 0.3, diagnosis: true}
tools: []
parts:
  - Hose
  - {name: Pump, number: PW-1, core: true}
fluids:
  - {name: coolant, spec: type P2, capacity: 8.4 l}
cautions:
  - Hot.
  - use: raised-vehicle
  - {use: airbag, wait: 10}
  - {say: Hoist hooked in., answer: engine held}
choices:
  - {id: hard, ask: Is the hose hard?}
  - {id: extra, ask: Does it need more?, approval: true}
covers:
  - {part: tray, hides: [plug, filter]}
steps:
  - id: one
    say: Do it.
    off: [tray, plug, filter]
    operations: [A1, D1]
    only_if: [hard, extra]
    unless: Is it late?
    figures: [a.svg, {file: b/c.png, caption: The order}]
    starts_engine: true
    road_test: true
    timers:
      - {name: sealant, minutes: 10, from: begin, say: It has skinned.}
      - {name: glue, minutes: 0.5, from: word}
      - {name: paint, minutes: 1, from: end}
    readings:
      - {name: rotor, unit: mm, min: 22.0, max: 24.2, wear: 21.4, positions: [left, right], when: before}
      - {name: rise, unit: °C, max: 20, wear: 30, difference: true, when: after}
    level: Coolant
    loosening:
      - {fastener: bolt, count: 10, order: criss-cross, thread: left}
      - {fastener: nut}
    torque:
      - fastener: cover bolt
        value: 25 N·m
        stages: [snug, half, 20 Nm, full, 90°]
        positions: [front, rear]
        lengths: [40 mm, 65 mm]
        condition: thread locker
        new: true
        thread: left
        again: [after heat, after road test]
        low: into aluminium
      - {fastener: nut, count: 4, value: 7 lbf·ft, stages: half, angle: 45, thread: right}
  - id: two
    say: Wait.
    only_if: [hard, extra]
    unless: one
    await: [sealant, glue]
`

func limit(text string) *shopspring.Decimal {
	d := shopspring.RequireFromString(text)
	return &d
}

func TestLoad_everything(t *testing.T) {
	p, mistakes := procedures.Load("job.yaml", []byte(everything))
	if procedures.Refused(mistakes) {
		t.Fatal(mistakes)
	}
	raised, _ := procedures.StandardCautionNamed("raised-vehicle")
	airbag, _ := procedures.StandardCautionNamed("airbag")
	s := p.Steps[0]
	for _, c := range []struct {
		name      string
		got, want any
	}{
		{"book", p.Book, []procedures.Operation{{Code: "A1", Title: "A job", Hours: 50}, {Code: "D1", Title: "Finding it", Hours: 30, Diagnosis: true}}},
		{"parts", p.Parts, []procedures.Part{{Name: "Hose"}, {Name: "Pump", Number: "PW-1", Core: true}}},
		{"fluids", p.Fluids, []procedures.Fluid{{Name: "coolant", Spec: "type P2", Capacity: "8.4 l"}}},
		{"cautions", p.Cautions, []procedures.Caution{{Say: "Hot."},
			{Name: "raised-vehicle", Say: raised.Say, Answer: procedures.StandsSet},
			{Name: "airbag", Say: airbag.Say, Answer: procedures.PowerDown, Wait: 10},
			{Say: "Hoist hooked in.", Answer: procedures.EngineHeld}}},
		{"choices", p.Choices, []procedures.Choice{{ID: "hard", Ask: "Is the hose hard?"}, {ID: "extra", Ask: "Does it need more?", Approval: true}, {ID: "one", Ask: "Is it late?"}}},
		{"covers", p.Covers, []procedures.Cover{{Part: "tray", Hides: []string{"plug", "filter"}}}},
		{"operations", s.Operations, []string{"A1", "D1"}},
		{"premises", s.OnlyIf, []procedures.Premise{{Choice: "hard"}, {Choice: "extra"}, {Choice: "one", No: true}}},
		{"figures", s.Figures, []procedures.Figure{{File: "a.svg"}, {File: "b/c.png", Caption: "The order"}}},
		{"flags", []bool{s.Starts, s.Drives}, []bool{true, true}},
		{"timers", s.Timers, []procedures.Timer{{Name: "sealant", Minutes: 10, From: procedures.AtBegin, Say: "It has skinned."},
			{Name: "glue", Minutes: 0.5, From: procedures.ByWord}, {Name: "paint", Minutes: 1}}},
		{"readings", s.Readings, []procedures.Reading{
			{Name: "rotor", Unit: "mm", Min: limit("22.0"), Max: limit("24.2"), Wear: limit("21.4"), Positions: []string{"left", "right"}, When: "before"},
			{Name: "rise", Unit: "°C", Max: limit("20"), Wear: limit("30"), Difference: true, When: "after"}}},
		{"level", s.Level, []string{"Coolant"}},
		{"loosening", s.Loosening, []procedures.Loosening{{Fastener: "bolt", Count: 10, Order: procedures.CrissCross, LeftHand: true}, {Fastener: "nut", Count: 1}}},
		{"torque", s.Torque, []procedures.Tightening{
			{Fastener: "cover bolt", Count: 2, Value: torque(t, "25 N·m"), Angle: 90, Positions: []string{"front", "rear"}, Lengths: []string{"40 mm", "65 mm"},
				Stages: []procedures.Stage{{Name: "snug"}, {Name: "half", Value: torque(t, "12.5 N·m")}, {Name: "20 Nm", Value: torque(t, "20 N·m")},
					{Name: "full", Value: torque(t, "25 N·m")}, {Name: "90°", Angle: 90}},
				Condition: procedures.ThreadLocker, New: true, LeftHand: true, Again: []procedures.Again{procedures.AfterHeat, procedures.AfterRoadTest}, Low: procedures.IntoAluminium},
			{Fastener: "nut", Count: 4, Value: torque(t, "7 lbf·ft"), Angle: 45,
				Stages: []procedures.Stage{{Name: "half", Value: torque(t, "3.5 lbf·ft")}, {Name: "45°", Angle: 45}}}}},
		{"await", p.Steps[1].Await, []string{"sealant", "glue"}},
	} {
		if !reflect.DeepEqual(c.got, c.want) {
			t.Errorf("%s read as\n\t%+v\nwant\n\t%+v", c.name, c.got, c.want)
		}
	}
}

func TestTightening_Rounds(t *testing.T) {
	full := procedures.Stage{Name: "full", Value: torque(t, "10 N·m")}
	for _, c := range []struct {
		name string
		of   procedures.Tightening
		want []procedures.Stage
	}{
		{"plain", procedures.Tightening{Value: full.Value}, []procedures.Stage{full}},
		{"with an angle", procedures.Tightening{Value: full.Value, Angle: 90}, []procedures.Stage{full, {Name: "90°", Angle: 90}}},
		{"its own", procedures.Tightening{Value: full.Value, Stages: []procedures.Stage{{Name: "snug"}, full}}, []procedures.Stage{{Name: "snug"}, full}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := c.of.Rounds(); !slices.Equal(got, c.want) {
				t.Errorf("rounds %+v, want %+v", got, c.want)
			}
		})
	}
}

// TestLoad_keyMistakes puts a line before a line of the small file.
func TestLoad_keyMistakes(t *testing.T) {
	const root, step = "steps:", "    say: Do it."
	bolt := func(more string) string { return "    torque: [{fastener: bolt, value: 10 Nm, " + more + "}]" }
	for _, c := range []struct{ name, before, line, want string }{
		{"draft in words", root, "draft: maybe", "11:8: `draft` should be true or false. Write `true`, or leave the key out."},
		{"part without name", root, "fluids: [{spec: P2}]", "11:11: `fluids` entry 1 has no `name`. Add it: what the steps call it: coolant."},
		{"fluids as text", root, "fluids: coolant", "11:9: `fluids` should be a list with at least one entry. Begin each entry with `- name:`."},
		{"fluid twice", root, "fluids: [{name: coolant}, {name: the coolant}]", "11:34: fluid \"the coolant\" is listed already."},
		{"choice that asks nothing", root, "choices: [{id: a, ask: The hose is hard.}]", "11:24: \"The hose is hard.\" is no question."},
		{"choice twice", root, "choices: [{id: a, ask: A?}, {id: a, ask: B?}]", "11:34: choice id \"a\" is taken already."},
		{"covers nothing", root, "covers: [{part: tray, hides: []}]", "11:30: `hides` is an empty list."},
		{"caution of no table", step, "    cautions: [{use: raised-vehicel}]", "13:22: no caution of the table is called \"raised-vehicel\". Did you mean `raised-vehicle`?"},
		{"caution without its wait", step, "    cautions: {use: airbag}", "13:16: `cautions` entry 1 has no `wait`. Add it: minutes to wait first, by the maker's service data."},
		{"caution with another's wait", step, "    cautions: {use: battery, wait: 5}", "13:30: unknown key `wait`. Known here: use."},
		{"caution waits for nothing", step, "    cautions: {use: airbag, wait: 0}", "13:35: a wait of no minutes."},
		{"bare yes as an answer", step, "    cautions: {say: Hot., answer: \"yes\"}", "13:35: \"yes\" is no answer to a caution. Known: stands set,"},
		{"answer misspelt", step, "    cautions: {say: Hot., answer: stand set}", "13:35: \"stand set\" is no answer to a caution. Did you mean `stands set`?"},
		{"unknown choice", step, "    only_if: hard", "13:14: no choice is called \"hard\". List it under `choices`, or write the question here, with its question mark."},
		{"unknown choice in a list", step, "    unless: [Is it late?, hard]", "13:27: no choice is called \"hard\"."},
		{"two questions", step, "    only_if: [Is it hard?, Is it late?]", "13:28: a second question in one step."},
		{"question beside a choice of the id", step, "    only_if: Is it hard?", "13:14: the question of step \"one\" needs its id, which is a choice already."},
		{"no condition", step, "    only_if: []", "13:14: `only_if` is an empty list."},
		{"unknown operation", step, "    operations: A2", "13:17: no operation has the code \"A2\". Did you mean `A1`?"},
		{"figure outside", step, "    figures: ../a.svg", "13:14: \"../a.svg\" is no picture in the procedure's folder."},
		{"figure from the root", step, "    figures: /etc/a.svg", "13:14: \"/etc/a.svg\" is no picture"},
		{"figure of another sort", step, "    figures: a.exe", "13:14: \"a.exe\" is no picture"},
		{"timer without minutes", step, "    timers: [{name: glue}]", "13:15: `timers` entry 1 has no `minutes`."},
		{"timer twice", step, "    timers: [{name: glue, minutes: 1}, {name: Glue, minutes: 2}]", "13:47: timer \"Glue\" is already started by step 1."},
		{"timer started never", step, "    timers: [{name: glue, minutes: 1, from: start}]", "13:45: \"start\" is no start of a timer. Known: begin, end, word."},
		{"await of nothing", step, "    await: glue", "13:12: no timer is called \"glue\". Start it under `timers` of an earlier step."},
		{"await of its own timer", step, "    await: glue\n    timers: [{name: glue, minutes: 1}]", "13:12: timer \"glue\" is not started before this step."},
		{"level of nothing", step, "    level: oil", "13:12: no fluid is called \"oil\". List it under `fluids`."},
		{"limits exchanged", step, "    readings: [{name: gap, min: 3, max: 2}]", "13:33: a smallest figure of 3 above the largest of 2."},
		{"worn among the good", step, "    readings: [{name: gap, min: 2, max: 3, wear: 2.5}]", "13:50: a wear limit of 2.5 among the good figures."},
		{"worn at the limit", step, "    readings: [{name: gap, min: 2, wear: 2}]", "13:42: a wear limit of 2 among the good figures."},
		{"worn without limits", step, "    readings: [{name: gap, wear: 2}]", "13:34: a wear limit with neither `min` nor `max`."},
		{"limit in words", step, "    readings: [{name: gap, max: two}]", "13:33: `max` should be a number."},
		{"limit too fine", step, "    readings: [{name: gap, max: 0.00001}]", "13:33: `max` of 0.00001 is finer than any gauge."},
		{"limit too large", step, "    readings: [{name: gap, max: 2000000}]", "13:33: `max` of 2000000. Write a number from -1000000 to 1000000."},
		{"unknown stage", step, bolt("stages: [snug, hlaf]"), "13:60: \"hlaf\" is no stage. Write snug, half, full, a torque with its unit, or an angle from 1° to 720°."},
		{"angle past two turns", step, bolt("stages: 721°"), "13:53: \"721°\" is no stage."},
		{"angle twice", step, bolt("stages: [full, 90°], angle: 90"), "13:73: an angle here, and 90° under `stages`. Keep one of them."},
		{"too few positions", step, bolt("count: 3, positions: [left, right]"), "13:66: 2 positions for 3 fasteners."},
		{"lengths for other positions", step, bolt("positions: [left, right], lengths: [40 mm]"), "13:80: 1 lengths for 2 fasteners."},
		{"unknown condition", step, bolt("condition: oily"), "13:56: \"oily\" is no condition. Did you mean `oiled`?"},
		{"unknown occasion", step, bolt("again: after hate"), "13:52: \"after hate\" is no occasion. Did you mean `after heat`?"},
		{"unknown reason", step, bolt("low: spark plugs"), "13:50: \"spark plugs\" is no reason. Did you mean `spark plug`?"},
		{"third hand", step, bolt("thread: middle"), "13:53: \"middle\" is no hand of a thread. Known: left, right."},
		{"text that begins with a brace", step, "    off: {side} hose", "13:"},
		{"long list", step, "    tools:\n" + strings.Repeat("      - a\n", 1001), "14:7: `tools` has 1001 entries, more than 1000."},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := strings.Replace(small, c.before, c.line+"\n"+c.before, 1)
			if c.name == "question beside a choice of the id" {
				text = "choices: [{id: one, ask: Is it?}]\n" + text
				c.want = strings.Replace(c.want, "13:", "14:", 1)
			}
			lines := mistakesIn(text)
			if !slices.ContainsFunc(lines, func(line string) bool { return strings.HasPrefix(line, "job.yaml:"+c.want) }) {
				t.Errorf("mistakes\n\t%s\nwant one beginning\n\t%s", strings.Join(lines, "\n\t"), "job.yaml:"+c.want)
			}
		})
	}
}
