package speech_test

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os/exec"
	"slices"
	"strconv"
	"testing"

	"stepcaller/speech"
	"stepcaller/speech/voicetest"
)

// spoken is text from a synthetic voice that took no part in training, at
// Rate, without the silence around it.
func spoken(t testing.TB, voice, text string) []int16 {
	t.Helper()
	program := "espeak-ng"
	args := []string{"--stdout", "-v", voice, "-s", "160", text}
	if voice == "awb" || voice == "kal16" || voice == "rms" {
		program, args = "flite", []string{"-voice", voice, "-t", text, "-o", "/dev/stdout"}
	}
	voicetest.Need(t, program)
	out, err := exec.Command(program, args...).Output()
	if err != nil {
		t.Fatalf("%s %q: %v", program, args, err)
	}
	pcm, err := speech.DecodeWAV(bytes.NewReader(out))
	if err != nil {
		t.Fatalf("%s %q: %v", program, args, err)
	}
	top := int16(0)
	for _, v := range pcm {
		top = max(top, v)
	}
	loud := func(v int16) bool { return v > top/50 }
	first := slices.IndexFunc(pcm, loud)
	last := len(pcm)
	for last > first && !loud(pcm[last-1]) {
		last--
	}
	return pcm[first:last]
}

// track is sound being put together.
type track struct {
	pcm []float64
	r   *rand.Rand
}

// newTrack is seconds of a quiet room: noise of -70 dBFS.
func newTrack(seconds float64, seed uint64) *track {
	t := &track{pcm: make([]float64, int(seconds*speech.Rate)), r: rand.New(rand.NewPCG(seed, 7))}
	t.noise(-70)
	return t
}

// noise adds white noise of the level in dBFS.
func (t *track) noise(db float64) {
	k := math.Pow(10, db/20)
	for i := range t.pcm {
		t.pcm[i] += k * t.r.NormFloat64()
	}
}

// put adds pcm at sample at, its active level brought to db dBFS, and returns
// the sample after it.
func (t *track) put(at int, pcm []int16, db float64) int {
	k := math.Pow(10, db/20) / activeLevel(pcm)
	for i, v := range pcm {
		if at+i < len(t.pcm) {
			t.pcm[at+i] += k * float64(v) / 32768
		}
	}
	return at + len(pcm)
}

// activeLevel is the root mean square of the louder frames.
func activeLevel(pcm []int16) float64 {
	var top, sum float64
	var frames []float64
	for i := 0; i+speech.Frame <= len(pcm); i += speech.Frame {
		var e float64
		for _, v := range pcm[i : i+speech.Frame] {
			e += float64(v) * float64(v) / (32768 * 32768)
		}
		frames = append(frames, e/speech.Frame)
		top = max(top, e/speech.Frame)
	}
	n := 0.0
	for _, e := range frames {
		if e > top/1600 {
			sum, n = sum+e, n+1
		}
	}
	return math.Sqrt(sum / max(1, n))
}

func (t *track) samples() []int16 {
	out := make([]int16, len(t.pcm))
	for i, v := range t.pcm {
		out[i] = int16(max(-32768, min(32767, math.Round(v*32768))))
	}
	return out
}

// listen gives the ears everything and collects what they heard. played may be
// nil.
func listen(e *speech.Ears, pcm, played []int16) (heard []speech.Heard) {
	for at := 0; at+speech.Frame <= len(pcm); at += speech.Frame {
		var ref []int16
		if at+speech.Frame <= len(played) {
			ref = played[at : at+speech.Frame]
		}
		heard = append(heard, e.Hear(speech.Block{At: speech.Samples(at), PCM: pcm[at : at+speech.Frame]}, ref)...)
	}
	return heard
}

