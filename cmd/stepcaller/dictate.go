package main

import (
	"strings"

	"github.com/spf13/cobra"

	"stepcaller/procedures"
)

func newDictate(app *App) *cobra.Command {
	var o startOrder
	var title, machine string
	c := &cobra.Command{
		Use:   "dictate --title TITLE",
		Short: "Open a job that has no procedure, speak it while doing it, and listen",
		Long: `Dictate opens a job without a procedure. "New step" begins a step and "comes off" gives a thing its number; what is said next is kept as a
recording. "Goes on" asks for the number, "torque" and "reading" for a figure; "what's left" tells what is off. Hold, notes, undo and the rest are as in any
job. When it is finished, ` + "`stepcaller draft JOB`" + ` writes it down, to be typed up.`,
		Example: `  stepcaller dictate --title "Renew the heater tap" --machine "Ostwick Pony 1.1" --order 20419`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if strings.TrimSpace(title) == "" {
				return usage(`--title is needed: what the job is called, for example --title "Renew the heater tap"`)
			}
			if err := o.check(); err != nil {
				return err
			}
			o.Procedure, o.Text, o.Technician, o.Dictate = "dictated", dictated(title, machine), app.Config.Technician, true
			return startJob(cmd.Context(), app, cmd, order{Start: &o})
		},
	}
	c.Flags().StringVar(&title, "title", "", "what the job is called")
	c.Flags().StringVar(&machine, "machine", "", "make, model and engine")
	o.flags(c)
	return c
}

// dictated is the procedure of a job that has none: its title and machine, and a step to stand on.
func dictated(title, machine string) string {
	return string(procedures.Draft{Title: title, Machine: machine, Steps: []procedures.DraftStep{
		{Step: procedures.Step{Say: "Say new step, and what it is."}},
	}}.YAML())
}

func newDraft(app *App) *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "draft JOB",
		Short: "Write down a job that was spoken with `dictate`, as a draft procedure",
		Long: `Draft writes a procedure file from a job that had none: a step for each "new step", its minutes as they were worked, torques as said, what came off
and went on by number, and which recording belongs where. What has to be typed up, pauses and gaps are marked in comments. No value is made up.`,
		Example: "  stepcaller draft 2000-01-01-1 -o heater-tap.yaml",
		Args:    oneArg("which job? `stepcaller jobs` lists them"),
		RunE: func(cmd *cobra.Command, args []string) error {
			job, now, err := readJob(cmd.Context(), app.Config, args[0])
			if err != nil {
				return err
			}
			draft := job.Draft(now)
			if draft == nil {
				return usage("job %s has a procedure, %s; only a job of `stepcaller dictate` is written as a draft", job.ID, job.Procedure.ID)
			}
			return writeDraft(cmd, *draft, out)
		},
	}
	c.Flags().StringVarP(&out, "output", "o", "", "file to write, which may not be there yet (default: the standard output)")
	return c
}
