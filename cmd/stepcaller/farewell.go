package main

import (
	"context"
	"time"

	"stepcaller/narrator"
	"stepcaller/speech"
)

// How the program takes its leave: the sentence being said may go on for so long, and what the loudspeaker still holds then sounds. All of it,
// with closing, is over within 2 s.
var (
	lastWords = speech.SamplesIn(1500 * time.Millisecond)
	lastSound = speech.SamplesIn(200 * time.Millisecond)
)

// farewell lets the sentence that sounds end, or cuts it where it is too long; those behind it are dropped. Nobody is listened to any more. What
// follows from a sentence that was said to its end is recorded.
func (s *Session) farewell(ctx context.Context) error {
	if !s.Player.Speaking() {
		return nil
	}
	s.Speaker.Drop()
	for end := s.read + lastWords; s.read < end && s.Player.Speaking() && s.playBlock(); {
	}
	s.Player.Cut()
	for end := s.read + speech.Frame + min(speech.SamplesIn(s.Sink.Latency()), lastSound); s.read < end && s.playBlock(); {
	}
	for _, r := range s.Speaker.Reports(s.read) {
		s.Watch.Said(r.ID, s.moment(r.Begun), s.moment(r.Ended), r.Cut)
		if r.Cut {
			continue
		}
		if err := s.take(ctx, narrator.Spoken{Sentence: r.ID, At: s.moment(r.Ended)}); err != nil {
			return err
		}
	}
	s.Speaker.Drop()
	return nil
}

// playBlock goes on by a block without hearing it, and reports whether there was one.
func (s *Session) playBlock() bool {
	block, err := s.Source.Read()
	if err != nil {
		return false
	}
	if err := s.Sink.Advance(speech.Samples(len(block.PCM))); err != nil {
		return false
	}
	s.Player.Played(make([]int16, len(block.PCM)))
	s.read = block.At + speech.Samples(len(block.PCM))
	return true
}
