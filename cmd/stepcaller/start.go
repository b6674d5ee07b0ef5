package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

func newStart(app *App) *cobra.Command {
	var o startOrder
	var draft bool
	c := &cobra.Command{
		Use:   "start PROCEDURE",
		Short: "Open a job on a procedure and listen",
		Long: `Start opens a job and reads its first step. PROCEDURE is a bundled id, an id in the shop's own folder, or a file. When a daemon already
listens on the data folder, the job is opened there and the one it was at goes on hold.`,
		Example: `  stepcaller start valve-cover --order 20417 --odometer "88 412 km" --technician Ines
  stepcaller start valve-cover --kind comeback --earlier 2000-01-01-1 --complaint "oil smell after the repair"
  stepcaller start ./my-procedure.yaml`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := findProcedure(app.Config, args[0])
			if err != nil {
				return err
			}
			if p.Draft && !draft {
				return usage("%s is a draft that no technician has reviewed: check it against the maker's service data and take its `draft: true` out, or add --draft", p.Name())
			}
			if err := o.check(); err != nil {
				return err
			}
			o.Procedure, o.Text, o.Technician = p.Name(), p.Text(), app.Config.Technician
			return startJob(cmd.Context(), app, cmd, order{Start: &o})
		},
	}
	o.flags(c)
	c.Flags().BoolVar(&draft, "draft", false, "work by a draft that nobody has reviewed; it is said aloud")
	return c
}

func newResume(app *App) *cobra.Command {
	return &cobra.Command{
		Use:     "resume [JOB]",
		Short:   "Go on with an open job and listen",
		Long:    `Resume takes up an open job where it stands: the one named, else the one that words last concerned.`,
		Example: "  stepcaller resume\n  stepcaller resume 2000-01-01-1",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := openJob(cmd.Context(), app.Config, args)
			if err != nil {
				return err
			}
			return startJob(cmd.Context(), app, cmd, order{TakeUp: id})
		},
	}
}

func newListen(app *App) *cobra.Command {
	return &cobra.Command{
		Use:   "listen",
		Short: "Listen as the bay's daemon, until ended",
		Long: `Listen goes on with what the journal says is open, takes jobs that other terminals start, and stays when none is left. End it with
Ctrl-C or SIGTERM.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return live{config: app.Config, out: cmd.OutOrStdout(), stay: true}.run(cmd.Context())
		},
	}
}

// startJob gives an order to the daemon that runs on the data folder, or becomes it.
func startJob(ctx context.Context, app *App, cmd *cobra.Command, o order) error {
	id, err := sendOrder(ctx, app.Config.Data, o)
	if err == nil {
		fmt.Fprintf(cmd.OutOrStdout(), "Job %s is now the bay's job.\n", id)
		return nil
	}
	if !errors.Is(err, errNoDaemon) {
		return err
	}
	job := ""
	l := live{config: app.Config, out: cmd.OutOrStdout(), first: func(ctx context.Context, s *Session, at narrator.Moment) ([]narrator.Input, error) {
		in, id, err := o.inputs(ctx, s.Store, at)
		job = id
		return in, err
	}}
	if err := l.run(ctx); err != nil {
		return soundHint(err)
	}
	if job == "" {
		return nil
	}
	if err := printLabour(context.WithoutCancel(ctx), cmd.OutOrStdout(), app.Config, job, "table"); err != nil {
		return err
	}
	if o.Start != nil && o.Start.Dictate {
		fmt.Fprintf(cmd.OutOrStdout(), "\n`stepcaller draft %s -o FILE.yaml` writes it down as a procedure.\n", job)
	}
	return nil
}

// openJob finds the job that is meant: the one named, else the latest open one.
func openJob(ctx context.Context, c Config, args []string) (string, error) {
	store, err := journal.Open(c.Data, journal.Reader)
	if errors.Is(err, journal.ErrNoJournal) {
		return "", usage("no job is open: nothing was ever recorded in %s", c.Data)
	}
	if err != nil {
		return "", err
	}
	defer store.Close()
	open, err := store.Jobs(ctx, journal.Filter{State: journal.JobsHere})
	if err != nil {
		return "", err
	}
	if len(args) == 1 {
		for _, e := range open {
			if e.ID == args[0] {
				return e.ID, nil
			}
		}
		return "", usage("job %s is not open; `stepcaller jobs` lists them", args[0])
	}
	if len(open) == 0 {
		return "", usage("no job is open; `stepcaller start PROCEDURE` opens one")
	}
	bay, err := restore(ctx, store, narrator.DefaultSettings())
	if err != nil {
		return "", err
	}
	if bay.Active != "" {
		return bay.Active, nil
	}
	return open[0].ID, nil
}
