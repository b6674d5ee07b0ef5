package main

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"stepcaller/procedures"
)

// The README's tables of what to say are the vocabulary, word for word.
func TestTheReadmeListsEveryWord(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, group := range []procedures.Group{procedures.Always, procedures.Dictation} {
		var table strings.Builder
		table.WriteString("| say | what it does |\n|---|---|\n")
		for _, c := range procedures.InGroup(group) {
			meaning, _ := procedures.MeaningOf(c)
			fmt.Fprintf(&table, "| %s | %s |\n", c, meaning.Does)
		}
		if !strings.Contains(string(readme), table.String()) {
			t.Errorf("README.md needs this table:\n%s", table.String())
		}
	}
}
