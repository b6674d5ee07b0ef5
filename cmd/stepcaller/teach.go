package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"stepcaller/narrator"
	"stepcaller/procedures/tongue"
	"stepcaller/speech"
)

// How a sitting waits.
var (
	answerWait  = speech.SamplesIn(8 * time.Second)        // for an answer, before asking again
	takeQuiet   = speech.SamplesIn(500 * time.Millisecond) // behind a word, so that it was the whole answer
	takeLatest  = speech.SamplesIn(2 * time.Second)        // behind a word, where somebody else keeps talking
	askedMost   = 3                                        // times without any answer, before the sitting ends by itself
	refusedMost = 6                                        // answers to one prompt that were none, before it is left: a radio may be talking
)

// Sitting leads a technician through a spoken session without hands: it asks for one word after the other, hears what is said, whatever
// the ears take it for, and keeps it. Nothing plays while it listens. It is used by one goroutine.
type Sitting struct {
	Ears    utterances
	Source  speech.Source
	Sink    speech.Sink
	Player  *speech.Player
	Speaker *Speaker
	Prompts []string          // what is asked for, in order
	Means   map[string]string // of own words: the command to name instead, since no voice may be able to say the word
	Keep    func(speech.Take) error
	Tongue  *tongue.Tongue  // language of what is asked; nil is English
	Origin  narrator.Moment // of the source's first sample

	kept     int
	asked    int            // times that the prompt at hand was spoken since anything was answered
	refused  int            // answers to the prompt at hand that were none
	opened   bool           // listening for the answer
	since    speech.Samples // when the prompt was over
	answer   *speech.Heard  // what was said since; nil before
	voiced   speech.Samples // when somebody was last heard speaking
	broken   string         // why the answer is none, "" for nothing yet
	doubted  string         // phrase that the last answer to this prompt was taken for
	past     []int16        // the last seconds of sound
	read     speech.Samples
	ref      []int16
	sentence int64
	ended    bool
}

// utterances is what a sitting wants of the ears: where speech begins and ends, as [Hearer] has it.
type utterances interface {
	Hear(b speech.Block, played []int16) []speech.Heard
	Speaking() bool
}

// pastKept is how much sound is kept: the longest word, its margins, and the quiet that proves its end.
var pastKept = int(speech.SamplesIn(6 * time.Second))

// Run asks until every prompt is answered or left, "stop" is said, nobody answers, the source ends or ctx does. It returns how many takes were kept,
// each of them safe whatever the error.
func (s *Sitting) Run(ctx context.Context) (int, error) {
	if len(s.Prompts) > 0 {
		s.ask(ctx, "")
	}
	for !s.ended && s.kept < len(s.Prompts) {
		if err := ctx.Err(); err != nil {
			return s.kept, err
		}
		block, err := s.Source.Read()
		if errors.Is(err, io.EOF) {
			err := s.drain(ctx)
			return s.kept, err
		}
		if err != nil {
			return s.kept, fmt.Errorf("listening: %w", err)
		}
		if err := s.step(ctx, block); err != nil {
			return s.kept, err
		}
	}
	return s.kept, nil
}

// drain lets an answer that was given be judged in the silence behind the end of a track.
func (s *Sitting) drain(ctx context.Context) error {
	silence := make([]int16, speech.Frame)
	for end := s.read + 2*takeQuiet; s.opened && s.read < end; {
		if err := s.step(ctx, speech.Block{At: s.read, PCM: silence}); err != nil {
			return err
		}
	}
	return nil
}

// step deals with one block of sound.
func (s *Sitting) step(ctx context.Context, block speech.Block) error {
	heard, err := s.hear(block)
	if err != nil {
		return err
	}
	if s.Ears.Speaking() {
		s.voiced = s.read
	}
	speaking := !s.Speaker.Idle() || s.Player.Speaking()
	for _, h := range heard {
		if h.Label == "stop" && h.Sure && s.prompt() != "stop" {
			s.Speaker.Cut()
			s.ended = true
			return nil
		}
		if s.opened && h.From >= s.since {
			s.take(h)
		}
	}
	switch {
	case !s.opened && !speaking:
		s.opened, s.since = true, s.read
	case s.opened && s.answer != nil && (s.read >= max(s.voiced, s.answer.To)+takeQuiet || s.read >= s.answer.To+takeLatest):
		return s.judge(ctx)
	case s.opened && s.answer == nil && !s.Ears.Speaking() && s.read-s.since > answerWait:
		if s.asked >= askedMost {
			s.ended = true
			s.say(ctx, s.Tongue.F("I hear nothing."))
			return nil
		}
		s.ask(ctx, "")
	}
	return nil
}

// hear moves the sound on by a block.
func (s *Sitting) hear(block speech.Block) ([]speech.Heard, error) {
	if err := s.Sink.Advance(speech.Samples(len(block.PCM))); err != nil {
		return nil, fmt.Errorf("speaking: %w", err)
	}
	if len(s.ref) != len(block.PCM) {
		s.ref = make([]int16, len(block.PCM))
	}
	s.Player.Played(s.ref)
	s.read = block.At + speech.Samples(len(block.PCM))
	s.past = append(s.past, block.PCM...)
	if len(s.past) > 2*pastKept {
		s.past = append(s.past[:0], s.past[len(s.past)-pastKept:]...)
	}
	s.Speaker.Reports(s.read)
	return s.Ears.Hear(block, s.ref), nil
}

