package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
)

func newJobs(app *App) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "jobs",
		Short: "List the jobs in the journal, newest first",
		RunE: func(cmd *cobra.Command, _ []string) error {
			store, err := journal.Open(app.Config.Data, journal.Reader)
			if errors.Is(err, journal.ErrNoJournal) {
				fmt.Fprintf(cmd.OutOrStdout(), "No jobs yet in %s.\n", app.Config.Data)
				return nil
			}
			if err != nil {
				return err
			}
			defer store.Close()
			entries, err := store.Jobs(cmd.Context(), journal.Filter{})
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(cmd.OutOrStdout(), entries)
			}
			return writeJobs(cmd.OutOrStdout(), entries)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

func writeJobs(w io.Writer, entries []journal.Entry) error {
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "JOB\tSTATE\tBEGUN\tPROCEDURE\tORDER\tTECHNICIAN")
	for _, e := range entries {
		state := "open"
		switch {
		case e.End != 0:
			state = "finished"
		case e.Gone && e.To != "":
			state = "with bay " + e.To
		case e.Gone:
			state = "handed over"
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\n", e.ID, state, e.Start.Time().Local().Format("2006-01-02 15:04"), strings.TrimSuffix(filepath.Base(e.Procedure), filepath.Ext(e.Procedure)), e.Order, e.Technician)
	}
	return t.Flush()
}

func newLabour(app *App) *cobra.Command {
	var format string
	c := &cobra.Command{
		Use:     "labour JOB",
		Short:   "Show what a job took against its book hours",
		Example: "  stepcaller labour 2000-01-01-1\n  stepcaller labour 2000-01-01-1 --format csv > job.csv",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return printLabour(cmd.Context(), cmd.OutOrStdout(), app.Config, args[0], format)
		},
	}
	c.Flags().StringVar(&format, "format", "table", "table, json or csv")
	return c
}

func printLabour(ctx context.Context, w io.Writer, c Config, id, format string) error {
	write, ok := map[string]func(io.Writer, labour.Sheet) error{"table": labour.WriteTable, "json": labour.WriteJSON, "csv": labour.WriteCSV}[format]
	if !ok {
		return usage("--format %s: choose table, json or csv", format)
	}
	job, now, err := readJob(ctx, c, id)
	if err != nil {
		return err
	}
	return write(w, labour.Of(job, now))
}
