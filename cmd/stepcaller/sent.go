package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

// sendState is how a bay stands with its shop, as `sent` prints it.
type sendState struct {
	AllSent bool       `json:"all_sent"`
	Events  int        `json:"events"` // not sent yet
	Jobs    int        `json:"jobs"`   // to which they belong
	Notes   int        `json:"notes"`  // not sent yet
	Known   bool       `json:"known"`  // false for a bay that has never reached its shop
	Last    *time.Time `json:"last_reached"`
}

// errUnsent is not said: what is not sent stands on the output already.
var errUnsent = errors.New("not everything is sent")

func newSent(app *App) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "sent",
		Short: "Tell whether the shop has everything of this bay",
		Long:  `Sent counts what the shop has not got yet, by this bay's own journal: it needs no connection. The exit code is 1 while something is not sent.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := lookAtSending(cmd.Context(), app.Config.Data)
			if err != nil {
				return err
			}
			if asJSON {
				err = writeJSON(cmd.OutOrStdout(), s)
			} else {
				err = s.write(cmd.OutOrStdout())
			}
			if err == nil && !s.AllSent {
				return errUnsent
			}
			return err
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

func lookAtSending(ctx context.Context, data string) (sendState, error) {
	if _, err := courier.ReadJoined(data); err != nil {
		return sendState{}, notJoined(err)
	}
	store, err := journal.Open(data, journal.Reader)
	if errors.Is(err, journal.ErrNoJournal) {
		return sendState{AllSent: true, Known: true}, nil
	}
	if err != nil {
		return sendState{}, err
	}
	defer store.Close()
	state, err := courier.Look(ctx, store, data)
	if err != nil {
		return sendState{}, err
	}
	s := sendState{AllSent: state.AllSent(), Events: state.Events, Jobs: state.Jobs, Notes: state.Notes, Known: state.Known}
	if !state.Last.IsZero() {
		s.Last = &state.Last
	}
	return s, nil
}

func (s sendState) write(w io.Writer) error {
	text := "Everything is sent."
	if !s.AllSent {
		text = fmt.Sprintf("Not sent yet: %s of %s, %s.", count(s.Events, "event"), count(s.Jobs, "job"), count(s.Notes, "note"))
	}
	switch {
	case s.Last != nil:
		text += s.Last.Local().Format(" The shop was last reached on 2006-01-02 at 15:04.")
	case !s.AllSent:
		text += " The shop was not reached yet."
	}
	_, err := fmt.Fprintln(w, text)
	return err
}

// count words how many there are of a thing.
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
