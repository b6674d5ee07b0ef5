package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/procedures"
	"stepcaller/speech"
	"stepcaller/speech/voicetest"
)

// answer is what is said one second behind a prompt, and what the ears take it for.
type answer struct {
	label string // "" for no phrase
	long  time.Duration
	level float64 // of full scale; 0 for nothing said at all
	more  bool    // another word follows within the pause
}

func good(label string) answer { return answer{label: label, long: 400 * time.Millisecond, level: 0.3} }

var mumble = answer{long: 60 * time.Millisecond, level: 0.3}

// script is a technician who answers prompts as written, and the ears that hear it.
type script struct {
	sitting *Sitting
	answers []answer
	given   int
	from    speech.Samples // of the answer at hand
	open    bool           // an answer is at hand
	loud    bool
	said    []string // what the program said
	kept    []speech.Take
	refuse  error
}

// Read is a room with a hiss in which the technician speaks.
func (s *script) Read() (speech.Block, error) {
	at := s.sitting.read
	b := speech.Block{At: at, PCM: make([]int16, speech.Frame)}
	if s.sitting.opened && !s.open && s.sitting.answer == nil {
		if s.given == len(s.answers) {
			return b, io.EOF
		}
		s.open, s.from = true, at+speech.Rate
	}
	s.loud = false
	for i := range b.PCM {
		b.PCM[i] = int16(i%7) - 3
		if a := s.at(); s.open && at >= s.from && at < s.from+speech.SamplesIn(a.long) {
			s.loud = a.level > 0
			b.PCM[i] += int16(a.level * 32767 * math.Sin(float64(i)*math.Pi/20) * 0.999)
			if a.level > 1 {
				b.PCM[i] = math.MaxInt16
			}
		}
	}
	return b, nil
}

func (s *script) at() answer {
	if s.given < len(s.answers) {
		return s.answers[s.given]
	}
	return answer{}
}

// Hear decides 200 ms behind the speech.
func (s *script) Hear(b speech.Block, _ []int16) []speech.Heard {
	a := s.at()
	if !s.open {
		return nil
	}
	if a.level == 0 {
		if !s.sitting.opened || s.sitting.asked == askedMost && b.At-s.sitting.since > answerWait-2*speech.Frame {
			s.open = false
			s.given++
		}
		return nil
	}
	to := s.from + speech.SamplesIn(a.long)
	if b.At < to+3200 {
		return nil
	}
	s.given++
	s.open = a.more
	if a.more {
		s.from = b.At + speech.Frame
	}
	return []speech.Heard{{Label: a.label, From: to - speech.SamplesIn(a.long), To: to, At: b.At, Score: 1, Sure: a.label != ""}}
}

func (s *script) Speaking() bool                                     { return s.loud }
func (s *script) Anchor() time.Duration                              { return 0 }
func (s *script) Close() error                                       { return nil }
func (s *script) Heard(narrator.Heard)                               {}
func (s *script) Done(narrator.Moment, narrator.Outcome)             {}
func (s *script) Said(int64, narrator.Moment, narrator.Moment, bool) {}
func (s *script) News(string)                                        {}
func (s *script) Trouble(err error)                                  { s.said = append(s.said, err.Error()) }
func (s *script) Says(_ narrator.Moment, t narrator.Sentence, _ string) {
	s.said = append(s.said, t.Text)
}

// sit runs a sitting over a script and returns what was kept.
func sit(t *testing.T, prompts []string, s *script) (kept int, err error) {
	t.Helper()
	player := speech.NewPlayer()
	ahead := speech.NewAhead(func(speech.Settings) speech.Voice { return voicetest.ScriptedVoice{} }, speech.DefaultSettings())
	t.Cleanup(func() { ahead.Close() })
	s.sitting = &Sitting{
		Ears: s, Source: s, Sink: &nowhere{feed: player}, Player: player, Speaker: NewSpeaker(ahead, player, s, true), Prompts: prompts,
		Means: map[string]string{"weiter": "next"},
		Keep: func(take speech.Take) error {
			s.kept = append(s.kept, take)
			return s.refuse
		},
	}
	return s.sitting.Run(t.Context())
}

