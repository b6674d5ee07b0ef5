package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour/export"
)

func newExport(app *App) *cobra.Command {
	var folder, file string
	c := &cobra.Command{
		Use:   "export",
		Short: "Write everything about all jobs for other programs, as CSV or JSON",
		Long: `Export writes all jobs: steps, pauses, torques, tightenings, readings, findings, parts, notes, corrections and the rest. --csv makes a folder with one file
a table; the names of columns carry the units, and moments count in seconds from the job's start. --json makes one file with the sheets of
all jobs, as ` + "`stepcaller labour --format json`" + ` writes them; - is the standard output. No file is written over.
A job that cannot be read is left out and named at the end, with exit code 1. In CSV a text that begins with =, +, - or @ has an apostrophe
before it, so that no spreadsheet takes it for a formula. Times of people leave this machine only if you carry them.`,
		Example: "  stepcaller export --csv jobs\n  stepcaller export --json jobs.json\n  stepcaller export --json - | gzip > jobs.json.gz",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if (folder == "") == (file == "") {
				return usage("where to? give one of --csv FOLDER and --json FILE")
			}
			store, err := journal.Open(app.Config.Data, journal.Reader)
			if errors.Is(err, journal.ErrNoJournal) {
				return usage("nothing was ever recorded in %s", app.Config.Data)
			}
			if err != nil {
				return err
			}
			defer store.Close()
			now := time.Now()
			sheets := export.From(cmd.Context(), store, narrator.MomentOf(now))
			switch {
			case folder != "":
				err = exportTables(folder, sheets)
			case file == "-":
				return export.JSON(cmd.OutOrStdout(), now, journal.Invented(app.Config.Data), sheets)
			default:
				err = newFile(file, func(w io.Writer) error { return export.JSON(w, now, journal.Invented(app.Config.Data), sheets) })
			}
			if err == nil || incomplete(err) {
				fmt.Fprintf(cmd.OutOrStdout(), "Written to %s.\n", folder+file)
			}
			return err
		},
	}
	c.Flags().StringVar(&folder, "csv", "", "folder to write the tables into")
	c.Flags().StringVar(&file, "json", "", "file to write, - for the standard output")
	return c
}

// exportTables writes one file a table into a folder, all or none.
func exportTables(folder string, sheets export.Sheets) (err error) {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return fileHint("--csv", err)
	}
	var open []*os.File
	defer func() {
		for _, f := range open {
			err = errors.Join(err, f.Close())
		}
		for _, f := range open {
			if err != nil && !incomplete(err) {
				_ = os.Remove(f.Name())
			}
		}
	}()
	return export.AllCSV(func(table string) (io.Writer, error) {
		f, err := create(filepath.Join(folder, table+".csv"))
		if err == nil {
			open = append(open, f)
		}
		return f, err
	}, sheets)
}

// incomplete reports whether all that is wrong with an export is that jobs could not be read.
func incomplete(err error) bool {
	var left *export.Incomplete
	return errors.As(err, &left)
}

// newFile writes a file that is not there yet, whole or not at all.
func newFile(path string, write func(io.Writer) error) error {
	f, err := create(path)
	if err != nil {
		return err
	}
	err = write(f)
	if closing := f.Close(); closing != nil {
		err = errors.Join(err, closing)
	} else if incomplete(err) {
		return err
	}
	if err != nil {
		return errors.Join(err, os.Remove(path))
	}
	return nil
}

// create makes a file that only its owner reads, and refuses to write over one.
func create(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, os.ErrExist) {
		return nil, usage("%s is there already; choose another name", path)
	}
	if err != nil {
		return nil, fileHint("export", err)
	}
	return f, nil
}
