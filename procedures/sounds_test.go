package procedures_test

import (
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"stepcaller/procedures"
)

// sounds transcribes a phrase with espeak-ng's American English, without stress
// and length.
func sounds(t *testing.T, phrase string) []string {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), "espeak-ng", "-q", "--ipa", "--sep=_", "-v", "en-us", phrase).Output()
	if err != nil {
		t.Fatalf("espeak-ng transcribes %q: %v", phrase, err)
	}
	plain := regexp.MustCompile(`[ˈˌː]`).ReplaceAllString(string(out), "")
	return strings.FieldsFunc(plain, func(r rune) bool { return r == '_' || r == ' ' || r == '\n' })
}

// apart is the number of sounds to change, add or take away to get from a to b
// (Levenshtein, Soviet Physics Doklady, 1966).
func apart(a, b []string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i, x := range a {
		corner := row[0]
		row[0] = i + 1
		for j, y := range b {
			change := corner
			if x != y {
				change++
			}
			corner = row[j+1]
			row[j+1] = min(change, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(b)]
}

// The one pair allowed: a number is never asked for together with a yes or no,
// but "oh" is how people say the zero in "one oh five".
func TestNoTwoPhrasesAreOneSoundApart(t *testing.T) {
	if n := apart(sounds(t, "bolt"), sounds(t, "bolts")); n != 1 {
		t.Fatalf("bolt and bolts are %d sounds apart: the measure is wrong", n)
	}
	phrases := procedures.TrainedPhrases()
	said := map[string][]string{}
	for _, p := range phrases {
		said[p] = sounds(t, p)
	}
	for i, a := range phrases {
		for _, b := range phrases[:i] {
			if n := apart(said[a], said[b]); n < 2 && !(a == "oh" && b == "no") && !(a == "no" && b == "oh") {
				t.Errorf("%q and %q are %d sound apart", a, b, n)
			}
		}
	}
}
