package procedures_test

import (
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
		draft := procedures.Draft{Title: words[0], Machine: "Car", Notes: words, Tools: words,
			Book:  []procedures.Operation{{Code: "A1", Title: words[0], Hours: 50}},
			Steps: []procedures.DraftStep{{Step: procedures.Step{Say: "Do it.", Title: words[0], Tools: words}, Doubts: words}}}
		file := draft.YAML()
		p, mistakes := procedures.Load("draft.yaml", []byte(strings.Replace(string(file), "draft: true\n", "", 1)))
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
