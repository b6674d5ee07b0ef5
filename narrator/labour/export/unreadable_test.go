package export_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/labour/export"
)

// A job whose procedure no longer loads is named, and all others are written.
func TestAJobThatCannotBeReadIsLeftOutAndNamed(t *testing.T) {
	m := store(t)
	bad := narrator.Event{Job: "2000-01-01-0", Seq: 1, Act: 1, At: at(-50), Noted: at(-50), Kind: narrator.Opened, Detail: narrator.Detail{Procedure: "torn.yaml", Text: "steps: ["}}
	if err := m.Append(t.Context(), []narrator.Event{bad}); err != nil {
		t.Fatal(err)
	}
	for name, write := range map[string]func(*bytes.Buffer) error{
		"JSON": func(b *bytes.Buffer) error {
			return export.JSON(b, dawn.Time(), false, export.From(t.Context(), m, at(5000)))
		},
		"CSV": func(b *bytes.Buffer) error {
			return export.CSV(b, "jobs", export.From(t.Context(), m, at(5000)))
		},
	} {
		var text bytes.Buffer
		err := write(&text)
		var left *export.Incomplete
		if !errors.As(err, &left) || len(left.Jobs) != 1 || left.Jobs[0].Job != bad.Job || !strings.Contains(err.Error(), bad.Job) {
			t.Errorf("%s: %v", name, err)
		}
		if !strings.Contains(text.String(), "2000-01-01-1") || !strings.Contains(text.String(), "2000-01-01-2") {
			t.Errorf("%s lacks the jobs after it: %s", name, text.String())
		}
		var all struct {
			Unreadable []string `json:"unreadable"`
		}
		if name == "JSON" && (json.Unmarshal(text.Bytes(), &all) != nil || !slices.Equal(all.Unreadable, []string{bad.Job})) {
			t.Errorf("unreadable %q", all.Unreadable)
		}
	}
}

// What a spreadsheet would work out is written as text; numbers below zero stay numbers.
func TestNoTextIsAFormula(t *testing.T) {
	for value, want := range map[string]string{
		`=HYPERLINK("x")`: `"'=HYPERLINK(""x"")"`, "+49 30 1": "'+49 30 1", "-cold": "'-cold", "@home": "'@home", "-3.5": "-3.5", "squeals": "squeals", "": "",
	} {
		m := store(t)
		entered := narrator.Event{Job: "2000-01-01-2", Seq: 3, Act: 3, At: at(1001), Noted: at(1001), Kind: narrator.Entered, Detail: narrator.Detail{Field: "cause", Value: value}}
		if err := m.Append(t.Context(), []narrator.Event{entered}); err != nil {
			t.Fatal(err)
		}
		var text bytes.Buffer
		if err := export.CSV(&text, "facts", export.From(t.Context(), m, at(5000))); err != nil {
			t.Fatal(err)
		}
		if line := "2000-01-01-2,cause," + want + "\r\n"; value != "" && !strings.Contains(text.String(), line) {
			t.Errorf("%q: no line %q in %s", value, line, text.String())
		}
	}
}
