package speech

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// room drives a gauge in steps of 100 ms, as the ears do.
type room struct {
	gauge
	turned  []Samples // when the verdict or its cause changed
	verdict []Verdict
}

func newRoom() *room { return &room{gauge: gauge{limits: DefaultReceptionLimits(), floor: -60}} }

const roomStep = Rate / 10

// pass lets time pass over a noise floor. pcm is what every block holds.
func (r *room) pass(d time.Duration, floor float64, pcm int16) {
	block := Block{PCM: make([]int16, Frame)}
	for i := range block.PCM {
		block.PCM[i] = pcm
	}
	for end := r.read + SamplesIn(d); r.read < end; {
		for range roomStep / Frame {
			r.hear(block)
		}
		before, cause := r.gauge.verdict, r.cause
		r.step(floor, roomStep, false)
		if r.gauge.verdict != before || r.cause != cause {
			r.turned, r.verdict = append(r.turned, r.read), append(r.verdict, r.gauge.verdict)
		}
	}
}

// speak says a word of half a second at a level.
func (r *room) speak(level float64) { r.word(r.read-Rate/2, r.read, level, true) }

// However levels jump, verdicts are no closer together than the limits allow:
// to get worse takes Worse, to get better Better, and back to where it was
// both.
func TestVerdictsDoNotChatter(t *testing.T) {
	turns := 0
	rapid.Check(t, func(t *rapid.T) {
		r := newRoom()
		l := r.limits
		for range rapid.IntRange(1, 60).Draw(t, "stretches") {
			if rapid.Bool().Draw(t, "word") {
				r.speak(rapid.Float64Range(-70, -10).Draw(t, "level"))
			}
			r.pass(time.Duration(rapid.IntRange(1, 200).Draw(t, "tenths"))*100*time.Millisecond,
				rapid.Float64Range(-75, -10).Draw(t, "floor"), int16(rapid.SampledFrom([]int{0, 3, 32767}).Draw(t, "pcm")))
		}
		for i := 1; i < len(r.turned); i++ {
			apart := r.turned[i] - r.turned[i-1]
			if r.verdict[i-1] != Unknown && apart < SamplesIn(l.Worse) {
				t.Fatalf("%q came %v after %q", r.verdict[i], apart.Duration(), r.verdict[i-1])
			}
			if r.verdict[i] == Good && r.verdict[i-1] != Unknown && apart < SamplesIn(l.Better) {
				t.Fatalf("good again %v after %q", apart.Duration(), r.verdict[i-1])
			}
		}
		turns += len(r.turned)
	})
	if turns == 0 {
		t.Error("no verdict ever turned: nothing was tested")
	}
}

// A level that swings about a limit turns the verdict once.
func TestNoiseAboutTheLimitTurnsTheVerdictOnce(t *testing.T) {
	r := newRoom()
	r.speak(-30)
	r.pass(20*time.Second, -60, 3)
	r.turned, r.verdict = nil, nil
	edge := -30 - r.limits.Poor
	for range 50 {
		r.pass(4*time.Second, edge+1, 3)
		r.pass(12*time.Second, edge-r.limits.Slack+0.5, 3) // quieter than where it turned, not than where it turns back
	}
	if len(r.turned) != 1 || r.verdict[0] != Poor {
		t.Errorf("verdicts %v at %v", r.verdict, r.turned)
	}
}

func TestASilentMicrophone(t *testing.T) {
	for name, c := range map[string]struct {
		live func(r *room)
		want Verdict
	}{
		"muted from the start":                  {func(r *room) { r.pass(34*time.Second, -90, 0) }, Deaf},
		"muted later":                           {func(r *room) { r.pass(20*time.Second, -60, 3); r.pass(34*time.Second, -90, 0) }, Deaf},
		"muted and on again":                    {func(r *room) { r.pass(40*time.Second, -90, 0); r.speak(-30); r.pass(11*time.Second, -60, 3) }, Good},
		"quiet for less":                        {func(r *room) { r.pass(29*time.Second, -90, 0) }, Unknown},
		"a noise gate":                          {func(r *room) { r.gated(3); r.pass(time.Hour, -90, 0) }, Unknown},
		"a noise gate that a word came through": {func(r *room) { r.gated(3); r.speak(-30); r.pass(10*time.Minute, -90, 0) }, Good},
		"a microphone once taken for gated":     {func(r *room) { r.gated(1); r.pass(time.Minute, -60, 3); r.pass(34*time.Second, -90, 0) }, Deaf},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRoom()
			c.live(r)
			if r.gauge.verdict != c.want || c.want == Deaf && r.cause != NoSound {
				t.Errorf("%q %q, want %q", r.gauge.verdict, r.cause, c.want)
			}
		})
	}
}

// gated is a microphone that rests between sounds.
func (r *room) gated(times int) {
	for range times {
		r.pass(time.Second, -50, 3)
		r.pass(5*time.Second, -90, 0)
	}
	r.pass(time.Second, -50, 3)
}

func TestWordsAreForgotten(t *testing.T) {
	r := newRoom()
	r.speak(-30)
	r.pass(14*time.Minute, -60, 3)
	if got := r.measure(); got.Words != 1 || got.Verdict != Good {
		t.Errorf("after 14 minutes %+v", got)
	}
	r.pass(2*time.Minute, -60, 3)
	if got := r.measure(); got.Words != 0 || got.Verdict != Unknown || got.SNR != 0 {
		t.Errorf("after 16 minutes %+v", got)
	}
}

// Our own voice decides nothing, however loud what is left of it.
func TestOurOwnVoiceIsNoNoise(t *testing.T) {
	r := newRoom()
	r.speak(-30)
	r.pass(time.Second, -60, 3)
	for range 600 {
		r.step(-20, roomStep, true)
	}
	if r.gauge.verdict != Good || r.gauge.floor != -60 {
		t.Errorf("%q over %v dBFS", r.gauge.verdict, r.gauge.floor)
	}
}
