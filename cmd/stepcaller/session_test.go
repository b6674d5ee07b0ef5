package main

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/procedures"
	"stepcaller/speech"
	"stepcaller/speech/voicetest"
)

// scripted hears what a script says: words by the block with which they are decided.
type scripted struct {
	words    map[speech.Samples]speech.Heard
	live     []string
	speaking bool
	hears    func(at speech.Samples) speech.Reception // nil for a reception that nobody measured
	at       speech.Samples
}

func (s *scripted) Hear(b speech.Block, _ []int16) []speech.Heard {
	s.at = b.At
	if h, ok := s.words[b.At]; ok {
		return []speech.Heard{h}
	}
	return nil
}
func (s *scripted) Live(phrases []string) []string { s.live = phrases; return nil }
func (s *scripted) Speaking() bool                 { return s.speaking }
func (s *scripted) Reset()                         {}
func (s *scripted) Reception() speech.Reception {
	if s.hears == nil {
		return speech.Reception{}
	}
	return s.hears(s.at)
}

// silence is a source of nothing.
type silence struct {
	at, end speech.Samples
	fail    error // instead of io.EOF
}

func (s *silence) Read() (speech.Block, error) {
	if s.at >= s.end && s.fail != nil {
		return speech.Block{}, s.fail
	}
	if s.at >= s.end {
		return speech.Block{}, io.EOF
	}
	b := speech.Block{At: s.at, PCM: make([]int16, speech.Frame)}
	s.at += speech.Frame
	return b, nil
}
func (s *silence) Anchor() time.Duration { return 0 }
func (s *silence) Close() error          { return nil }

// bench is a session with a scripted ear, a humming voice and a journal in memory.
type bench struct {
	*Session
	ears     *scripted
	store    *journal.Memory
	report   *reporter
	news     []string
	troubles []error
}

func (b *bench) News(text string)  { b.news = append(b.news, text) }
func (b *bench) Trouble(err error) { b.troubles = append(b.troubles, err) }

func newBench(t *testing.T, voice speech.Voice, seconds float64, words ...said) *bench {
	t.Helper()
	origin := narrator.MomentOf(time.Date(2000, 1, 1, 8, 0, 0, 0, time.UTC))
	b := &bench{ears: &scripted{words: map[speech.Samples]speech.Heard{}}, store: &journal.Memory{}}
	for _, w := range words {
		from := speech.Samples(w.at*speech.Rate) / speech.Frame * speech.Frame
		at := from + 50*speech.Frame
		b.ears.words[at-speech.Frame] = speech.Heard{Label: w.word, From: from, To: from + 30*speech.Frame, At: at, Score: 1, Sure: true}
	}
	b.report = &reporter{origin: origin, also: &troubleWatch{bench: b}}
	player := speech.NewPlayer()
	ahead := speech.NewAhead(func(speech.Settings) speech.Voice { return voice }, speech.DefaultSettings())
	t.Cleanup(func() { ahead.Close() })
	b.Session = &Session{
		Bay: narrator.NewBay(narrator.DefaultSettings()), Store: b.store, Words: procedures.DefaultWords(), Ears: b.ears,
		Source: &silence{end: speech.Samples(seconds * speech.Rate)}, Sink: &nowhere{feed: player}, Player: player, Watch: b.report,
		Speaker: NewSpeaker(ahead, player, b.report, true), Notes: &Notes{Memos: journal.NewMemos(t.TempDir())}, Origin: origin,
	}
	return b
}

// troubleWatch keeps troubles and drops the rest.
type troubleWatch struct{ bench *bench }

func (w *troubleWatch) Heard(narrator.Heard)                               {}
func (w *troubleWatch) Done(narrator.Moment, narrator.Outcome)             {}
func (w *troubleWatch) Says(narrator.Moment, narrator.Sentence, string)    {}
func (w *troubleWatch) Said(int64, narrator.Moment, narrator.Moment, bool) {}
func (w *troubleWatch) News(text string)                                   { w.bench.News(text) }
func (w *troubleWatch) Trouble(err error)                                  { w.bench.Trouble(err) }

func (b *bench) begin(t *testing.T) {
	t.Helper()
	if err := b.take(t.Context(), narrator.Start{At: b.Origin, Job: "2000-01-01-1", Procedure: "fan-belt.yaml", Text: fanBelt}); err != nil {
		t.Fatal(err)
	}
}

func TestWhatTheJournalRefusesDoesNotCount(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 40, said{10, "next"}, said{25, "next"})
	b.begin(t)
	full := errors.New("the disk is full")
	b.store.Refuse(full)
	source := b.Source.(*silence)
	source.end = 20 * speech.Rate
	if err := b.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	if step := b.Bay.Job().Step; step != 0 {
		t.Errorf("step %d after a word that the journal refused", step)
	}
	if len(b.troubles) == 0 || !errors.Is(b.troubles[0], full) {
		t.Errorf("troubles %v", b.troubles)
	}
	if !spoke(b, "does not count") {
		t.Errorf("said %+v", b.report.said())
	}
	b.store.Refuse(nil)
	source.end = 40 * speech.Rate
	if err := b.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	if step := b.Bay.Job().Step; step != 1 {
		t.Errorf("step %d once the journal takes words again", step)
	}
}

