package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/procedures"
	"stepcaller/speech"
)

// beat is how often the journal notes that the program runs: by so much a gap after a crash may be too long.
const beat = 5 * narrator.Second

// Session joins ears, narrator, journal and voice around one stream of sound, block by block. A job from a file and a job at
// a microphone run through the same Session. It is used by one goroutine.
type Session struct {
	Bay     *narrator.Bay
	Store   journal.Store
	Words   procedures.Words
	Ears    Hearer
	Source  speech.Source
	Sink    speech.Sink
	Player  *speech.Player
	Speaker *Speaker
	Notes   *Notes
	Watch   Watcher
	Screen  *screen   // nil for none
	Shop    *shopLink // nil for a bay on its own
	Metrics *metrics  // nil for none

	// Origin is the moment of the source's first sample.
	Origin narrator.Moment
	// Prepare makes likely sentences ahead of their need.
	Prepare bool
	// Alive is called after every block; nil for nobody.
	Alive func()
	// Quit ends Run when it returns true; nil for never. It is asked after every block.
	Quit func() bool

	read    speech.Samples // samples read so far
	refused error          // why the journal did not take the latest outcome; nil when it did
	again   speech.Samples // when what the journal refused, and nobody will say again, is tried once more
	owed    narrator.Input // a note that is kept and not yet in the journal; nil for none
	beaten  narrator.Moment

	reception  speech.Reception // as the narrator was last told
	measured   narrator.Moment  // when
	unmeasured bool             // the journal did not take it

	ref []int16
}

// Hearer recognises words in sound. [speech.Ears] is the real one.
type Hearer interface {
	// Hear takes the next block and what was played while it was recorded, and returns what was decided with it.
	Hear(b speech.Block, played []int16) []speech.Heard
	// Live names the phrases that count from now on; every other is talk. It returns those that it does not know.
	Live(phrases []string) (unknown []string)
	// Speaking reports whether somebody is speaking in the latest block.
	Speaking() bool
	// Reception tells how well they hear, as of the latest block.
	Reception() speech.Reception
	// Reset forgets the stream: the next block is the first of another.
	Reset()
}

// Watcher is told what happens, as it happens: the terminal, a rehearsal's report, a test.
type Watcher interface {
	// Heard tells of a word that counted.
	Heard(h narrator.Heard)
	// Done tells of an outcome that is durable, and of the moment of its decision.
	Done(at narrator.Moment, o narrator.Outcome)
	// Says tells of a sentence as it is queued; Said when it has ended or was cut.
	Says(at narrator.Moment, s narrator.Sentence, spoken string)
	Said(id int64, begun, ended narrator.Moment, cut bool)
	// News tells what was done unasked, and nothing is wrong.
	News(text string)
	// Trouble tells what went wrong and was survived.
	Trouble(err error)
}

// Now is the moment of the next sample to be read.
func (s *Session) Now() narrator.Moment { return s.Origin.Add(narrator.Span(s.read)) }

func (s *Session) moment(at speech.Samples) narrator.Moment { return s.Origin.Add(narrator.Span(at)) }

// Run reads the source to its end, or until ctx ends or a device is lost. Then what the ears still hold is decided, a note that is being
// taken is kept, and for a file what is being said is said to its end; where ctx ended, the sentence being said is.
func (s *Session) Run(ctx context.Context, orders <-chan Order) error {
	err := s.listenOn(ctx, orders)
	last := context.WithoutCancel(ctx)
	err = errors.Join(err, s.endNote(last, s.Now()))
	if ctx.Err() != nil && err == nil {
		err = errors.Join(s.farewell(last), s.endNote(last, s.Now()))
	}
	return err
}

func (s *Session) listenOn(ctx context.Context, orders <-chan Order) error {
	for ctx.Err() == nil {
		select {
		case o := <-orders:
			o.Reply <- s.obey(ctx, o)
		default:
		}
		block, err := s.Source.Read()
		if errors.Is(err, io.EOF) {
			return s.drain(ctx)
		}
		if errors.Is(err, speech.ErrDeviceLost) {
			return fmt.Errorf("listening: %w", err)
		}
		if err != nil { // a file that ends before its time: what it held counts
			s.Watch.Trouble(fmt.Errorf("listening: %w", err))
			return s.drain(ctx)
		}
		if err := s.step(ctx, block); err != nil {
			return err
		}
		if s.Alive != nil {
			s.Alive()
		}
		if s.Quit != nil && s.Quit() {
			return errNoJobLeft
		}
	}
	return nil
}

