package hearing_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/speech"
	"stepcaller/speech/hearing"
)

// tone is a 400 Hz tone of the given level in dBFS, between silences; lengths are
// milliseconds.
func tone(before, long, after int, db float64) []int16 {
	pcm := make([]int16, 16*(before+long+after))
	k := 32768 * math.Sqrt2 * math.Pow(10, db/20)
	for i := range 16 * long {
		pcm[16*before+i] = int16(math.Round(k * math.Sin(2*math.Pi*400*float64(i)/speech.Rate)))
	}
	return pcm
}

func TestActiveLevelIsThatOfTheSpeechAlone(t *testing.T) {
	measured := func(pcm []int16) hearing.Speech {
		t.Helper()
		s, err := hearing.MeasureSpeech(pcm)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	for _, silence := range []int{0, 300, 5000} {
		s := measured(tone(silence, 400, silence, -20))
		if math.Abs(s.Level+20) > 0.01 {
			t.Errorf("a tone of -20 dBFS between %d ms of silence has %.2f", silence, s.Level)
		}
		if from, to := speech.Samples(16*silence), speech.Samples(16*(silence+400)); s.From < from || s.From > from+80 || s.To < to-80 || s.To > to {
			t.Errorf("a tone from %d to %d is found from %d to %d", from, to, s.From, s.To)
		}
	}
	click := tone(300, 400, 300, -20)
	click[100] = 32767
	if s := measured(click); math.Abs(s.Level+20) > 0.3 || s.From < 4800 {
		t.Errorf("with a click before it the tone has %.2f dBFS from sample %d", s.Level, s.From)
	}
	for name, pcm := range map[string][]int16{"silence": make([]int16, 16000), "nothing": nil} {
		if _, err := hearing.MeasureSpeech(pcm); err == nil {
			t.Errorf("%s has a level", name)
		}
	}
}

func TestActiveLevelFollowsGain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		squares := rapid.SliceOfN(rapid.Float64Range(1e-8, 1), 1, 60).Draw(t, "squares")
		db := rapid.Float64Range(0, 20).Draw(t, "db")
		quiet, err1 := hearing.ActiveLevel(squares)
		louder := slices.Clone(squares)
		for i := range louder {
			louder[i] *= math.Pow(10, db/10)
		}
		loud, err2 := hearing.ActiveLevel(louder)
		if err1 != nil || err2 != nil || math.Abs(loud-quiet-db) > 1e-9 {
			t.Fatalf("%v raised by %v dB: from %v to %v (%v, %v)", squares, db, quiet, loud, err1, err2)
		}
		if top := 10 * math.Log10(slices.Max(squares)); quiet > top+1e-9 {
			t.Fatalf("%v has %v dBFS", squares, quiet)
		}
	})
}

// level is in dBFS.
func level(pcm []float64) float64 {
	sum := 0.0
	for _, v := range pcm {
		sum += v * v
	}
	return 10 * math.Log10(sum/float64(len(pcm))/(32768*32768))
}

func TestNoiseIsMixedAtTheRatioAskedFor(t *testing.T) {
	bank, _, err := hearing.OpenBank(noises(t), 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, loud := range []float64{-45, -25, -9} {
		clip := tone(200, 500, 300, loud)
		s, err := hearing.MeasureSpeech(clip)
		if err != nil {
			t.Fatal(err)
		}
		for _, snr := range []float64{20, 10, 5, 0, -5} {
			for _, keep := range []bool{false, true} {
				noisy, clean := hearing.Stage("next/1.wav", clip, s, snr, bank, keep), hearing.Stage("next/1.wav", clip, s, hearing.Clean, bank, keep)
				if len(noisy.PCM) != len(clean.PCM) || len(noisy.PCM)%speech.Frame != 0 {
					t.Fatalf("scenes of %d and %d samples", len(noisy.PCM), len(clean.PCM))
				}
				spoken := level(floats(clean.PCM[clean.From:clean.To]))
				if want := map[bool]float64{false: hearing.SpeechLevel, true: loud}[keep]; math.Abs(spoken-want) > 0.1 {
					t.Errorf("%v dBFS, keep %v: speech of %.2f dBFS", loud, keep, spoken)
				}
				if keep && loud > -20 && snr < 10 {
					continue // may be made quieter as a whole: what is left over is then not the noise alone
				}
				noise := make([]float64, len(noisy.PCM))
				for i := range noise {
					noise[i] = float64(noisy.PCM[i]) - float64(clean.PCM[i])
				}
				if got := spoken - level(noise); math.Abs(got-snr) > 0.1 {
					t.Errorf("%v dBFS, keep %v, %v dB: mixed at %.2f dB", loud, keep, snr, got)
				}
			}
		}
	}
}

func floats(pcm []int16) []float64 {
	out := make([]float64, len(pcm))
	for i, v := range pcm {
		out[i] = float64(v)
	}
	return out
}

func TestASceneIsAlwaysTheSame(t *testing.T) {
	stage := func(name string, seed uint64) []int16 {
		bank, _, err := hearing.OpenBank(noises(t), seed)
		if err != nil {
			t.Fatal(err)
		}
		clip := tone(100, 300, 100, -20)
		s, err := hearing.MeasureSpeech(clip)
		if err != nil {
			t.Fatal(err)
		}
		return hearing.Stage(name, clip, s, 5, bank, false).PCM
	}
	if !slices.Equal(stage("a", 1), stage("a", 1)) {
		t.Error("the same clip and seed give different scenes")
	}
	if slices.Equal(stage("a", 1), stage("b", 1)) {
		t.Error("two clips meet the same noise")
	}
	if slices.Equal(stage("a", 1), stage("a", 2)) {
		t.Error("two seeds draw the same noise")
	}
}

func TestACleanSceneIsNearlySilentAroundTheClip(t *testing.T) {
	bank, _, err := hearing.OpenBank(nil, 1)
	if err != nil {
		t.Fatal(err)
	}
	clip := tone(0, 400, 0, -20)
	s, err := hearing.MeasureSpeech(clip)
	if err != nil {
		t.Fatal(err)
	}
	scene := hearing.Stage("a", clip, s, hearing.Clean, bank, false)
	lead := floats(scene.PCM[:scene.From])
	if scene.From != speech.SamplesIn(hearing.LeadIn) || math.Abs(level(lead)-hearing.DitherLevel) > 0.2 {
		t.Errorf("%d samples of %.1f dBFS before the clip", scene.From, level(lead))
	}
}

// noises are two files of noise, white and in bursts.
func noises(t testing.TB) []string {
	r := rand.New(rand.NewPCG(4, 4))
	white, bursts := make([]int16, 3*speech.Rate), make([]int16, 9*speech.Rate)
	for i := range white {
		white[i] = int16(800 * r.NormFloat64())
	}
	for i := range bursts {
		if i/1600%7 == 0 {
			bursts[i] = int16(3000 * r.NormFloat64())
		}
	}
	dir := t.TempDir()
	return []string{writeWAV(t, dir, "white.wav", white), writeWAV(t, dir, "bursts.wav", bursts)}
}