func newEars(t testing.TB) *speech.Ears {
	t.Helper()
	e, err := speech.NewEars(speech.DefaultEarsConfig())
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func labels(heard []speech.Heard) (out []string) {
	for _, h := range heard {
		l := h.Label
		if l != "" && !h.Sure {
			l += "?"
		}
		out = append(out, strconv.Quote(l))
	}
	return out
}

func TestCommandStandsAlone(t *testing.T) {
	const voice = "en-us+f3"
	next, week, repeat := spoken(t, voice, "next"), spoken(t, voice, "week"), spoken(t, voice, "repeat")
	for name, c := range map[string]struct {
		gap   int // ms
		first []int16
		then  []int16
		want  []string
	}{
		"alone":                             {0, next, nil, []string{`"next"`}},
		"a word 100 ms after":               {100, next, week, []string{`""`}},
		"a word 260 ms after":               {280, next, week, []string{`"next"`, `""`}},
		"a word 240 ms before":              {240, week, next, []string{`""`, `""`}},
		"two commands half a second apart":  {500, next, repeat, []string{`"next"`, `"repeat"`}},
		"a phrase that is not asked for":    {0, spoken(t, voice, "seven"), nil, []string{`""`}},
		"a command, then talk much later":   {900, next, week, []string{`"next"`, `""`}},
		"half a phrase":                     {0, spoken(t, voice, "previous"), nil, []string{`""`}},
		"a phrase in a sentence":            {0, spoken(t, voice, "the next one goes in from below"), nil, []string{`""`}},
		"talk too long for a command":       {0, spoken(t, voice, "take the old gasket off and clean both faces with a plastic scraper"), nil, []string{`""`, `""`}},
		"in a phrase of two words no break": {0, spoken(t, voice, "lift busy"), nil, []string{`"lift busy"`}},
	} {
		sound := newTrack(8, 1)
		end := sound.put(24000, c.first, -25)
		sound.put(end+16*c.gap, c.then, -25)
		if got := labels(listen(newEars(t), sound.samples(), nil)); !slices.Equal(got, c.want) {
			t.Errorf("%s: heard %v, want %v", name, got, c.want)
		}
	}
}

func TestHearsOverDigitalSilence(t *testing.T) {
	sound := newTrack(8, 1)
	clear(sound.pcm)
	sound.put(48000, spoken(t, "en-gb+m5", "next"), -25)
	sound.put(96000, spoken(t, "en-gb+m5", "carry on"), -25)
	if got := labels(listen(newEars(t), sound.samples(), nil)); !slices.Equal(got, []string{`"next"`, `"carry on"`}) {
		t.Errorf("heard %v", got)
	}
}

func TestNumbersWhenAsked(t *testing.T) {
	e := newEars(t)
	if unknown := e.Live([]string{"eight", "five", "point", "two", "eleventeen"}); !slices.Equal(unknown, []string{"eleventeen"}) {
		t.Errorf("unknown: %v", unknown)
	}
	sound := newTrack(8, 1)
	at := 24000
	for _, n := range []string{"eight", "five", "point", "two"} {
		at = sound.put(at, spoken(t, "en-us+f3", n), -25) + 6400
	}
	if got := labels(listen(e, sound.samples(), nil)); !slices.Equal(got, []string{`"eight"`, `"five"`, `"point"`, `"two"`}) {
		t.Errorf("heard %v", got)
	}
}

func TestTimesOfAWord(t *testing.T) {
	sound := newTrack(8, 1)
	word := spoken(t, "en-us+f3", "next")
	end := sound.put(48000, word, -25)
	heard := listen(newEars(t), sound.samples(), nil)
	if len(heard) != 1 {
		t.Fatalf("heard %v", labels(heard))
	}
	h := heard[0]
	if d := h.From - 48000; d < -800 || d > 800 {
		t.Errorf("speech from sample 48000 was placed at %d: off by %v", h.From, d.Duration())
	}
	if d := h.To - speech.Samples(end); d < -1600 || d > 1600 {
		t.Errorf("speech to sample %d was ended at %d: off by %v", end, h.To, d.Duration())
	}
	if wait := h.At - speech.Samples(end); wait < 2400 || wait > 4800 {
		t.Errorf("decided %v after the word", wait.Duration())
	}
}

func TestHearAllocatesNothing(t *testing.T) {
	e := newEars(t)
	pcm := newTrack(1, 1).samples()[:speech.Frame]
	at := speech.Samples(0)
	if n := testing.AllocsPerRun(300, func() {
		e.Hear(speech.Block{At: at, PCM: pcm}, pcm)
		at += speech.Frame
	}); n != 0 {
		t.Errorf("%v allocations a block", n)
	}
}

func TestLevelFollowsTheRoom(t *testing.T) {
	sound := newTrack(6, 1)
	sound.noise(-45)
	sound.put(64000, spoken(t, "en-us+f3", "hold the job"), -25)
	e := newEars(t)
	listen(e, sound.samples(), nil)
	floor, voice := e.Level()
	if math.Abs(floor+45) > 2 {
		t.Errorf("the floor is %.1f dBFS over noise of -45", floor)
	}
	if math.Abs(voice+25) > 6 {
		t.Errorf("the speech is %.1f dBFS, spoken at -25", voice)
	}
}

func TestNumbersInOneBreath(t *testing.T) {
	_, numbers := numbersOf(newEars(t))
	for text, want := range map[string][]string{
		"eight five point two": {`"eight"`, `"five"`, `"point"`, `"two"`},
		"one nine":             {`"one"`, `"nine"`},
	} {
		e := newEars(t)
		e.Live(numbers)
		sound := newTrack(6, 1)
		sound.put(24000, spoken(t, "en-us+f3", text), -25)
		heard := listen(e, sound.samples(), nil)
		if got := labels(heard); !slices.Equal(got, want) {
			t.Errorf("%s: heard %v", text, got)
		}
		for i := 1; i < len(heard); i++ {
			if heard[i].From < heard[i-1].To {
				t.Errorf("%s: number %d begins at %d, before the one ahead of it ends at %d", text, i, heard[i].From, heard[i-1].To)
			}
		}
	}
}

func TestNothingIsObeyedInTalkAndNoise(t *testing.T) {
	for _, pattern := range []string{"talk/*.flac", "noise/*.flac"} {
		clips := recordings(t, pattern, 5, 6) // those that training did not have
		n := 0
		for _, c := range clips {
			n += len(c) + 16000
		}
		sound := newTrack(float64(n)/speech.Rate, 1)
		at := 8000
		for _, c := range clips {
			at = sound.put(at, c, -25) + 16000
		}
		for _, h := range listen(newEars(t), sound.samples(), nil) {
			if h.Sure {
				t.Errorf("%s: %q obeyed at %.1f s, score %.2f", pattern, h.Label, h.From.Duration().Seconds(), h.Score)
			}
		}
	}
}
