package speech

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func someTakes(t testing.TB, n int) []Take {
	t.Helper()
	takes, err := chatterTakes()
	if err != nil {
		t.Fatal(err)
	}
	first := slices.IndexFunc(takes, func(t Take) bool { return t.Label == "next" })
	return takes[first : first+n]
}

func TestChatterFitsItsText(t *testing.T) {
	takes, err := chatterTakes()
	if err != nil {
		t.Fatal(err)
	}
	phrases, others := 0, 0
	for _, take := range takes {
		if err := take.Check(); err != nil {
			t.Errorf("%q: %v", take.Label, err)
		}
		if take.Label[0] == '~' {
			others++
		} else {
			phrases++
		}
	}
	if phrases < 100 || others < 250 {
		t.Errorf("%d phrases, %d others", phrases, others)
	}
}

func TestStudyIsTheSameEachTime(t *testing.T) {
	takes := someTakes(t, 4)
	first, err := study(DefaultEarsConfig(), takes, studied, 1)
	if err != nil {
		t.Fatal(err)
	}
	again, err := study(DefaultEarsConfig(), takes, studied, 1)
	if err != nil || !reflect.DeepEqual(first, again) {
		t.Errorf("the same takes made other impressions, %v", err)
	}
	seen := map[impressionKind]map[int]bool{whole: {}, found: {}, other: {}, unheard: {}}
	for _, i := range first {
		seen[i.kind][i.take] = true
	}
	for kind, takes := range seen {
		if kind != unheard && len(takes) < 3 {
			t.Errorf("impressions of kind %d come from %d of 4 takes", kind, len(takes))
		}
	}
}

// The level of added noise is what it says, whatever its kind: 0 dB, within 3 dB over twenty seconds of changing kinds.
func TestDinIsLevel(t *testing.T) {
	for seed := range uint64(8) {
		d := newDin(seed)
		sum := 0.0
		const n = 20 * Rate
		for range n {
			v := d.sample()
			sum += v * v
		}
		if db := 10 * math.Log10(sum/n); math.Abs(db) > 3 {
			t.Errorf("seed %d: %.1f dB", seed, db)
		}
	}
}

func TestPacedKeepsTheSpeechWhereItIs(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		speed := rapid.Float64Range(0.8, 1.25).Draw(rt, "speed")
		from, long := rapid.IntRange(3000, 6000).Draw(rt, "from"), rapid.IntRange(3000, 8000).Draw(rt, "long")
		take := Take{PCM: make([]int16, 16000), From: Samples(from), To: Samples(from + long)}
		for i := from; i < from+long; i++ {
			take.PCM[i] = int16(9000 * math.Sin(float64(i)/5))
		}
		got := take.paced(speed)
		if err := got.Check(); err != nil {
			rt.Fatal(err)
		}
		inside, all := 0.0, 0.0
		for i, v := range got.PCM {
			e := float64(v) * float64(v)
			all += e
			if Samples(i) >= got.From-8 && Samples(i) < got.To+8 {
				inside += e
			}
		}
		if inside < 0.99*all || math.Abs(float64(got.To-got.From)-float64(long)/speed) > 2 {
			rt.Errorf("%.3f of the speech lies in %d to %d", inside/all, got.From, got.To)
		}
		if back := take.backwards().backwards(); !reflect.DeepEqual(back, take) {
			rt.Error("twice backwards is another take")
		}
	})
}

func TestTooFewTakesAreSaidToBe(t *testing.T) {
	tutor, err := NewTutor(DefaultEarsConfig())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tutor.Learn(t.Context(), nil); err != ErrTooFewTakes {
		t.Errorf("no takes: %v", err)
	}
	if l, err := tutor.Learn(t.Context(), []Take{{Label: "next", PCM: make([]int16, 16000), From: 4800, To: 9600}}); err != ErrTooFewTakes || l.Useless != 1 {
		t.Errorf("silence: %v, %+v", err, l)
	}
}

func TestWorthIsWorseInAnything(t *testing.T) {
	before := Worth{Clean: Marks{Said: 60, Right: 50, Wrong: 2}, Noisy: Marks{Said: 100, Right: 80, Wrong: 3}, Others: Marks{Said: 100, Right: 90, Wrong: 1}, Chatter: Marks{Said: 100, Right: 90, Wrong: 10}}
	for name, c := range map[string]struct {
		change func(w *Worth)
		better bool
	}{
		"the same":                         {func(*Worth) {}, false},
		"more in noise":                    {func(w *Worth) { w.Noisy.Right++ }, true},
		"more, but fewer in quiet":         {func(w *Worth) { w.Noisy.Right += 9; w.Clean.Right-- }, false},
		"more, but more wrong":             {func(w *Worth) { w.Noisy.Right += 9; w.Noisy.Wrong++ }, false},
		"fewer wrong":                      {func(w *Worth) { w.Noisy.Wrong-- }, true},
		"more chatter obeyed":              {func(w *Worth) { w.Noisy.Right += 9; w.Chatter.Wrong++ }, false},
		"untaught words lost":              {func(w *Worth) { w.Noisy.Right += 9; w.Others.Right -= 4 }, false},
		"an own word half the time":        {func(w *Worth) { w.Noisy.Right += 9; w.Own = Marks{Said: 20, Right: 9} }, false},
		"as many, but one not found":       {func(w *Worth) { w.Noisy.Said++; w.Noisy.Lost++ }, false},
		"an own word that is seldom found": {func(w *Worth) { w.Noisy.Right += 9; w.Own = Marks{Said: 20, Right: 9, Lost: 4} }, true},
	} {
		w := before
		c.change(&w)
		if got := w.harm(before) == "" && w.gain(before) == ""; got != c.better {
			t.Errorf("%s: %q %q", name, w.harm(before), w.gain(before))
		}
	}
}
