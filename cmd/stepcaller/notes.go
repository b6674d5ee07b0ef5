package main

import (
	"errors"
	"fmt"

	"stepcaller/narrator/journal"
	"stepcaller/speech"
)

// How a spoken note ends by itself.
var (
	noteQuiet = speech.SamplesIn(3e9)   // silence after speech
	noteWait  = speech.SamplesIn(8e9)   // silence before any
	noteLimit = speech.SamplesIn(300e9) // at the latest
	noteSync  = speech.SamplesIn(5e8)   // a crash costs at most so much
)

// Notes takes one spoken note at a time into a WAV file, and keeps it. One goroutine uses it.
type Notes struct {
	Memos *journal.Memos

	w         *speech.WAVWriter
	part      string
	from      speech.Samples // of the first sample written
	read      speech.Samples // after the last
	lastVoice speech.Samples // after the last sample of speech; 0 before any
	synced    speech.Samples
}

// Taking reports whether a note is being taken.
func (n *Notes) Taking() bool { return n.w != nil }

// Begin opens a note for a job at a sample of the session.
func (n *Notes) Begin(job string, at speech.Samples) error {
	part, err := n.Memos.Begin(job)
	if err != nil {
		return fmt.Errorf("note: %w", err)
	}
	w, err := speech.NewWAVWriter(part)
	if err != nil {
		return fmt.Errorf("note: %w", err)
	}
	*n = Notes{Memos: n.Memos, w: w, part: part, from: at, read: at, synced: at}
	return nil
}

// Hear writes a block. speaking says whether the ears hear speech in it.
func (n *Notes) Hear(block speech.Block, speaking bool) error {
	if err := n.w.Append(block.PCM); err != nil {
		n.w.Close()
		n.w = nil
		return fmt.Errorf("note: %w", err)
	}
	n.read = block.At + speech.Samples(len(block.PCM))
	if speaking {
		n.lastVoice = n.read
	}
	if n.read-n.synced >= noteSync {
		n.synced = n.read
		if err := n.w.Sync(); err != nil {
			n.w.Close()
			n.w = nil
			return fmt.Errorf("note: %w", err)
		}
	}
	return nil
}

// Quiet reports whether the note has ended by silence or by its length.
func (n *Notes) Quiet() bool {
	switch {
	case n.read-n.from >= noteLimit:
		return true
	case n.lastVoice == 0:
		return n.read-n.from >= noteWait
	}
	return n.read-n.lastVoice >= noteQuiet
}

// End keeps the note up to a sample of the session and tells its file, first sample and length. The length is 0 when nothing was
// said; then no file is kept.
func (n *Notes) End(at speech.Samples) (file string, from, length speech.Samples, err error) {
	w := n.w
	n.w = nil
	length = max(0, min(at, n.read)-n.from)
	if err := errors.Join(w.Cut(length), w.Close()); err != nil {
		return "", n.from, 0, fmt.Errorf("note: %w", err)
	}
	if n.lastVoice == 0 || length == 0 {
		return "", n.from, 0, n.Memos.Discard(n.part)
	}
	file, err = n.Memos.Keep(n.part)
	return file, n.from, length, err
}
