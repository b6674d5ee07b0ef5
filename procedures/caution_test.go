package procedures_test

import (
	"slices"
	"strings"
	"testing"

	"stepcaller/procedures"
)

func TestStandardCautions(t *testing.T) {
	answers := map[procedures.Command]bool{}
	names := map[string]bool{}
	for _, c := range procedures.StandardCautions() {
		if names[c.Name] {
			t.Errorf("%s stands twice in the table", c.Name)
		}
		names[c.Name], answers[c.Answer] = true, true
		words := strings.Fields(procedures.Speakable(c.Say))
		if len(words) == 0 || len(words) >= 25 {
			t.Errorf("%s says %d words: %q", c.Name, len(words), words)
		}
		if c.Answer != "" && !slices.Contains(procedures.InGroup(procedures.Cautions), c.Answer) {
			t.Errorf("%s is answered with %q, which answers no caution", c.Name, c.Answer)
		}
		if c.Answer == "" && (c.Waits || c.Once) {
			t.Errorf("%s has no answer to wait for", c.Name)
		}
		if got, ok := procedures.StandardCautionNamed(c.Name); !ok || got != c {
			t.Errorf("%s is found as %+v", c.Name, got)
		}
	}
	for _, answer := range procedures.InGroup(procedures.Cautions) {
		if !answers[answer] {
			t.Errorf("%q answers no caution of the table", answer)
		}
	}
	if _, ok := procedures.StandardCautionNamed("nothing"); ok {
		t.Error("a caution is found under a name that is not in the table")
	}
}