func TestASittingAsksAndKeeps(t *testing.T) {
	for _, c := range []struct {
		name    string
		prompts []string
		answers []answer
		kept    []string
		said    []string
	}{
		{"each word once", []string{"next", "repeat"}, []answer{good("next"), good("repeat")},
			[]string{"next", "repeat"}, []string{"Say: next.", "Say: repeat."}},
		{"whatever it is taken for", []string{"next"}, []answer{good("")}, []string{"next"}, []string{"Say: next."}},
		{"an own word by its command", []string{"weiter"}, []answer{good("")}, []string{"weiter"}, []string{"Your word for: next."}},
		{"another phrase is asked for again", []string{"next"}, []answer{good("repeat"), good("next")},
			[]string{"next"}, []string{"Say: next.", "Again, that sounded like repeat. Say: next."}},
		{"said like that twice, it is so", []string{"next"}, []answer{good("repeat"), good("repeat")},
			[]string{"next"}, []string{"Say: next.", "Again, that sounded like repeat. Say: next."}},
		{"too short", []string{"next"}, []answer{mumble, good("next")},
			[]string{"next"}, []string{"Say: next.", "Again, too short. Say: next."}},
		{"too quiet", []string{"next"}, []answer{{"", 400 * time.Millisecond, 0.00005, false}, good("next")},
			[]string{"next"}, []string{"Say: next.", "Again, too quiet. Say: next."}},
		{"clipped", []string{"next"}, []answer{{"next", 400 * time.Millisecond, 1.5, false}, good("next")},
			[]string{"next"}, []string{"Say: next.", "Again, too loud for the microphone. Say: next."}},
		{"in two pieces", []string{"previous step"}, []answer{{"", 300 * time.Millisecond, 0.3, true}, good("stop listening"), good("previous step")},
			[]string{"previous step"}, []string{"Say: previous step.", "Again, in one go. Say: previous step."}},
		{"stop keeps what there is", []string{"next", "repeat", "torque"}, []answer{good("next"), good("stop")},
			[]string{"next"}, []string{"Say: next.", "Say: repeat."}},
		{"stop is a word like any other when it is asked for", []string{"stop", "next"}, []answer{good("stop"), good("next")},
			[]string{"stop", "next"}, []string{"Say: stop.", "Say: next."}},
		{"no answer at first", []string{"next"}, []answer{{}, good("next")}, []string{"next"}, []string{"Say: next.", "Say: next."}},
		{"nobody there", []string{"next"}, []answer{{}, {}, {}, {}}, nil, []string{"Say: next.", "Say: next.", "Say: next.", "I hear nothing."}},
		{"what is never answered well is left", []string{"next", "repeat"}, slices.Concat(slices.Repeat([]answer{mumble}, refusedMost), []answer{good("repeat")}),
			[]string{"repeat"}, slices.Concat([]string{"Say: next."}, slices.Repeat([]string{"Again, too short. Say: next."}, refusedMost-1), []string{"We leave that one. Say: repeat."})},
		{"a bad answer is an answer: somebody is there", []string{"next"}, []answer{mumble, mumble, mumble, {}, good("next")},
			[]string{"next"}, []string{"Say: next.", "Again, too short. Say: next.", "Again, too short. Say: next.", "Again, too short. Say: next.", "Say: next."}},
		{"the track ends", []string{"next", "repeat"}, []answer{good("next")}, []string{"next"}, []string{"Say: next.", "Say: repeat."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := &script{answers: c.answers}
			n, err := sit(t, c.prompts, s)
			if err != nil {
				t.Fatal(err)
			}
			var kept []string
			for _, take := range s.kept {
				kept = append(kept, take.Label)
				if err := take.Check(); err != nil {
					t.Errorf("take of %q: %v", take.Label, err)
				}
				if long := (take.To - take.From).Duration(); long != 400*time.Millisecond {
					t.Errorf("take of %q lasts %v", take.Label, long)
				}
			}
			if !slices.Equal(kept, c.kept) || n != len(c.kept) {
				t.Errorf("kept %d: %q, want %q", n, kept, c.kept)
			}
			if !slices.Equal(s.said, c.said) {
				t.Errorf("said %q, want %q", s.said, c.said)
			}
		})
	}
}

