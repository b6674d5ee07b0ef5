package narrator_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
)

// hearing tells the bay of a reception at a second, lets what it says be spoken, and returns it.
func (r *rig) hearing(seconds float64, verdict narrator.Verdict, cause string) string {
	o := r.take(narrator.Reception{At: at(seconds), Verdict: verdict, Cause: cause, Floor: -33, Speech: -30, SNR: 3})
	r.spoken(seconds + 2)
	return text(o)
}

const (
	hardToHear = "I can't hear you well. Move closer."
	clips      = "The microphone is too loud: it clips."
	noSound    = "The microphone gives no sound."
)

// settled is a rig whose first step has been read to its end.
func settled(t *testing.T) *rig {
	r := newRig(t)
	r.spoken(10)
	return r
}

func TestABadReceptionIsToldOnce(t *testing.T) {
	type told struct {
		at      float64
		verdict narrator.Verdict
		cause   string
		says    string
	}
	for name, story := range map[string][]told{
		"while it lasts": {
			{20, "good", "", ""}, {60, "poor", "noise", hardToHear}, {70, "poor", "noise", ""}, {80, "deaf", "noise", ""}, {90, "poor", "weak", ""},
			{3000, "poor", "noise", ""},
		},
		"not again when it was good for a moment": {
			{60, "poor", "noise", hardToHear}, {70, "good", "", ""}, {80, "poor", "noise", ""}, {659, "poor", "noise", ""}, {660, "poor", "noise", hardToHear},
			{2000, "poor", "noise", ""},
		},
		"again when it was good for a minute": {
			{60, "poor", "noise", hardToHear}, {70, "good", "", ""}, {100, "good", "", ""}, {130, "good", "", ""}, {140, "poor", "noise", hardToHear},
		},
		"each cause in its own words": {
			{60, "poor", "noise", hardToHear}, {70, "poor", "clipped", clips}, {80, "deaf", "silent", noSound}, {90, "poor", "weak", ""}, {100, "poor", "clipped", ""},
		},
		"nobody has spoken yet": {{60, "", "", ""}, {900, "", "", ""}},
	} {
		t.Run(name, func(t *testing.T) {
			r := settled(t)
			for _, s := range story {
				if got := r.hearing(s.at, s.verdict, s.cause); got != s.says {
					t.Errorf("at %v s, %q %q: said %q, want %q", s.at, s.verdict, s.cause, got, s.says)
				}
			}
		})
	}
}

// The warning waits for its time: it never talks into something, nor to somebody who does not work.
func TestAWarningWaits(t *testing.T) {
	poor := func(r *rig, seconds float64) string {
		return r.hearing(seconds, narrator.HearsPoorly, narrator.CauseNoise)
	}
	for name, c := range map[string]struct{ busy, free func(r *rig) }{
		"for the sentence": {
			func(r *rig) {
				r.take(narrator.Heard{Word: "repeat", From: at(50), To: at(51), At: at(51), Score: 1, Sure: true})
			},
			func(r *rig) {
				for id := range int64(20) {
					r.take(narrator.Spoken{Sentence: id, At: at(65)})
				}
			},
		},
		"for the note":         {func(r *rig) { r.say(50, "take a note") }, func(r *rig) { r.take(narrator.NoteEnded{At: at(65)}); r.spoken(66) }},
		"for the pause":        {func(r *rig) { r.say(50, "hold the job"); r.say(52, "parts") }, func(r *rig) { r.say(65, "carry on") }},
		"for the answer":       {func(r *rig) { r.say(58, "help") }, func(r *rig) { r.say(62, "no") }},
		"until it listens":     {func(r *rig) { r.say(50, "stop listening") }, func(r *rig) { r.say(65, "start listening") }},
		"for a job to be open": {func(r *rig) { r.say(50, "finish job"); r.say(52, "yes"); r.say(54, "yes") }, func(r *rig) { r.open(65); r.spoken(68) }},
	} {
		t.Run(name, func(t *testing.T) {
			r := settled(t)
			c.busy(r)
			last := r.last
			if got := text(r.take(narrator.Reception{At: at(60), Verdict: narrator.HearsPoorly, Cause: narrator.CauseNoise})); got != "" {
				t.Errorf("said %q", got)
			}
			r.last = last
			c.free(r)
			if got := poor(r, 70); got != hardToHear {
				t.Errorf("afterwards said %q", got)
			}
		})
	}
}

