package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"stepcaller/procedures"
)

func newWords(app *App) *cobra.Command {
	return &cobra.Command{
		Use:   "words",
		Short: "List what can be said, in this shop's words",
		RunE: func(cmd *cobra.Command, _ []string) error {
			words, err := app.Config.words()
			if err != nil {
				return err
			}
			return writeWords(cmd.OutOrStdout(), words)
		},
	}
}

// writeWords lists the vocabulary by when it counts.
func writeWords(w io.Writer, words procedures.Words) error {
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	for _, group := range []procedures.Group{procedures.Always, procedures.Answers, procedures.Reasons, procedures.Numbers,
		procedures.Cautions, procedures.Dictation} {
		fmt.Fprintf(t, "%s\t\n", strings.ToUpper(group.String()))
		for _, c := range procedures.InGroup(group) {
			meaning, _ := procedures.MeaningOf(c)
			if phrases := words.Phrases(c); len(phrases) > 0 {
				fmt.Fprintf(t, "  %s\t%s\n", strings.Join(phrases, " / "), meaning.Does)
			}
		}
	}
	return t.Flush()
}
