package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/speech"
)

func newVerify(app *App) *cobra.Command {
	var asJSON bool
	var save string
	c := &cobra.Command{
		Use:   "verify",
		Short: "Read all that was recorded, and tell whether it is whole and what can be saved",
		Long: `Verify reads every event and every spoken note, also while the daemon works, and changes nothing. It tells whether all of it is as it was recorded, and where
not: what, where, which jobs are safe, and what to do. With --save it writes every event that can still be read into a new data folder, whether or not the
database can be opened, and tells what is lost; the daemon must not run then.

Exit code 0: whole. 4: damaged.`,
		Example: "  stepcaller verify\n  stepcaller verify --save /tmp/rescued",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if save != "" {
				return saveReadable(cmd.Context(), cmd.OutOrStdout(), app.Config.Data, save)
			}
			return verifyData(cmd.Context(), cmd.OutOrStdout(), app.Config.Data, asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	c.Flags().StringVar(&save, "save", "", "write all that can be read into this new folder")
	return c
}

// verdictOf is an examination as JSON.
type verdictOf struct {
	Data     string      `json:"data"`
	Whole    bool        `json:"whole"`
	Jobs     int         `json:"jobs"`
	Events   int64       `json:"events"`
	Notes    int         `json:"notes"`
	Running  bool        `json:"running"`
	Findings []findingOf `json:"findings"`
	Safe     []string    `json:"safe"`
	Readable *readableOf `json:"readable,omitempty"` // of a damaged journal
}

type findingOf struct {
	Job  string `json:"job,omitempty"`
	Seq  int64  `json:"event,omitempty"`
	What string `json:"what"`
	Gone int64  `json:"gone,omitempty"`
	Note bool   `json:"note,omitempty"` // nothing recorded is lost or wrong by it
}

type readableOf struct {
	Jobs   int `json:"jobs"`
	Events int `json:"events"`
	Behind int `json:"behind_a_hole"`
}

func verifyData(ctx context.Context, w io.Writer, data string, asJSON bool) error {
	r, err := journal.Examine(ctx, data, soundMemo)
	if errors.Is(err, journal.ErrNoJournal) {
		return usage("nothing was ever recorded in %s; name the right folder with --data", data)
	}
	if err != nil {
		return err
	}
	v := verdictOf{Data: data, Whole: r.Whole(), Jobs: r.Jobs, Events: r.Events, Notes: r.Memos, Running: r.Running, Findings: []findingOf{}, Safe: []string{}}
	for _, f := range r.Findings {
		v.Findings = append(v.Findings, findingOf(f))
	}
	v.Safe = append(v.Safe, r.Safe...)
	if r.Rescue != nil {
		v.Readable = &readableOf{len(r.Rescue.Jobs), len(r.Rescue.Events), len(r.Rescue.Behind)}
	}
	if asJSON {
		err = writeJSON(w, v)
	} else {
		writeVerdict(w, r, v)
	}
	if err == nil && !v.Whole {
		err = fmt.Errorf("%s: %w", data, journal.ErrDamaged)
	}
	return err
}

func writeVerdict(w io.Writer, r journal.Report, v verdictOf) {
	verdict := "whole: everything is as it was recorded"
	if !v.Whole {
		verdict = "DAMAGED"
	}
	fmt.Fprintf(w, "%s: %s.\n", v.Data, verdict)
	if v.Jobs > 0 || v.Whole { // else the list of jobs cannot be read
		fmt.Fprintf(w, "%s, %s, %s", countOf(int64(v.Jobs), "job"), countOf(v.Events, "event"), countOf(int64(v.Notes), "spoken note"))
		if r.Latest != 0 {
			fmt.Fprintf(w, "; the latest event is of %s", r.Latest.Time().Local().Format("2006-01-02 15:04"))
		}
		fmt.Fprintln(w, ".")
	}
	const most = 30
	for i, f := range r.Findings {
		if i == most {
			fmt.Fprintf(w, "  and %d more; --json lists all\n", len(r.Findings)-most)
			break
		}
		mark := "wrong"
		if f.Note {
			mark = "note "
		}
		fmt.Fprintf(w, "  %s  %s\n", mark, f)
	}
	if v.Whole {
		return
	}
	switch len(v.Safe) {
	case 0:
		fmt.Fprintln(w, "Safe: no job can be promised to be whole.")
	default:
		fmt.Fprintf(w, "Safe, %d of %s: %s.\n", len(v.Safe), countOf(int64(v.Jobs), "job"), strings.Join(v.Safe, ", "))
	}
	if v.Readable != nil {
		fmt.Fprintf(w, "Can be saved: %s of %s.\n", countOf(int64(v.Readable.Events+v.Readable.Behind), "event"), countOf(int64(v.Readable.Jobs), "job"))
	}
	fmt.Fprintf(w, `What to do:
  1. End the daemon, and copy the whole folder %[1]s to another disk.
  2. Put the latest backup back: stepcaller restore BACKUP --beside
     or save what can be read: stepcaller verify --save FOLDER
  3. stepcaller verify --data FOLDER tells whether that is whole; --data FOLDER, or data in the configuration, then works with it.
`, v.Data)
}

// countOf is a number of things, "1 job", "2 jobs".
func countOf(n int64, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// soundMemo reads a spoken note and compares its length with what was recorded of it.
func soundMemo(path string, length narrator.Span) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	pcm, err := speech.DecodeWAV(f)
	if err != nil {
		return err
	}
	if have := narrator.Span(len(pcm)); have != length {
		return fmt.Errorf("%s: it holds %s of sound, and %s were recorded", path, seconds(have), seconds(length))
	}
	return nil
}

// saveReadable writes what can be read of a data folder into a new one.
func saveReadable(ctx context.Context, w io.Writer, data, to string) error {
	s, err := journal.Rescue(data)
	if errors.Is(err, journal.ErrNoJournal) {
		return usage("there is no journal in %s to save anything of", data)
	}
	if err != nil {
		return err
	}
	if err := s.Save(ctx, data, to); err != nil {
		return err
	}
	fmt.Fprintf(w, "Saved to %s: %s of %s.\n", to, countOf(int64(len(s.Events)), "event"), countOf(int64(len(s.Jobs)), "job"))
	for _, f := range s.Lost {
		fmt.Fprintf(w, "  lost  %s\n", f)
	}
	if len(s.Lost) == 0 {
		fmt.Fprintln(w, "Nothing is known to be lost.")
	}
	fmt.Fprintf(w, "stepcaller verify --data %s proves it.\n", to)
	return nil
}
