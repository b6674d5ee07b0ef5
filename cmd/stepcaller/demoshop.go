package main

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/narrator/demoshop"
	"stepcaller/narrator/journal"
	"stepcaller/speech"
)

func newDemoShop(app *App) *cobra.Command {
	return &cobra.Command{
		Use:   "demo-shop",
		Short: "Make up a small shop and eight months of its jobs, so that there is something to look at",
		Long: `Demo-shop fills a new data folder with some 300 jobs that never happened: four technicians, the bundled procedures, long steps and
their reasons. Every page over such a folder says that its data are invented, and every work order begins with "` + demoshop.OrderPrefix + `". A folder that has
a journal is refused. Without --data it is a folder beside the usual one.`,
		Example: "  stepcaller demo-shop\n  stepcaller demo-shop --data /tmp/shop && stepcaller jobs --data /tmp/shop",
		RunE: func(cmd *cobra.Command, _ []string) error {
			debug.SetMemoryLimit(roomToInvent)
			dir := app.Config.Data
			if !cmd.Flags().Changed("data") {
				dir += "-demo-shop"
			}
			c := demoshop.DefaultConfig(time.Now())
			if command, err := speech.ParseCommand(app.Config.Voice.Command); err == nil && command.Find() == nil {
				voice := speech.CommandVoice{Command: command}.At(speech.Settings{Voice: app.Config.Voice.Name, WordsPerMinute: 150})
				c.Speak = func(text string) ([]int16, error) { return voice.Speak(cmd.Context(), text) }
			}
			shop, err := makeShop(cmd.Context(), dir, c)
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%d invented jobs are in %s. Look at them with `stepcaller jobs --data %s`.\n", shop.Started, dir, dir)
			return nil
		},
	}
}

// roomToInvent lets months of jobs be made up without collecting garbage all the time; no job runs beside it.
const roomToInvent = 400 << 20

// makeShop invents a shop into a folder without a journal.
func makeShop(ctx context.Context, dir string, c demoshop.Config) (shop *demoshop.Shop, err error) {
	there, err := journal.Open(dir, journal.Reader)
	switch {
	case err == nil:
		return nil, errors.Join(usage("%s has a journal already; name a new folder with --data", dir), there.Close())
	case !errors.Is(err, journal.ErrNoJournal):
		return nil, err
	}
	if shop, err = demoshop.Invent(c); err != nil {
		return nil, err
	}
	if err := journal.MarkInvented(dir); err != nil {
		return nil, err
	}
	store, err := journal.Open(dir, journal.Writer)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	for _, memo := range shop.Memos {
		if err := keepMemo(store.Memos(), memo); err != nil {
			return nil, err
		}
	}
	if err := store.Append(ctx, shop.Events); err != nil {
		return nil, err
	}
	return shop, store.Beat(ctx, narrator.MomentOf(c.Until))
}

// keepMemo writes the sound of a spoken note under the name that its event has.
func keepMemo(memos *journal.Memos, memo demoshop.Memo) error {
	part, err := memos.Begin(memo.Job)
	if err != nil {
		return err
	}
	w, err := speech.NewWAVWriter(part)
	if err != nil {
		return err
	}
	if err := errors.Join(w.Append(memo.PCM), w.Close()); err != nil {
		return fmt.Errorf("note %s: %w", memo.File, err)
	}
	file, err := memos.Keep(part)
	if err == nil && file != memo.File {
		err = fmt.Errorf("note %s was kept as %s", memo.File, file)
	}
	return err
}
