package main

import (
	"strings"

	"github.com/spf13/cobra"

	"stepcaller/procedures/tongue"
)

func newLanguage() *cobra.Command {
	return &cobra.Command{
		Use:   "language NAME",
		Short: "Print a bundled language, to write another from it",
		Long: `Language prints the file of a bundled language: every text of replies and pages in English, with its translation. A copy with other texts is a
language of its own, for the key language in the configuration. Bundled besides English: ` + strings.Join(tongue.Bundled()[1:], ", ") + `.`,
		Example: "  stepcaller language de > polski.yaml\n  stepcaller --language ./polski.yaml",
		Args:    oneArg("which language? " + strings.Join(tongue.Bundled()[1:], " or ")),
		RunE: func(cmd *cobra.Command, args []string) error {
			if args[0] == tongue.English {
				return usage("English has no file: it stands in the program, and beside every text of another language; print one of these: %s",
					strings.Join(tongue.Bundled()[1:], ", "))
			}
			text, err := tongue.Source(args[0])
			if err != nil {
				return usage("%v", err)
			}
			_, err = cmd.OutOrStdout().Write(text)
			return err
		},
	}
}
