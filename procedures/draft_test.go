package procedures_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

func TestDraft_YAML(t *testing.T) {
	draft := procedures.Draft{
		Title: "Hose: renew", Machine: "Car",
		Notes: []string{"Made by a program.\nReview it."},
		Steps: []procedures.DraftStep{
			{Step: procedures.Step{Say: "Pull the hose off.", Off: []string{"hose"}, Tools: []string{"8 mm socket", "#2 driver"}}, Doubts: []string{"Which clamp?"}},
			{Step: procedures.Step{ID: "on", Say: "yes", Back: []string{"hose"},
				Torque: []procedures.Tightening{{Fastener: "clamp", Count: 2}, {Fastener: "nut", Count: 1, Value: torque(t, "7 lbf·ft"), Angle: 90}}}},
		},
	}
	want := `# Made by a program. Review it.
stepcaller: 2
id: hose-renew
draft: true
title: "Hose: renew"
machine: Car
steps:
  # Which clamp?
  - id: "1"
    say: Pull the hose off.
    tools:
      - 8 mm socket
      - "#2 driver"
    off: hose
  # torque for clamp, 2 of them: value from the maker's service data
  - id: "on"
    say: "yes"
    torque:
      - fastener: nut
        count: 1
        value: 7 lbf·ft
        angle: 90
    back: hose
`
	if got := string(draft.YAML()); got != want {
		t.Errorf("the draft is\n%s\nwant\n%s", got, want)
	}
}

// Any text comes back from a draft as it went in, blanks and control characters apart.
func TestDraft_anyText(t *testing.T) {
	hard := rapid.SampledFrom([]string{"yes", "null", "~", "0x10", "1e3", ".inf", "- a", "# a", "a: b", "a #b", "'a", `"a`, `a\b`, "{a", "[a]", "*a", "&a", "!a",
		"@a", "%a", "`a", "2026-01-01", "=", "<<", "a:", "? a", "| a", "> a", "--- a", "1_000", "0o7", "12:30:45", "8.40", "true", "a\u2028b", "\u0085a", "on", "a, b"})
	text := rapid.OneOf(hard, rapid.StringMatching(`[ -~]{1,30}`), rapid.StringN(1, 40, 80))
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(text, 1, 4).Draw(t, "texts")
		draft := procedures.Draft{Title: words[0], Notes: words, Tools: words,
			Steps: []procedures.DraftStep{{Step: procedures.Step{Say: "Do it.", Title: words[0], Tools: words}, Doubts: words}}}
		file := draft.YAML()
		p, mistakes := procedures.Load("draft.yaml", file)
		var kept []string
		for _, w := range words {
			if w = procedures.Clean(w); w != "" {
				kept = append(kept, w)
			}
		}
		if len(kept) < len(words) {
			return // a text of blanks alone is left out, and may be one that a file must have
		}
		if p == nil {
			t.Fatalf("refused: %v\n%s", mistakes, file)
		}
		if p.Title != kept[0] || !slices.Equal(p.Tools, kept) || !slices.Equal(p.Steps[0].Tools, kept) {
			t.Fatalf("read as %q, %q, %q; want %q\n%s", p.Title, p.Tools, p.Steps[0].Tools, kept, file)
		}
	})
}

// Ids that are none, or stand twice, are replaced.
func TestDraft_ids(t *testing.T) {
	step := procedures.Step{Say: "Do it.", ID: "one"}
	none := procedures.Step{Say: "Do it.", ID: "no id"}
	draft := procedures.Draft{Title: "Ölwechsel, schnell", Machine: "Car",
		Steps: []procedures.DraftStep{{Step: step}, {Step: step}, {Step: none}}}
	file := string(draft.YAML())
	for _, want := range []string{"\nid: olwechsel-schnell\n", "- id: one\n", "- id: one-2\n", "- id: \"3\"\n"} {
		if !strings.Contains(file, want) {
			t.Errorf("no %q in\n%s", want, file)
		}
	}
}

// Everything that a file may say is the same after it was written.
func TestDraft_everyKey(t *testing.T) {
	text := strings.Replace(small, "tools: []\nparts: []\ncautions: []\n", `draft: true
overlap: 0.1
tools: [ratchet]
parts: [Hose, {name: Pump, number: PW-1, core: true}]
fluids: [{name: coolant, spec: P2, capacity: 8.4 l}]
cautions: [Cold., {use: airbag, wait: 10}, {use: raised-vehicle}, {say: Hook in., answer: engine held}]
choices: [{id: hard, ask: Is it hard?}, {id: extra, ask: Renew it?, approval: true}]
covers: [{part: tray, hides: [plug, filter]}]
`, 1) + `    minutes: 2.5
    operations: A1
    only_if: hard
    unless: extra
    starts_engine: true
    road_test: true
    tools: [a, b]
    parts: [Seal]
    cautions: [Hot]
    torque:
      - {fastener: M8 bolt, count: 2, value: 20.50 N·m, stages: [snug, half, full, 90°], order: star, positions: [left, right], lengths: [40 mm, 50 mm], condition: oiled, new: true, thread: left, again: [after heat], low: into aluminium}
      - {fastener: nut, value: 7 lbf·ft, angle: 45}
    loosening: [{fastener: M8 bolt, count: 2, order: star, thread: left}]
    timers: [{name: skin, minutes: 10, from: word, say: Dry.}]
    readings: [{name: rotor, unit: mm, min: 22.0, max: 24.25, wear: 21.4, positions: [left, right], when: before}, {name: rise, unit: K, difference: true}]
    level: coolant
    off: [x1, 2 x2]
    disconnect: d
    loosen: l
    by_hand: h
    open: o
    plug: p
    stuff: s
    drain: f
    support: u
    back: x1
    connect: d
    tight: [l, h]
    shut: o
    out: [p, s]
    fill: f
    clear: u
  - {id: two, say: Wait., await: skin, unless: extra, back: 2 x2}
`
	p, mistakes := procedures.Load("job.yaml", []byte(text))
	if p == nil {
		t.Fatal(mistakes)
	}
	file := procedures.DraftOf(p).YAML()
	again, mistakes := procedures.Load("job.yaml", file)
	if again == nil {
		t.Fatalf("%v\n%s", mistakes, file)
	}
	if got := procedures.DraftOf(again).YAML(); string(got) != string(file) {
		t.Errorf("written\n%s\nand after reading\n%s", file, got)
	}
	if !reflect.DeepEqual(p.Steps, again.Steps) || !reflect.DeepEqual(p.Cautions, again.Cautions) || !reflect.DeepEqual(p.Parts, again.Parts) ||
		!reflect.DeepEqual(p.Fluids, again.Fluids) || !reflect.DeepEqual(p.Choices, again.Choices) || !reflect.DeepEqual(p.Covers, again.Covers) || p.BookHours() != again.BookHours() {
		t.Errorf("the file\n%s\nis read as %+v, want %+v", file, again, p)
	}
}
