package main

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/speech"
	"stepcaller/speech/voicetest"
)

// told counts a sentence among those that were said, and tells when it began first.
func told(b *bench, part string) (times int, first float64) {
	first = -1
	for _, s := range b.report.said() {
		if strings.Contains(s.Written, part) {
			if times++; times == 1 {
				first = s.AtS
			}
		}
	}
	return times, first
}

const moveCloser = "Move closer"

// hearsFrom is a script of receptions: each holds from its second on.
func hearsFrom(receptions map[float64]speech.Reception) func(speech.Samples) speech.Reception {
	return func(at speech.Samples) speech.Reception {
		best, r := -1.0, speech.Reception{Floor: -60}
		for from, one := range receptions {
			if s := at.Duration().Seconds(); from <= s && from > best {
				best, r = from, one
			}
		}
		return r
	}
}

var (
	wellHeard   = speech.Reception{Verdict: speech.Good, Floor: -60.04, Speech: -30, SNR: 30.04, Words: 5}
	poorlyHeard = speech.Reception{Verdict: speech.Poor, Cause: speech.TooNoisy, Floor: -33, Speech: -30, SNR: 3, Words: 5}
)

func TestAPoorReceptionIsSaidAndNoted(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 120, said{30, "next"})
	b.ears.hears = hearsFrom(map[float64]speech.Reception{15: wellHeard, 60: poorlyHeard})
	b.begin(t)
	if err := b.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	if n, at := told(b, moveCloser); n != 1 || at < 60 || at > 61 {
		t.Errorf("said %d times, first at %v s", n, at)
	}
	var seconds []float64
	for _, r := range b.Bay.Job().Receptions() {
		seconds = append(seconds, math.Round(r.At.Since(b.Origin).Seconds()))
	}
	// Heard well at first, a step finished (measured every ten seconds), poor.
	if want := []float64{15, 35, 60}; !slices.Equal(seconds, want) {
		t.Errorf("noted at %v, want %v", seconds, want)
	}
	if r := b.Bay.Job().Receptions()[0]; r.Floor != -60 || r.SNR != 30 {
		t.Errorf("noted %+v, not to the tenth", r)
	}
}

func TestNothingIsSaidIntoANoteOrAPause(t *testing.T) {
	for name, c := range map[string]struct {
		words []said
		free  float64 // when the warning may be said
	}{
		"note":  {[]said{{50, "take a note"}}, 58}, // it ends after 8 s without a word
		"pause": {[]said{{50, "hold the job"}, {55, "parts"}, {80, "carry on"}}, 80},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, voicetest.ScriptedVoice{}, 130, c.words...)
			b.ears.hears = hearsFrom(map[float64]speech.Reception{15: wellHeard, 53: poorlyHeard})
			b.begin(t)
			if err := b.Run(t.Context(), nil); err != nil {
				t.Fatal(err)
			}
			if n, at := told(b, moveCloser); n != 1 || at < c.free || at > c.free+25 {
				t.Errorf("said %d times, first at %v s", n, at)
			}
		})
	}
}

func TestNothingIsSaidWhileSomebodySpeaks(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 60)
	b.ears.hears = hearsFrom(map[float64]speech.Reception{15: poorlyHeard})
	b.ears.speaking = true
	b.begin(t)
	if err := b.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	if n, at := told(b, moveCloser); n != 0 {
		t.Errorf("said %d times, first at %v s", n, at)
	}
}

// What the journal does not take of the levels is no matter for the technician, and is not tried every block.
func TestALevelThatTheJournalRefusesIsNotSaid(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 100)
	b.ears.hears = hearsFrom(map[float64]speech.Reception{15: poorlyHeard})
	b.begin(t)
	b.store.Refuse(errors.New("the disk is full"))
	if err := b.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	if n, _ := told(b, "did not take"); n != 0 {
		t.Errorf("said %+v", b.report.said())
	}
	levels := 0
	for _, err := range b.troubles {
		if strings.Contains(err.Error(), "how well words are heard") {
			levels++
		}
	}
	if levels < 1 || levels > 2 {
		t.Errorf("%d troubles in 100 s: %v", levels, b.troubles)
	}
}

// The noise rises in the middle of a real job: the technician is warned before words are missed.
func TestNoiseThatRisesIsToldBeforeWordsAreMissed(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	who := technicians[0]
	var words []said
	for at := 40.0; at < 190; at += 8 {
		words = append(words, said{at, []string{"repeat", "tool list", "part list"}[len(words)%3]})
	}
	pcm := who.track(t, 200, words...)
	noise := rand.New(rand.NewPCG(3, 4))
	var before float64
	for i := range pcm { // from 60 s on, 60 dB in 130 s
		db := -70 + 60*max(0, float64(i)/speech.Rate-60)/130
		before = 0.6*before + noise.NormFloat64() // duller than white, as a compressor is
		v := float64(pcm[i]) + 32768*math.Pow(10, db/20)*0.8*before
		pcm[i] = int16(max(-32768, min(32767, v)))
	}
	r, _ := rehearseCommand(t, writeProcedure(t, fanBelt), writeTrack(t, pcm))
	warned := -1.0
	for _, s := range r.Said {
		if strings.Contains(s.Written, moveCloser) && warned < 0 {
			warned = s.AtS
		}
	}
	missed, obeyed := -1.0, 0
	for _, w := range words {
		if slices.ContainsFunc(r.Heard, func(h HeardWord) bool { return math.Abs(h.AtS-w.at) < 0.5 && h.Word == w.word && h.Sure }) {
			obeyed++
		} else if missed < 0 {
			missed = w.at
		}
	}
	t.Logf("warned at %.1f s; %d of %d words obeyed, the first missed at %v s; %+v", warned, obeyed, len(words), missed, r.Hearing)
	if warned < 0 || missed < warned {
		t.Errorf("warned at %v s, the first word was missed at %v s", warned, missed)
	}
	if n := len(r.Hearing); n < 2 || n > 8 || r.Hearing[n-1].Verdict == "good" {
		t.Errorf("the sheet tells %+v", r.Hearing)
	}
}

func TestEveryVerdictAndCauseHasItsName(t *testing.T) {
	for _, v := range []speech.Verdict{speech.Unknown, speech.Good, speech.Poor, speech.Deaf} {
		for _, c := range []speech.Cause{speech.NoCause, speech.TooNoisy, speech.TooWeak, speech.TooLoud, speech.NoSound} {
			r := receptionAt(narrator.Moment(1), speech.Reception{Verdict: v, Cause: c})
			if string(r.Verdict) != string(v) || r.Cause != string(c) {
				t.Errorf("%q %q became %q %q", v, c, r.Verdict, r.Cause)
			}
		}
	}
}