func TestASittingTellsHowManyAreLeft(t *testing.T) {
	s := &script{}
	var prompts []string
	for i := range 21 {
		prompts = append(prompts, []string{"next", "repeat"}[i%2])
		s.answers = append(s.answers, good(prompts[i]))
	}
	if n, err := sit(t, prompts, s); n != 21 || err != nil {
		t.Fatalf("kept %d, %v", n, err)
	}
	var told []string
	for _, text := range s.said {
		if strings.Contains(text, "to go") {
			told = append(told, text)
		}
	}
	if !slices.Equal(told, []string{"20 to go. Say: repeat.", "10 to go. Say: repeat."}) {
		t.Errorf("told %q", told)
	}
}

func TestATakeThatCannotBeKeptEndsTheSitting(t *testing.T) {
	full := errors.New("the disk is full")
	s := &script{answers: []answer{good("next"), good("next")}, refuse: full}
	if n, err := sit(t, []string{"next", "next"}, s); n != 0 || !errors.Is(err, full) {
		t.Errorf("kept %d, %v", n, err)
	}
	if !slices.Contains(s.said, "The take could not be kept.") {
		t.Errorf("said %q", s.said)
	}
}

func TestALostMicrophoneEndsTheSittingWithItsTakes(t *testing.T) {
	s := &script{answers: []answer{good("next"), good("next")}}
	lost := &losing{script: s}
	player := speech.NewPlayer()
	ahead := speech.NewAhead(func(speech.Settings) speech.Voice { return voicetest.ScriptedVoice{} }, speech.DefaultSettings())
	defer ahead.Close()
	s.sitting = &Sitting{Ears: s, Source: lost, Sink: &nowhere{feed: player}, Player: player, Speaker: NewSpeaker(ahead, player, s, true),
		Prompts: []string{"next", "next"}, Keep: func(take speech.Take) error { s.kept = append(s.kept, take); return nil }}
	if n, err := s.sitting.Run(t.Context()); n != 1 || !errors.Is(err, speech.ErrDeviceLost) {
		t.Errorf("kept %d, %v", n, err)
	}
}

// losing is a script whose microphone goes after the first take.
type losing struct{ *script }

func (l *losing) Read() (speech.Block, error) {
	if len(l.kept) > 0 {
		return speech.Block{}, fmt.Errorf("%w: unplugged", speech.ErrDeviceLost)
	}
	return l.script.Read()
}

func TestASittingEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	s := &script{answers: []answer{good("next")}}
	player := speech.NewPlayer()
	ahead := speech.NewAhead(func(speech.Settings) speech.Voice { return voicetest.ScriptedVoice{} }, speech.DefaultSettings())
	defer ahead.Close()
	s.sitting = &Sitting{Ears: s, Source: s, Sink: &nowhere{feed: player}, Player: player, Speaker: NewSpeaker(ahead, player, s, true), Prompts: []string{"next"}}
	if _, err := s.sitting.Run(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("ended with %v", err)
	}
}

func TestPromptsAskEveryWordAlikeOften(t *testing.T) {
	all := teachable(procedures.DefaultWords())
	if all[0] != "next" || len(all) != 38 {
		t.Fatalf("%d phrases, the first %q", len(all), all[0])
	}
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfNDistinct(rapid.SampledFrom(all), 1, 20, rapid.ID[string]).Draw(t, "words")
		have := rapid.SliceOfN(rapid.SampledFrom(words), 0, 5).Draw(t, "have")
		seed := rapid.Uint64().Draw(t, "seed")
		var takes []speech.Take
		want := map[string]int{}
		for _, w := range words {
			want[w] = 3
		}
		for _, w := range have {
			takes = append(takes, speech.Take{Label: w})
			want[w] = max(0, want[w]-1)
		}
		prompts := promptsFor(words, 3, takes, seed)
		for _, p := range prompts {
			want[p]--
		}
		for w, n := range want {
			if n != 0 {
				t.Errorf("%q: %d too few", w, n)
			}
		}
		if len(have) == 0 && len(words) > 1 {
			for i := range len(prompts) - 1 {
				if prompts[i] == prompts[i+1] {
					t.Errorf("%q twice in a row", prompts[i])
				}
			}
		}
		if again := promptsFor(words, 3, takes, seed); !slices.Equal(again, prompts) {
			t.Error("the same seed gave another order")
		}
	})
}
