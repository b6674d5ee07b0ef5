package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// fact is something about a job that is typed in.
type fact struct {
	Job   string `json:"job"`
	Field string `json:"field"`
	Value string `json:"value"`
}

func (f fact) input() narrator.Enter {
	return narrator.Enter{Job: f.Job, Field: f.Field, Value: f.Value}
}

func newEnter(app *App) *cobra.Command {
	var fields strings.Builder
	for _, f := range narrator.Fields() {
		fmt.Fprintf(&fields, "\n  %-15s %s", f.Key, f.Of)
	}
	return &cobra.Command{
		Use:   "enter JOB FIELD VALUE",
		Short: "Type a fact into a job's record: complaint, cause, correction and the like",
		Long: `Enter writes a fact into the record of a job, open or finished. The last one counts; an empty VALUE takes it out. The fields:
` + fields.String(),
		Example: `  stepcaller enter 2000-01-01-1 cause "gasket hard as wood at cylinder 4"
  stepcaller enter 2000-01-01-1 "odometer out" "88 420 km"`,
		Args: cobra.ExactArgs(3),
		RunE: func(cmd *cobra.Command, args []string) error {
			f := fact{Job: args[0], Field: strings.ToLower(strings.Join(strings.Fields(args[1]), " ")), Value: strings.TrimSpace(args[2])}
			if err := write(cmd.Context(), app.Config, f.input()); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "Job %s: %s noted.\n", f.Job, f.Field)
			return nil
		},
	}
}

// know brings a job that was finished before the bay was opened back to it. It reports whether it did: the caller then takes it out again,
// so that no word takes anything of it back.
func know(ctx context.Context, bay *narrator.Bay, store journal.Store, id string) (added bool, err error) {
	if bay.Jobs[id] != nil {
		return false, nil
	}
	log, err := store.Log(ctx, id)
	if errors.Is(err, journal.ErrNoJob) {
		return false, usage("no job %s; `stepcaller jobs` lists them", id)
	}
	if err != nil {
		return false, err
	}
	bay.Jobs[id], err = narrator.NewJob(log)
	if err != nil {
		delete(bay.Jobs, id)
		return false, err
	}
	return true, nil
}

// lastSign is the last moment up to which a job's time is known: nobody knows what happened after the program stopped.
func lastSign(ctx context.Context, store journal.Store, job *narrator.Job) (narrator.Moment, error) {
	now := narrator.MomentOf(time.Now())
	if !job.Open() {
		return max(now, job.Last()), nil
	}
	alive, err := store.LastBeat(ctx)
	return max(job.Last(), min(alive, now)), err
}

// readJob reads a job out of the journal, and up to when its time is known.
func readJob(ctx context.Context, c Config, id string) (*narrator.Job, narrator.Moment, error) {
	store, err := journal.Open(c.Data, journal.Reader)
	if errors.Is(err, journal.ErrNoJournal) {
		return nil, 0, usage("no job %s: nothing was ever recorded in %s", id, c.Data)
	}
	if err != nil {
		return nil, 0, err
	}
	defer store.Close()
	log, err := store.Log(ctx, id)
	if errors.Is(err, journal.ErrNoJob) {
		return nil, 0, usage("no job %s; `stepcaller jobs` lists them", id)
	}
	if err != nil {
		return nil, 0, err
	}
	job, err := narrator.NewJob(log)
	if err != nil {
		return nil, 0, err
	}
	now, err := lastSign(ctx, store, job)
	return job, now, err
}
