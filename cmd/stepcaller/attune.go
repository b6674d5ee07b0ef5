package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"

	"stepcaller/procedures"
	"stepcaller/speech"
)

// voicesFolder is where technicians' voices are kept, in the data folder.
func voicesFolder(data string) string { return filepath.Join(data, "voices") }

// attune has the ears hear as the bay's technician taught them, and adds the technician's own words to the vocabulary. Takes
// are learnt from anew where the ears have another network since. What goes wrong is told to watch, and the ears then
// hear as they were trained.
func attune(ctx context.Context, ears *speech.Ears, words procedures.Words, c Config, data string, watch Watcher) procedures.Words {
	if c.Technician == "" {
		return words
	}
	tuned, err := attuned(ctx, ears, words, c, data, watch)
	if err != nil {
		watch.Trouble(fmt.Errorf("%w; words are heard as trained", err))
		return words
	}
	return tuned
}

func attuned(ctx context.Context, ears *speech.Ears, words procedures.Words, c Config, data string, watch Watcher) (procedures.Words, error) {
	album, err := speech.OpenAlbum(voicesFolder(data), c.Technician)
	if err != nil {
		return words, err
	}
	if !album.Current() {
		lock, err := album.Lock()
		if err != nil {
			return words, err
		}
		defer lock.Close()
		result, err := relearn(ctx, c, album)
		if err != nil {
			return words, err
		}
		watch.News(fmt.Sprintf("The ears are new, so the takes of %s were learnt from again. %s", album.Technician(), result))
	}
	state := album.State()
	if state.Tuning == nil {
		return words, nil
	}
	more := words
	for _, own := range state.Tuning.Words() {
		if more, err = more.With(own, procedures.Command(state.Words[own])); err != nil {
			return words, fmt.Errorf("voice of %s: %w", album.Technician(), err)
		}
	}
	return more, ears.Tune(state.Tuning)
}

// learn makes the most of a technician's takes and says what came of it. Where all of them together change nothing, those that count
// already and the given sitting's are tried alone: no earlier sitting that was refused stands in the way.
func learn(ctx context.Context, tutor *speech.Tutor, album *speech.Album, sitting int) (result string, err error) {
	all, err := album.Sittings()
	if err != nil {
		return "", err
	}
	state, err := lesson(ctx, tutor, album, all)
	if err != nil {
		return "", err
	}
	some := append(slices.Clone(album.State().Sittings), sitting)
	if state.Tuning == nil && len(some) < len(all) {
		switch alone, err := lesson(ctx, tutor, album, some); {
		case err == nil:
			state = alone
		case ctx.Err() != nil:
			return "", err
		}
	}
	if state.Tuning == nil {
		return state.Result, album.Refused(all)
	}
	return state.Result, album.Learnt(state)
}

// relearn replaces what counts by what the same takes are worth with another network.
func relearn(ctx context.Context, c Config, album *speech.Album) (result string, err error) {
	config, err := c.ears()
	if err != nil {
		return "", err
	}
	tutor, err := speech.NewTutor(config)
	if err != nil {
		return "", err
	}
	state, err := lesson(ctx, tutor, album, album.State().Sittings)
	if err != nil {
		return "", err
	}
	return state.Result, album.Again(state)
}

func lesson(ctx context.Context, tutor *speech.Tutor, album *speech.Album, sittings []int) (speech.State, error) {
	all, means, unread := album.Takes(sittings)
	var takes []speech.Take
	for _, t := range all {
		if _, own := means[t.Label]; own || tutor.Knows(t.Label) {
			takes = append(takes, t)
		}
	}
	l, err := tutor.Learn(ctx, takes)
	if err != nil {
		return speech.State{}, errors.Join(fmt.Errorf("voice of %s: %w", album.Technician(), err), unread)
	}
	return speech.State{Tuning: l.Tuning, Network: speech.NetworkID(), Sittings: sittings, Words: means, Result: l.Words()}, nil
}
