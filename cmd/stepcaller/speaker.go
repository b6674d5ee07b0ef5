package main

import (
	"context"
	"errors"
	"fmt"

	"stepcaller/narrator"
	"stepcaller/procedures"
	"stepcaller/speech"
)

// Speaker turns sentences into sound and the sound over to the player, in order. Sentences are made beside the session, so that a
// slow voice never stops the listening; Patient speakers wait for each, so that a rehearsal does not depend on the
// machine's speed. One goroutine uses it.
type Speaker struct {
	Voice   *speech.Ahead
	Player  *speech.Player
	Watch   Watcher
	Patient bool
	Aloud   procedures.Aloud // how written words are said

	waiting []*pending // not yet with the player, in order
	begun   map[int64]speech.Samples
	failed  []Spoken
}

// Spoken is what became of a sentence, in samples of the session. A sentence that could not be made ends where it began.
type Spoken struct {
	ID           int64
	Begun, Ended speech.Samples
	Cut          bool
}

// errVoice comes before why a sentence could not be made, which may name it.
var errVoice = errors.New("the voice failed, read the terminal instead")

type pending struct {
	id   int64
	made chan []int16 // gets the sound, or nil when the voice failed
	fail error        // why it failed; read once made has been received from
}

// NewSpeaker returns a speaker that has said nothing.
func NewSpeaker(voice *speech.Ahead, player *speech.Player, watch Watcher, patient bool) *Speaker {
	return &Speaker{Voice: voice, Player: player, Watch: watch, Patient: patient, Aloud: procedures.NewAloud(""),
		begun: map[int64]speech.Samples{}}
}

// Say queues a sentence of trade text.
func (s *Speaker) Say(ctx context.Context, at narrator.Moment, sentence narrator.Sentence) {
	words := s.Aloud.Speakable(sentence.Text)
	s.Watch.Says(at, sentence, words)
	p := &pending{id: sentence.ID, made: make(chan []int16, 1)}
	s.waiting = append(s.waiting, p)
	work := func() {
		pcm, err := s.Voice.Speak(ctx, words)
		p.fail = err
		p.made <- pcm
	}
	if s.Patient {
		work()
		s.handOver()
		return
	}
	go work()
}

// Idle reports whether no sentence waits to be made.
func (s *Speaker) Idle() bool { return len(s.waiting) == 0 }

// Cut stops what is being said and drops what is queued.
func (s *Speaker) Cut() {
	s.Player.Cut()
	for _, p := range s.waiting {
		s.failed = append(s.failed, Spoken{ID: p.id, Cut: true})
	}
	s.waiting = nil
}

// Drop lets the sentence that sounds end, and drops what is queued behind it.
func (s *Speaker) Drop() {
	s.Player.Drop()
	s.waiting = nil
}

// Settle sets loudness in per cent and pace in words a minute for what is said from now on.
func (s *Speaker) Settle(volume, pace int) {
	s.Player.SetVolume(float64(volume) / 100)
	if now := s.Voice.Settings(); now.WordsPerMinute != pace {
		if err := s.Voice.Adjust(speech.Settings{Voice: now.Voice, WordsPerMinute: pace}); err != nil {
			s.Watch.Trouble(err)
		}
	}
}

// Prepare has sentences of trade text made before they are needed.
func (s *Speaker) Prepare(texts []string) {
	words := make([]string, len(texts))
	for i, t := range texts {
		words[i] = s.Aloud.Speakable(t)
	}
	s.Voice.Prepare(words...)
}

// Reports tells what became of sentences since the last call. now is the session's sample count. Where the speaker is patient, output and
// input are one file's samples and the times are exact; a loudspeaker counts for itself, so there a sentence begins and ends
// when it is noticed, within a block.
func (s *Speaker) Reports(now speech.Samples) []Spoken {
	s.handOver()
	spoken := s.failed
	s.failed = nil
	for i := range spoken {
		spoken[i].Begun, spoken[i].Ended = now, now
	}
	for _, r := range s.Player.Reports() {
		if !s.Patient {
			r.At = now
		}
		switch r.Kind {
		case speech.Begun:
			s.begun[r.ID] = r.At
		default:
			begun, ok := s.begun[r.ID]
			if !ok {
				begun = r.At
			}
			delete(s.begun, r.ID)
			spoken = append(spoken, Spoken{ID: r.ID, Begun: begun, Ended: r.At, Cut: r.Kind == speech.WasCut})
		}
	}
	return spoken
}

// handOver gives the player every sentence that is ready, up to the first that is not.
func (s *Speaker) handOver() {
	for len(s.waiting) > 0 {
		p := s.waiting[0]
		select {
		case pcm := <-p.made:
			s.waiting = s.waiting[1:]
			if p.fail != nil {
				s.Watch.Trouble(fmt.Errorf("%w: %w", errVoice, p.fail))
				s.Player.Tone(speech.FailedTone())
				s.failed = append(s.failed, Spoken{ID: p.id})
				continue
			}
			s.Player.Say(p.id, pcm)
		default:
			return
		}
	}
}