// step deals with one block of sound.
func (s *Session) step(ctx context.Context, block speech.Block) error {
	if err := s.Sink.Advance(speech.Samples(len(block.PCM))); err != nil {
		return fmt.Errorf("speaking: %w", err)
	}
	if len(s.ref) != len(block.PCM) {
		s.ref = make([]int16, len(block.PCM))
	}
	s.Player.Played(s.ref)
	s.read = block.At + speech.Samples(len(block.PCM))
	s.Metrics.heard(block)
	if err := s.reports(ctx); err != nil {
		return err
	}
	if err := s.shopNews(ctx); err != nil {
		return err
	}
	heard := s.Ears.Hear(block, s.ref)
	if err := s.note(ctx, block, heard); err != nil {
		return err
	}
	for _, h := range heard {
		if err := s.take(ctx, s.inBay(h)); err != nil {
			return err
		}
	}
	if err := s.fallDue(ctx); err != nil {
		return err
	}
	if err := s.measure(ctx); err != nil {
		return err
	}
	s.Screen.hear(s.Bay, s.Now(), block.PCM, s.Ears)
	if now := s.Now(); now.Since(s.beaten) >= beat {
		s.beaten = now
		if err := s.Store.Beat(ctx, now); err != nil {
			s.Watch.Trouble(err)
		}
	}
	return nil
}

// fallDue does what is due by the clock. What the journal refuses is tried again a second later.
func (s *Session) fallDue(ctx context.Context) error {
	if s.read < s.again {
		return nil
	}
	if in := s.owed; in != nil {
		s.owed = nil
		return s.takeNote(ctx, in)
	}
	if due := s.Bay.Due(); due != 0 && s.Now() >= due {
		return s.take(ctx, narrator.Tick{At: s.Now()})
	}
	return nil
}

// inBay turns what the ears decided into the narrator's terms.
func (s *Session) inBay(h speech.Heard) narrator.Heard {
	return narrator.Heard{Word: s.word(h.Label), From: s.moment(h.From), To: s.moment(h.To), At: s.moment(h.At), Score: h.Score, Sure: h.Sure}
}

// word is what a phrase means; a number is a phrase of several words.
func (s *Session) word(phrase string) string {
	if c, ok := s.Words.Command(phrase); ok {
		return string(c)
	}
	parts := strings.Fields(phrase)
	for i, part := range parts {
		if c, ok := s.Words.Command(part); ok {
			parts[i] = string(c)
		}
	}
	return strings.Join(parts, " ")
}

// take has the narrator decide and carries the outcome out: durable first, then spoken. An outcome that cannot be made
// durable is dropped and said to be.
func (s *Session) take(ctx context.Context, in narrator.Input) error {
	o := narrator.Decide(s.Bay, in)
	s.Metrics.decided(in, o)
	s.refused = nil
	if len(o.Events) > 0 {
		if err := s.Store.Append(ctx, o.Events); err != nil {
			s.refused, s.again = err, s.read+speech.Rate
			if _, level := in.(narrator.Reception); level { // nobody waits for that
				s.Watch.Trouble(fmt.Errorf("the journal did not take how well words are heard: %w", err))
				return nil
			}
			s.Watch.Trouble(fmt.Errorf("the journal did not take it, so it does not count: %w", err))
			s.Player.Cut()
			s.Player.Tone(speech.FailedTone())
			s.Speaker.Say(ctx, s.Now(), narrator.Sentence{Text: s.Bay.Settings.Tongue.F("The journal did not take that. It does not count.")})
			return nil
		}
	}
	if err := s.Bay.Apply(o); err != nil {
		return fmt.Errorf("the journal and the program disagree: %w", err)
	}
	if h, ok := in.(narrator.Heard); ok && o.Took {
		s.Watch.Heard(h)
	}
	s.Watch.Done(s.Now(), o)
	s.Screen.done(s.Bay, s.Now(), in, o)
	if o.Cut {
		s.Speaker.Cut()
	}
	s.Speaker.Settle(s.Bay.Volume, s.Bay.Pace)
	switch o.Tone {
	case narrator.Taken:
		s.Player.Tone(speech.HeardTone())
	case narrator.Doubt:
		s.Player.Tone(speech.UnsureTone())
	}
	for _, sentence := range o.Sentences {
		s.Speaker.Say(ctx, s.Now(), sentence)
	}
	if o.Record {
		if err := s.Notes.Begin(s.Bay.Active, s.read); err != nil {
			return s.take(ctx, narrator.NoteEnded{At: s.Now(), Fault: err.Error()})
		}
	}
	if o.EndNote != 0 {
		if err := s.endNote(ctx, o.EndNote); err != nil {
			return err
		}
	}
	s.claim(o)
	s.listen()
	if s.Prepare {
		s.Speaker.Prepare(s.Bay.Likely())
	}
	return nil
}