// take makes what was heard the answer. Speech in two pieces is none.
func (s *Sitting) take(h speech.Heard) {
	if s.answer != nil && h.From > s.answer.From {
		s.broken = s.Tongue.F("in one go")
	}
	h.Nearest = "" // the ears' own guess is no reason to refuse
	s.answer = &h
}

// judge keeps the answer or asks again.
func (s *Sitting) judge(ctx context.Context) error {
	h := *s.answer
	from := s.read - speech.Samples(len(s.past)) // of the first sample kept
	start := max(from, h.From-speech.SamplesIn(speech.TakeMargin))
	end := min(s.read, h.To+speech.SamplesIn(speech.TakeMargin))
	take := speech.Take{Label: s.prompt()}
	if h.From > start && end > h.To {
		take.PCM = s.past[start-from : end-from]
		take.From, take.To = h.From-start, h.To-start
	}
	again := s.broken
	if err := take.Check(); again == "" && err != nil {
		again = s.Tongue.F(faultText(err.Error()))
	}
	if other := h.Label; again == "" && h.Sure && other != "" && other != s.prompt() && other != s.doubted {
		s.doubted = other // said like that twice, it is how this technician says it
		again = s.Tongue.F("that sounded like %s", other)
	}
	if again != "" {
		s.asked = 0
		if s.refused++; s.refused >= refusedMost {
			s.leave(ctx)
			return nil
		}
		s.ask(ctx, s.Tongue.F("Again, %s.", again)+" ")
		return nil
	}
	if err := s.Keep(take); err != nil {
		s.say(ctx, s.Tongue.F("The take could not be kept."))
		return err
	}
	s.Player.Tone(speech.HeardTone())
	s.kept++
	s.asked, s.refused, s.doubted = 0, 0, ""
	if left := len(s.Prompts) - s.kept; left > 0 {
		progress := ""
		if left%10 == 0 {
			progress = s.Tongue.F("%d to go.", left) + " "
		}
		s.ask(ctx, progress)
	}
	return nil
}

// leave goes on to the next prompt without a take for this one.
func (s *Sitting) leave(ctx context.Context) {
	s.Prompts = slices.Concat(s.Prompts[:s.kept], s.Prompts[s.kept+1:])
	s.refused, s.doubted = 0, ""
	if s.prompt() != "" {
		s.ask(ctx, s.Tongue.F("We leave that one.")+" ")
	}
}

// faultText names what speech.Take.Check finds wrong with a take.
func faultText(fault string) string {
	switch fault {
	case "no speech in it":
		return "no speech in it"
	case "too short":
		return "too short"
	case "too loud for the microphone":
		return "too loud for the microphone"
	case "too quiet":
		return "too quiet"
	}
	return fault
}

// prompt is the word asked for, "" when none is left.
func (s *Sitting) prompt() string {
	if s.kept >= len(s.Prompts) {
		return ""
	}
	return s.Prompts[s.kept]
}

// ask speaks the prompt at hand behind something else.
func (s *Sitting) ask(ctx context.Context, before string) {
	s.opened, s.answer, s.broken = false, nil, ""
	s.asked++
	text := s.Tongue.F("Say: %s.", s.prompt())
	if means, own := s.Means[s.prompt()]; own {
		text = s.Tongue.F("Your word for: %s.", means)
	}
	s.say(ctx, before+text)
}

func (s *Sitting) say(ctx context.Context, text string) {
	s.sentence++
	s.Speaker.Say(ctx, s.Origin.Add(narrator.Span(s.read)), narrator.Sentence{ID: s.sentence, Text: text})
}

// Finish says something and lets it be heard to its end.
func (s *Sitting) Finish(ctx context.Context, text string) error {
	s.say(ctx, text)
	silence := make([]int16, speech.Frame)
	for ctx.Err() == nil && (!s.Speaker.Idle() || s.Player.Speaking()) {
		block, err := s.Source.Read()
		if errors.Is(err, io.EOF) {
			block, err = speech.Block{At: s.read, PCM: silence}, nil
		}
		if err != nil {
			return fmt.Errorf("listening: %w", err)
		}
		if _, err := s.hear(block); err != nil {
			return err
		}
	}
	return nil
}

// standing is a track that stands still while the voice speaks, as somebody waits to be asked.
type standing struct {
	speech.Source
	busy  func() bool
	at    speech.Samples
	quiet [speech.Frame]int16
}

func (s *standing) Read() (speech.Block, error) {
	b := speech.Block{PCM: s.quiet[:]}
	if !s.busy() {
		var err error
		if b, err = s.Source.Read(); err != nil {
			return b, err
		}
	}
	b.At = s.at
	s.at += speech.Frame
	return b, nil
}
