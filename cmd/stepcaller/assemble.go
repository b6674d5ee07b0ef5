package main

import (
	"context"
	"errors"
	"fmt"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/speech"
)

// assemble builds a session over a data folder: everything but its source, sink and origin. The returned function ends all
// it started. A patient session waits for its voice, as a rehearsal does.
func assemble(ctx context.Context, c Config, settings narrator.Settings, data string, player *speech.Player, watch Watcher, patient bool) (*Session, func() error, error) {
	earsConfig, err := c.ears()
	if err != nil {
		return nil, nil, err
	}
	words, err := c.words()
	if err != nil {
		return nil, nil, err
	}
	aloud, err := c.aloud()
	if err != nil {
		return nil, nil, err
	}
	command, err := speech.ParseCommand(c.Voice.Command)
	if err != nil {
		return nil, nil, usage("configuration: voice.command: %v", err)
	}
	if err := command.Find(); err != nil {
		watch.Trouble(err) // the job goes on with tones and the terminal
	}
	ears, err := speech.NewEars(earsConfig)
	if err != nil {
		return nil, nil, fmt.Errorf("ears: %w", err)
	}
	words = attune(ctx, ears, words, c, data, watch)
	store, err := journal.Open(data, journal.Writer)
	if err != nil {
		return nil, nil, err
	}
	bay, err := restore(ctx, store, settings)
	if err != nil {
		return nil, nil, errors.Join(err, store.Close())
	}
	link, kept, leave, err := joinShop(ctx, courier.Config{Store: store, Memos: store.Memos(), Data: data, Open: openShop(data), Procedures: c.Procedures,
		Album: voicesFolder(data)}, c.Technician, patient)
	if err != nil {
		return nil, nil, errors.Join(err, store.Close())
	}
	voice := speech.NewAhead(speech.CommandVoice{Command: command}.At, speech.Settings{Voice: c.Voice.Name, WordsPerMinute: bay.Pace})
	s := &Session{
		Bay: bay, Store: kept, Shop: link, Words: words, Ears: ears, Player: player, Watch: watch, Prepare: !patient,
		Speaker: NewSpeaker(voice, player, watch, patient),
		Notes:   &Notes{Memos: store.Memos()},
	}
	s.Speaker.Aloud = aloud
	s.Speaker.Settle(bay.Volume, bay.Pace)
	s.listen()
	return s, func() error {
		err := voice.Close()
		leave()
		return errors.Join(err, store.Close())
	}, nil
}

// restore rebuilds the bay from what the journal says is open here.
func restore(ctx context.Context, store journal.Store, settings narrator.Settings) (*narrator.Bay, error) {
	own, err := store.Log(ctx, "")
	if err != nil {
		return nil, err
	}
	open, err := store.Jobs(ctx, journal.Filter{State: journal.JobsHere})
	if err != nil {
		return nil, err
	}
	var logs [][]narrator.Event
	for _, entry := range open {
		log, err := store.Log(ctx, entry.ID)
		if err != nil {
			return nil, err
		}
		logs = append(logs, log)
	}
	return narrator.Restore(settings, own, logs...)
}
