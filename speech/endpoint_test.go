package speech

import (
	"slices"
	"testing"
)

// track20 runs the endpointer over speech marked by #, a character a step of
// 20 ms, and returns what it found in characters.
func track20(marks string, early Samples) (found []utterance) {
	const step = netStride * Frame
	e := newEndpointer(SamplesIn(300e6), SamplesIn(200e6), SamplesIn(2400e6))
	for i, c := range marks {
		at := Samples(i) * step
		if u, ok := e.step(at, c == '#', false, at+step, early); ok {
			u.from /= step
			u.to /= step
			found = append(found, u)
		}
	}
	return found
}

func marks(parts ...any) (s string) {
	for i, p := range parts {
		c := "#"
		if i%2 == 0 {
			c = "."
		}
		for range p.(int) {
			s += c
		}
	}
	return s
}

func TestEndpointer(t *testing.T) {
	for name, c := range map[string]struct {
		marks string
		early Samples
		want  []utterance
	}{
		"a word alone":                    {marks(20, 15, 20), 0, []utterance{{20, 35, true, true, false}}},
		"a pause of 180 ms joins":         {marks(20, 15, 9, 15, 20), 0, []utterance{{20, 59, true, true, false}}},
		"a pause of 240 ms parts":         {marks(20, 15, 12, 15, 20), 0, []utterance{{20, 35, true, true, false}, {47, 62, false, true, false}}},
		"a pause of 300 ms frees":         {marks(20, 15, 15, 15, 20), 0, []utterance{{20, 35, true, true, false}, {50, 65, true, true, false}}},
		"the first word of a stream":      {marks(0, 15, 20), 0, []utterance{{0, 15, true, true, false}}},
		"a click is nothing":              {marks(20, 1, 20), 0, nil},
		"2.4 s may be a command":          {marks(20, 120, 20), 0, []utterance{{20, 140, true, true, false}}},
		"longer is told twice":            {marks(20, 200, 20), 0, []utterance{{20, 141, false, false, false}, {20, 220, false, true, false}}},
		"a number is offered after 120":   {marks(20, 15, 20), SamplesIn(120e6), []utterance{{20, 35, true, true, true}, {20, 35, true, true, false}}},
		"speech that never ends is alone": {marks(20, 50), 0, nil},
	} {
		if got := track20(c.marks, c.early); !slices.Equal(got, c.want) {
			t.Errorf("%s: %+v, want %+v", name, got, c.want)
		}
	}
}

func TestUnjudgedSoundPutsOffTheEnd(t *testing.T) {
	const step = netStride * Frame
	e := newEndpointer(SamplesIn(300e6), SamplesIn(200e6), SamplesIn(2400e6))
	end := -1
	for i := range 60 {
		at := Samples(i) * step
		if _, ok := e.step(at, i >= 20 && i < 30, i >= 38, at+step, 0); ok && end < 0 {
			end = i
		}
	}
	if want := 30 + 15 - 1; end != want { // 200 ms and the grace of 100 ms
		t.Errorf("ended in step %d, want %d", end, want)
	}
}

func TestSteadyTalkIsNoticedAndForgotten(t *testing.T) {
	const step = netStride * Frame
	w := talkWatch{lasts: SamplesIn(10e9), over: SamplesIn(3e9)}
	var began, ended Samples
	for i := range 60 * 50 {
		at := Samples(i) * step
		busy := w.step(at, at < 30*Rate && i%5 > 0) // four fifths of the time, as people read
		if busy && began == 0 {
			began = at
		}
		if !busy && began > 0 && ended == 0 {
			ended = at
		}
	}
	if s := began.Duration().Seconds(); s < 9 || s > 11 {
		t.Errorf("steady talk was noticed after %.1f s, want about 10", s)
	}
	if s := (ended - 30*Rate).Duration().Seconds(); s < 2.9 || s > 3.1 {
		t.Errorf("its end was noticed after %.1f s, want about 3", s)
	}
	w = talkWatch{lasts: SamplesIn(10e9), over: SamplesIn(3e9)}
	for i := range 60 * 50 {
		if w.step(0, i%125 < 40) { // a command of 0.8 s every 2.5 s
			t.Fatalf("commands were taken for steady talk after %d s", i/50)
		}
	}
}
