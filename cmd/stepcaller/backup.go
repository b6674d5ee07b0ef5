package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator/journal"
)

func newBackup(app *App) *cobra.Command {
	return &cobra.Command{
		Use:   "backup FILE|FOLDER",
		Short: "Write all that was recorded into one file, also while the daemon works",
		Long: `Backup writes the journal as it stands at one moment, the spoken notes and the taught voices into a tar archive, with the SHA-256 sums of all of it, and reads
it back. Into a folder it writes a file with the day in its name. It overwrites nothing, and makes no backup of a damaged journal. What is in it is
for its owner's eyes; the file can be read by its owner alone. Procedures and the configuration are not in it; a job holds its procedure's text.`,
		Example: "  stepcaller backup /media/stick\n  stepcaller backup monday.tar",
		Args:    oneArg("backup needs a file or a folder to write to"),
		RunE: func(cmd *cobra.Command, args []string) error {
			file, now := args[0], time.Now()
			if info, err := os.Stat(file); err == nil && info.IsDir() {
				file = filepath.Join(file, "stepcaller-"+now.Format("2006-01-02-150405")+".tar")
			}
			b, err := journal.MakeBackup(cmd.Context(), app.Config.Data, file, now)
			switch {
			case errors.Is(err, journal.ErrNoJournal):
				return usage("nothing was ever recorded in %s; name the right folder with --data", app.Config.Data)
			case errors.Is(err, journal.ErrTaken), errors.Is(err, journal.ErrInside):
				return usage("%v", err)
			case err != nil:
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %s.\nstepcaller restore %s puts it back.\n", file, contentsOf(b), file)
			return nil
		},
	}
}

func contentsOf(b journal.Backup) string {
	text := fmt.Sprintf("%s, %s", countOf(int64(b.Jobs), "job"), countOf(b.Events, "event"))
	if b.Latest != 0 {
		text += ", the latest of " + b.Latest.Time().Local().Format("2006-01-02 15:04")
	}
	return text
}

func newRestore(app *App) *cobra.Command {
	var beside bool
	c := &cobra.Command{
		Use:   "restore BACKUP",
		Short: "Put a backup back as the data folder",
		Long: `Restore proves a backup by its sums and puts it back as the data folder, which must be empty or not be there. With --beside the folder that is there gets another
name and stays as it is. Nothing is overwritten. The daemon must not run.`,
		Example: "  stepcaller restore monday.tar\n  stepcaller restore monday.tar --beside\n  stepcaller restore monday.tar --data /tmp/look",
		Args:    oneArg("restore needs a backup"),
		RunE: func(cmd *cobra.Command, args []string) error {
			b, kept, err := journal.Restore(cmd.Context(), args[0], app.Config.Data, beside, time.Now())
			switch {
			case errors.Is(err, os.ErrNotExist):
				return fileHint("restore", err)
			case errors.Is(err, journal.ErrTaken):
				return usage("%v; --beside keeps it under another name, --data names another folder", err)
			case err != nil:
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %s, as backed up on %s.\n", app.Config.Data, contentsOf(b), b.Made.Local().Format("2006-01-02 15:04"))
			if kept != "" {
				fmt.Fprintf(cmd.OutOrStdout(), "What was there before is now %s.\n", kept)
			}
			return nil
		},
	}
	c.Flags().BoolVar(&beside, "beside", false, "keep the data folder that is there under another name")
	return c
}
