package main

import (
	"github.com/spf13/cobra"

	"stepcaller/procedures"
)

func newReassembly(app *App) *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "reassembly TEARDOWN",
		Short: "Write the steps that put right again what a procedure leaves off, open, loose or stuffed",
		Long: `Reassembly takes a procedure that only takes apart, by id or file, and writes it anew with the matching refit at its end: in reverse order,
on every path that its choices open, bolts started by hand before they are tightened. The result is a draft with a comment to review above
each new step. Torques and quantities are asked for, never made up. A teardown that leaves rags or stands in is refused as a procedure of its
own: write "draft: true" into it.`,
		Example: "  stepcaller procedures reassembly teardown.yaml -o whole.yaml",
		Args:    oneArg("which teardown?"),
		RunE: func(cmd *cobra.Command, args []string) error {
			p, mistakes, err := procedures.Find(args[0], app.Config.Procedures)
			switch {
			case err != nil:
				return usage("%v", err)
			case p == nil:
				return usage("%v\nA teardown by itself leaves things in: it is a draft. Write `draft: true` into its file.", mistakesError(mistakes))
			}
			draft := procedures.Reassembly(p)
			if len(draft.Steps) == len(p.Steps) {
				return usage("%s puts everything right again by itself; give a teardown", p.Name())
			}
			return writeDraft(cmd, draft, out)
		},
	}
	c.Flags().StringVarP(&out, "output", "o", "", "file to write, which may not be there yet (default: the standard output)")
	return c
}