// obey takes an order that came from a terminal.
func (s *Session) obey(ctx context.Context, o Order) error {
	inputs, err := o.Inputs(ctx, s.Now())
	if err != nil {
		return err
	}
	for _, in := range inputs {
		if err := s.order(ctx, in); err != nil {
			return err
		}
	}
	return nil
}

// order takes one input of a terminal. A note that is being taken belongs to the job before, unless the input is only something typed;
// that may be about a job that was finished long ago.
func (s *Session) order(ctx context.Context, in narrator.Input) error {
	if typed, ok := in.(narrator.Typed); ok {
		added, err := know(ctx, s.Bay, s.Store, typed.About())
		if err != nil {
			return err
		}
		if added {
			defer delete(s.Bay.Jobs, typed.About())
		}
		if err := typed.Check(s.Bay); err != nil {
			return err
		}
	} else if err := s.endNote(ctx, s.Now()); err != nil {
		return err
	}
	switch in := in.(type) {
	case narrator.HandOver:
		if s.Shop == nil {
			return errNoShop
		}
		if err := in.Check(s.Bay); err != nil {
			return err
		}
	case narrator.Claim:
		if s.Shop == nil {
			return errNoShop
		}
	}
	if err := s.take(ctx, in); err != nil {
		return err
	}
	if s.refused != nil {
		return fmt.Errorf("the journal did not take it: %w", s.refused)
	}
	return nil
}

// listen tells the ears which phrases count now.
func (s *Session) listen() {
	var commands []procedures.Command
	for _, w := range s.Bay.Live() {
		commands = append(commands, procedures.Command(w))
	}
	s.Ears.Live(s.Words.Live(commands...))
}

// reports passes on what became of the sentences.
func (s *Session) reports(ctx context.Context) error {
	for _, r := range s.Speaker.Reports(s.read) {
		s.Watch.Said(r.ID, s.moment(r.Begun), s.moment(r.Ended), r.Cut)
		if err := s.take(ctx, narrator.Spoken{Sentence: r.ID, At: s.moment(r.Ended)}); err != nil {
			return err
		}
	}
	return nil
}

// note feeds the note that is being taken, and ends it after silence.
func (s *Session) note(ctx context.Context, block speech.Block, heard []speech.Heard) error {
	if !s.Notes.Taking() {
		return nil
	}
	if err := s.Notes.Hear(block, s.Ears.Speaking()); err != nil {
		return s.take(ctx, narrator.NoteEnded{At: s.Now(), Fault: err.Error()})
	}
	if s.Notes.Quiet() {
		return s.endNote(ctx, s.Now())
	}
	return nil
}

// endNote keeps the note that is being taken, cut at a moment, and tells the narrator.
func (s *Session) endNote(ctx context.Context, at narrator.Moment) error {
	if !s.Notes.Taking() {
		return nil
	}
	file, from, length, err := s.Notes.End(speech.Samples(at.Since(s.Origin)))
	in := narrator.NoteEnded{At: s.Now(), From: s.moment(from), Length: narrator.Span(length), File: file}
	if err != nil {
		in.Fault = err.Error()
	}
	return s.takeNote(ctx, in)
}

// takeNote tells the narrator of a note that has ended. Its file is safe: when the journal refuses it, it is owed.
func (s *Session) takeNote(ctx context.Context, in narrator.Input) error {
	err := s.take(ctx, in)
	if s.refused != nil {
		s.owed = in
	}
	return err
}

// drain lets the ears decide on the last words, in the silence behind the end, keeps a note, and says the rest.
func (s *Session) drain(ctx context.Context) error {
	silence := make([]int16, speech.Frame)
	for end := s.read + speech.SamplesIn(time.Second); s.read < end || s.Player.Speaking(); {
		if err := s.step(ctx, speech.Block{At: s.read, PCM: silence}); err != nil {
			return err
		}
	}
	if err := s.endNote(ctx, s.Now()); err != nil {
		return err
	}
	for s.Player.Speaking() {
		if err := s.step(ctx, speech.Block{At: s.read, PCM: silence}); err != nil {
			return err
		}
	}
	return s.reports(ctx)
}
