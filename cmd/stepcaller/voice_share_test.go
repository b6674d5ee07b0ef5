package main

import (
	"slices"
	"strings"
	"testing"

	"stepcaller/narrator/journal/courier"
)

func TestAVoiceIsSharedByCommand(t *testing.T) {
	data := t.TempDir()
	if out := command(t, data, "voice", "share", "Ines"); !strings.Contains(out, "The voice of Ines goes to the shop") || !strings.Contains(out, "no shop yet") ||
		!strings.Contains(out, "Nothing was learnt") {
		t.Errorf("said %q", out)
	}
	if names, err := courier.Agreed(data); err != nil || !slices.Equal(names, []string{"ines"}) {
		t.Errorf("agreed %q, %v", names, err)
	}
	if _, err := courier.Join(data, "postgres://shop/stepcaller"); err != nil {
		t.Fatal(err)
	}
	if out := command(t, data, "voice", "share", "ines"); strings.Contains(out, "no shop yet") {
		t.Errorf("said %q", out)
	}
	if out := command(t, data, "voice", "unshare", " Ines "); !strings.Contains(out, "The voice of Ines is taken back") {
		t.Errorf("said %q", out)
	}
	if names, err := courier.Agreed(data); err != nil || len(names) != 0 {
		t.Errorf("still agreed: %q, %v", names, err)
	}
}
