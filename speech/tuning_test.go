package speech

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// anyTuning moves the trained rows at random and adds rows for own words.
func anyTuning(t testing.TB, seed uint64, own ...string) *Tuning {
	t.Helper()
	k, err := trained()
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(seed, 1))
	l := k.phrase.widened(k.labels, len(own))
	for i := range l.w {
		l.w[i] += float32(0.05 * r.NormFloat64())
	}
	return &Tuning{phrase: l, own: own, net: NetworkID()}
}

// bursts is sound that the ears decide on: noise like syllables, between pauses.
func bursts(seed uint64) []int16 {
	r := rand.New(rand.NewPCG(seed, 2))
	pcm := make([]int16, 6*Rate)
	for i := range pcm {
		level := 8.0
		if i%(2*Rate) > Rate && i%(2*Rate) < Rate+8000 {
			level = 2500 * (1.2 + math.Sin(float64(i)/900))
		}
		pcm[i] = int16(level * r.NormFloat64())
	}
	return pcm
}

func decide(t testing.TB, e *Ears, pcm []int16) (heard []Heard) {
	t.Helper()
	for at := 0; at+Frame <= len(pcm); at += Frame {
		heard = append(heard, e.Hear(Block{At: Samples(at), PCM: pcm[at : at+Frame]}, nil)...)
	}
	return heard
}

func testEars(t testing.TB) *Ears {
	t.Helper()
	e, err := NewEars(DefaultEarsConfig())
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// chatterTrack is n utterances of the bundled chatter from the first on, with pauses: sound that the ears decide on.
func chatterTrack(t testing.TB, first, n int) (pcm []int16) {
	t.Helper()
	takes, err := chatterTakes()
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(4, 4))
	quiet := func() {
		for range Rate / 2 {
			pcm = append(pcm, int16(8*r.NormFloat64()))
		}
	}
	quiet()
	for _, take := range takes[first : first+n] {
		for _, v := range take.PCM {
			pcm = append(pcm, v*4)
		}
		quiet()
	}
	return pcm
}

func TestTakingATuningBackIsExact(t *testing.T) {
	pcm := chatterTrack(t, 259, 12)
	want := decide(t, testEars(t), pcm)
	if len(want) < 10 {
		t.Fatalf("only %d decisions to compare", len(want))
	}
	e := testEars(t)
	if err := e.Tune(anyTuning(t, 1, "weiter")); err != nil {
		t.Fatal(err)
	}
	if got := decide(t, e, pcm); slices.Equal(got, want) {
		t.Error("the tuning changed nothing")
	}
	if err := e.Tune(nil); err != nil {
		t.Fatal(err)
	}
	e.Reset()
	if got := decide(t, e, pcm); !slices.Equal(got, want) {
		t.Errorf("heard %v, before the tuning %v", got, want)
	}
}

func TestATuningSurvivesAReset(t *testing.T) {
	e, other := testEars(t), testEars(t)
	tuning := anyTuning(t, 1, "weiter")
	for _, ears := range []*Ears{e, other} {
		if err := ears.Tune(tuning); err != nil {
			t.Fatal(err)
		}
	}
	pcm := chatterTrack(t, 259, 4)
	e.Reset()
	if got, want := decide(t, e, pcm), decide(t, other, pcm); !slices.Equal(got, want) {
		t.Errorf("heard %v, want %v", got, want)
	}
}

func TestWordsByExampleAreLabels(t *testing.T) {
	e := testEars(t)
	if unknown := e.Live([]string{"next", "weiter"}); !slices.Equal(unknown, []string{"weiter"}) {
		t.Errorf("unknown %q", unknown)
	}
	if err := e.Tune(anyTuning(t, 1, "weiter", "zurück")); err != nil {
		t.Fatal(err)
	}
	if unknown := e.Live([]string{"next", "weiter", "zurück"}); len(unknown) > 0 {
		t.Errorf("unknown %q", unknown)
	}
	labels := e.Labels()
	if !slices.Equal(labels[len(labels)-2:], []string{"weiter", "zurück"}) {
		t.Errorf("labels end with %q", labels[len(labels)-2:])
	}
	if err := e.Tune(nil); err != nil {
		t.Fatal(err)
	}
	if unknown := e.Live([]string{"weiter"}); len(unknown) != 1 {
		t.Error("an own word outlives its tuning")
	}
}

func TestATuningOfAnotherNetworkIsRefused(t *testing.T) {
	tuning := anyTuning(t, 1)
	tuning.net = "another"
	e := testEars(t)
	pcm := chatterTrack(t, 259, 3)
	if err := e.Tune(tuning); err == nil {
		t.Error("taken")
	}
	if got, want := decide(t, e, pcm), decide(t, testEars(t), pcm); !slices.Equal(got, want) {
		t.Errorf("heard %v, want %v", got, want)
	}
}

func TestTunedEarsAllocateNothing(t *testing.T) {
	e := testEars(t)
	if err := e.Tune(anyTuning(t, 1, "weiter")); err != nil {
		t.Fatal(err)
	}
	pcm := bursts(1)
	at := 0
	if n := testing.AllocsPerRun(300, func() {
		e.Hear(Block{At: Samples(at), PCM: pcm[at : at+Frame]}, pcm[at:at+Frame])
		at += Frame
	}); n != 0 {
		t.Errorf("%v allocations a block", n)
	}
}

func TestATuningIsWrittenExactly(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rows, cols := rapid.IntRange(1, 5).Draw(rt, "rows"), rapid.IntRange(1, 5).Draw(rt, "columns")
		weights := rapid.SliceOfN(rapid.Float32Range(-1e6, 1e6), rows*cols, rows*cols).Draw(rt, "weights")
		want := &Tuning{phrase: layer{w: weights, b: weights[:rows], rows: rows, cols: cols},
			own: rapid.SliceOfN(rapid.String(), 0, 2).Draw(rt, "own"), net: rapid.String().Draw(rt, "net")}
		file, err := seal(want)
		if err != nil {
			rt.Fatal(err)
		}
		got := &Tuning{}
		if err := unseal(file, got); err != nil {
			rt.Fatal(err)
		}
		if !slices.Equal(got.phrase.w, want.phrase.w) || !slices.Equal(got.phrase.b, want.phrase.b) || len(got.own) != len(want.own) {
			rt.Errorf("read %+v, wrote %+v", got, want)
		}
	})
}

func TestATuningThatDoesNotFitIsRefused(t *testing.T) {
	for name, f := range map[string]tuningForm{
		"too few weights": {Rows: 2, Columns: 2, Weights: floatBytes([]float32{1, 2, 3}), Biases: floatBytes([]float32{1, 2})},
		"no rows":         {},
		"not a number":    {Rows: 1, Columns: 1, Weights: floatBytes([]float32{float32(math.NaN())}), Biases: floatBytes([]float32{0})},
	} {
		data, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(data, &Tuning{}); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}
