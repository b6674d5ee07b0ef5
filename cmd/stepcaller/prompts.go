package main

import (
	"math/rand/v2"
	"slices"

	"stepcaller/procedures"
	"stepcaller/speech"
)

// How often a word is asked for in a sitting: often enough to learn from two takes and measure by the third, and five examples for a
// word that the ears were never trained on.
const (
	takesOfTrained = 3
	takesOfOwn     = 5
)

// teachable lists the phrases that a sitting asks for where nobody chose: those of every command and answer, the most used first.
func teachable(words procedures.Words) []string {
	first := []procedures.Command{procedures.Next, procedures.Repeat, procedures.AskTorque, procedures.Yes, procedures.No, procedures.Stop,
		procedures.Help, procedures.PreviousStep, procedures.HoldJob, procedures.CarryOn, procedures.UndoThat, procedures.WhereAmI}
	var phrases []string
	for _, c := range slices.Concat(first, procedures.InGroup(procedures.Always), procedures.InGroup(procedures.Answers)) {
		for _, phrase := range words.Phrases(c) {
			if m, _ := procedures.MeaningOf(procedures.Command(phrase)); m.Command != "" && !slices.Contains(phrases, phrase) {
				phrases = append(phrases, phrase)
			}
		}
	}
	return phrases
}

// promptsFor is the order in which words are asked for: every word once in a round, the rounds shuffled so that no two takes are said
// alike, and no word twice in a row unless it is the only one. Takes that are there already are not asked for again. The same seed gives the
// same order.
func promptsFor(words []string, times int, have []speech.Take, seed uint64) (prompts []string) {
	r := rand.New(rand.NewPCG(seed, 17))
	left := map[string]int{}
	for _, w := range words {
		left[w] = times
	}
	for _, t := range have {
		left[t.Label]--
	}
	for round := range times {
		order := slices.Clone(words)
		r.Shuffle(len(order), func(i, j int) { order[i], order[j] = order[j], order[i] })
		if n := len(prompts); n > 0 && len(order) > 1 && order[0] == prompts[n-1] {
			order[0], order[len(order)-1] = order[len(order)-1], order[0]
		}
		for _, w := range order {
			if left[w] >= times-round {
				prompts = append(prompts, w)
			}
		}
	}
	return prompts
}