func TestReceptionsAreNotedSparsely(t *testing.T) {
	r := settled(t)
	for second := 20.0; second <= 1810; second += 10 {
		switch second {
		case 600, 1500:
			r.say(second-5, "next")
		}
		verdict, cause := narrator.HearsWell, ""
		if second >= 900 && second < 1200 {
			verdict, cause = narrator.HearsPoorly, narrator.CauseNoise
		}
		r.hearing(second, verdict, cause)
	}
	var seconds []float64
	for _, got := range r.job().Receptions() {
		seconds = append(seconds, got.At.Since(dawn).Seconds())
		if got.Floor != -33 || got.Speech != -30 || got.SNR != 3 {
			t.Errorf("noted %+v", got)
		}
	}
	// First heard, step 1 done, poor, good again, step 2 done; ten minutes later is beyond the end.
	if want := []float64{20, 600, 900, 1200, 1500}; !slices.Equal(seconds, want) {
		t.Errorf("noted at %v, want %v", seconds, want)
	}
	for _, e := range r.log {
		if e.Kind == narrator.Hearing && e.Job == "" {
			t.Errorf("the bay's own log holds %+v", e)
		}
	}
}

func TestAPauseIsNotMeasured(t *testing.T) {
	r := settled(t)
	r.hearing(20, narrator.HearsWell, "")
	r.say(30, "hold the job")
	r.say(32, "parts")
	r.hearing(40, narrator.HearsPoorly, narrator.CauseNoise)
	r.hearing(4000, narrator.HearsPoorly, narrator.CauseNoise)
	if got := r.job().Receptions(); len(got) != 1 {
		t.Errorf("noted %+v", got)
	}
}

// Whatever the receptions, no warning is repeated within ten minutes but where hearing was good for a minute in between.
func TestWarningsAreRare(t *testing.T) {
	warned := 0
	rapid.Check(t, func(t *rapid.T) {
		r := newRig(t)
		r.spoken(1)
		last, good := map[string]float64{}, map[string]float64{}
		seconds, since := 10.0, -1.0
		for range rapid.IntRange(1, 150).Draw(t, "receptions") {
			seconds += float64(rapid.IntRange(1, 40).Draw(t, "pause"))
			verdict := rapid.SampledFrom([]narrator.Verdict{"", "good", "good", "poor", "deaf"}).Draw(t, "verdict")
			cause := ""
			if verdict == narrator.HearsPoorly || verdict == narrator.IsDeaf {
				cause = rapid.SampledFrom([]string{"noise", "weak", "clipped", "silent"}).Draw(t, "cause")
			}
			if verdict != narrator.HearsWell {
				since = -1
			} else if since < 0 {
				since = seconds
			}
			if since >= 0 {
				for words := range last {
					good[words] = max(good[words], seconds-since)
				}
			}
			said := r.hearing(seconds, verdict, cause)
			if said == "" {
				continue
			}
			if before, ok := last[said]; ok && seconds-before < 600 && good[said] < 60 {
				t.Fatalf("%q at %v and %v s, good for %v s in between", said, before, seconds, good[said])
			}
			warned++
			last[said], good[said] = seconds, 0
		}
	})
	if warned == 0 {
		t.Error("nobody was warned: nothing was tested")
	}
}

// A journal of before the ears were measured tells of no reception.
func TestAJobWithoutReceptions(t *testing.T) {
	r := newRig(t)
	r.say(10, "next")
	if got := r.job().Receptions(); got != nil {
		t.Errorf("receptions %+v", got)
	}
	if strings.Contains(text(r.last), "hear") {
		t.Errorf("said %q", text(r.last))
	}
}