func spoke(b *bench, part string) bool {
	for _, s := range b.report.said() {
		if strings.Contains(s.Written, part) {
			return true
		}
	}
	return false
}

func TestEventsAreDurableBeforeTheyAreAnswered(t *testing.T) {
	var b *bench
	voice := voicetest.ScriptedVoice{Before: func(_ context.Context, text string) error {
		log, err := b.store.Log(t.Context(), "2000-01-01-1")
		if err != nil {
			return err
		}
		arrived := 0
		for _, e := range log {
			if e.Kind == narrator.Arrived {
				arrived++
			}
		}
		if strings.Contains(text, "Swap the belt") && arrived != 2 {
			t.Errorf("step 2 is spoken with %d arrivals in the journal", arrived)
		}
		return nil
	}}
	b = newBench(t, voice, 20, said{10, "next"})
	b.begin(t)
	if err := b.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	if b.Bay.Job().Step != 1 {
		t.Error("next was not obeyed")
	}
}

func TestAFailingVoiceDoesNotStopTheJob(t *testing.T) {
	broken := errors.New("no voice today")
	voice := voicetest.ScriptedVoice{Before: func(context.Context, string) error { return broken }}
	b := newBench(t, voice, 60, said{10, "next"}, said{20, "finish job"}, said{24, "yes"})
	b.begin(t)
	if err := b.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	if len(b.Bay.Jobs) != 1 || b.Bay.Jobs["2000-01-01-1"].Open() {
		t.Error("the job is not finished")
	}
	if len(b.troubles) == 0 || !errors.Is(b.troubles[0], broken) {
		t.Errorf("troubles %v", b.troubles)
	}
}

func TestAWordCutsWhatIsBeingSaid(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 30, said{5, "what can i say"}, said{8, "stop"})
	b.begin(t)
	if err := b.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	last := b.report.said()[len(b.report.said())-1]
	if !last.Interrupted || last.EndedS < 8.5 || last.EndedS > 8.52 { // decided 0.5 s behind the word's start, faded within 10 ms
		t.Errorf("last said %+v", last)
	}
}

func TestTheEarsKnowWhichWordsCount(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 20, said{5, "finish job"})
	b.begin(t)
	live := func(word string) bool {
		return strings.Contains(" "+strings.Join(b.ears.live, " | ")+" ", " "+word+" ")
	}
	if !live("next") || live("yes") {
		t.Errorf("live at first: %v", b.ears.live)
	}
	for range 7 * speech.Rate / speech.Frame {
		block, _ := b.Source.Read()
		if err := b.step(t.Context(), block); err != nil {
			t.Fatal(err)
		}
	}
	if !live("yes") {
		t.Errorf("live behind the question: %v", b.ears.live)
	}
}

// upTo runs the session's blocks up to a second.
func (b *bench) upTo(t *testing.T, seconds float64) {
	t.Helper()
	for b.read < speech.Samples(seconds*speech.Rate) {
		block, err := b.Source.Read()
		if err != nil {
			t.Fatal(err)
		}
		if err := b.step(t.Context(), block); err != nil {
			t.Fatal(err)
		}
	}
}

func TestANoteThatTheJournalRefusedIsTriedAgain(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 20, said{5, "take a note"})
	b.begin(t)
	b.ears.speaking = true
	b.upTo(t, 8)
	b.ears.speaking = false // the note ends three seconds later
	b.store.Refuse(errors.New("the disk is full"))
	b.upTo(t, 12.5)
	if len(b.Bay.Job().Memos()) != 0 {
		t.Fatal("a note counts that the journal refused")
	}
	b.store.Refuse(nil)
	b.upTo(t, 14.5)
	if memos := b.Bay.Job().Memos(); len(memos) != 1 || b.Bay.Dialogue.Recording {
		t.Errorf("memos %+v, recording %v", memos, b.Bay.Dialogue.Recording)
	}
}

func TestANoteIsKeptWhenTheMicrophoneIsLost(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 8, said{5, "take a note"})
	b.begin(t)
	b.ears.speaking = true
	b.Source.(*silence).fail = speech.ErrDeviceLost
	if err := b.Run(t.Context(), nil); !errors.Is(err, speech.ErrDeviceLost) {
		t.Errorf("ended with %v", err)
	}
	if memos := b.Bay.Job().Memos(); len(memos) != 1 || memos[0].Length < 2*narrator.Second {
		t.Errorf("memos %+v, said %+v, troubles %v", memos, b.report.said(), b.troubles)
	}
}
