package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator/labour"
	"stepcaller/procedures"
	"stepcaller/speech"
	"stepcaller/testdata"
)

func newDemo(app *App) *cobra.Command {
	var track bool
	c := &cobra.Command{
		Use:   "demo",
		Short: "Run a bundled job: at the microphone, or from a bundled track where there is none",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !track {
				err := probe(app.Config)
				if err == nil {
					fmt.Fprintln(cmd.OutOrStdout(), `Speak when you have heard the first step: "next", "repeat", "torque", "where am I", "what can I say".`)
					p, err := findProcedure(app.Config, procedures.Demo)
					if err != nil {
						return err
					}
					return startJob(cmd.Context(), app, cmd, order{Start: &startOrder{Procedure: p.Name(), Text: p.Text(), Technician: app.Config.Technician}})
				}
				fmt.Fprintf(cmd.OutOrStdout(), "No microphone and loudspeaker here (%v): the same job runs from a bundled track.\n", err)
			}
			return demoTrack(cmd, app)
		},
	}
	c.Flags().BoolVar(&track, "track", false, "run from the bundled track even where there is a microphone")
	return c
}

// demoTrack rehearses the bundled track into a new folder.
func demoTrack(cmd *cobra.Command, app *App) error {
	dir, err := os.MkdirTemp("", "stepcaller-demo-")
	if err != nil {
		return err
	}
	path := filepath.Join(dir, "technician.flac")
	if err := os.WriteFile(path, testdata.Technician, 0o600); err != nil {
		return err
	}
	start := time.Date(2000, 1, 1, 8, 0, 0, 0, time.UTC)
	r, err := rehearse(cmd.Context(), app.Config, rehearseOptions{
		procedure: procedures.Demo, track: path, out: filepath.Join(dir, "answers.wav"), data: filepath.Join(dir, "journal"),
		technician: "Ines", order: "20417", start: start, watch: newTerminal(cmd.OutOrStdout(), start),
		pages: cmd.OutOrStdout(),
	})
	if err != nil {
		return err
	}
	fmt.Fprintln(cmd.OutOrStdout())
	if err := labour.WriteTable(cmd.OutOrStdout(), r.Sheet); err != nil {
		return err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "\nWhat the technician said, what was answered and the journal are in %s.\n`stepcaller pages --data %s` shows the job in a browser.\n", dir,
		filepath.Join(dir, "journal"))
	return nil
}

// soundHint adds what can be done where there is no sound.
func soundHint(err error) error {
	if errors.Is(err, speech.ErrNoDevice) {
		return fmt.Errorf("%w\n`stepcaller check machine` looks closer; `stepcaller demo` runs a job without sound devices", err)
	}
	return err
}
