package hearing

import (
	"fmt"
	"hash/fnv"
	"io"
	"math"
	"math/rand/v2"
	"time"

	"stepcaller/speech"
)

// How a clip is set: measured figures hold for these.
const (
	LeadIn      = 1500 * time.Millisecond // of noise before the clip
	Tail        = 800 * time.Millisecond  // of noise after it
	SpeechLevel = -25.0                   // active level that speech is brought to, dBFS
	DitherLevel = -80.0                   // noise under everything, dBFS
)

// Clean is the signal to noise ratio of a clip that no noise is added to.
var Clean = math.Inf(1)

// Bank is noise to draw from. Any number of goroutines may use it.
type Bank struct {
	sounds [][]int16
	seed   uint64
}

// bankSamples is what a bank holds at most, about: half an hour.
const bankSamples = 1800 * speech.Rate

// OpenBank reads the beginning of every file, as much of it as leaves room for
// the others, and at least 4 s. Files that cannot be read, or hold nothing, are
// skipped.
func OpenBank(paths []string, seed uint64) (bank *Bank, skipped []Skipped, err error) {
	bank = &Bank{seed: seed}
	longest := speech.Samples(max(4*speech.Rate, bankSamples/max(1, len(paths))))
	for _, p := range paths {
		pcm, err := readClip(p, longest)
		if err == nil {
			_, err = ActiveLevel(meanSquares(pcm, speech.Frame))
		}
		if err != nil {
			skipped = append(skipped, Skipped{p, err.Error()})
			continue
		}
		bank.sounds = append(bank.sounds, pcm)
	}
	if len(bank.sounds) == 0 && len(paths) > 0 {
		return nil, skipped, fmt.Errorf("none of %d noise files can be used: the first, %s: %s", len(paths), skipped[0].File, skipped[0].Why)
	}
	return bank, skipped, nil
}

// draw is n samples of noise for the sound called name, always the same for one
// name and seed. A recording shorter than that goes round. It never is silence.
func (b *Bank) draw(name string, n int) []float64 {
	r := b.random(name)
	out := make([]float64, n)
	for {
		pcm := b.sounds[r.IntN(len(b.sounds))]
		at := r.IntN(len(pcm))
		if n < len(pcm) {
			at = r.IntN(len(pcm) - n + 1)
		}
		for i := range out {
			out[i] = float64(pcm[(at+i)%len(pcm)])
		}
		if power(out) > silent*fullScale*fullScale {
			return out
		}
	}
}

func (b *Bank) random(name string) *rand.Rand {
	h := fnv.New64a()
	_, _ = io.WriteString(h, name)
	return rand.New(rand.NewPCG(b.seed, h.Sum64()))
}

// Scene is a clip set in noise.
type Scene struct {
	PCM      []int16
	From, To speech.Samples // of its speech
}

// Stage sets the clip called name at snr dB, or [Clean]. The ratio is that of the
// clip's active level to the mean level of the noise over the whole scene, which
// is drawn from bank. The speech is brought to SpeechLevel, or left as loud as
// it is with keep. Where the sum would pass full scale, all of it is made quieter.
func Stage(name string, pcm []int16, s Speech, snr float64, bank *Bank, keep bool) Scene {
	lead, tail := int(speech.SamplesIn(LeadIn)), int(speech.SamplesIn(Tail))
	n := (lead + len(pcm) + tail + speech.Frame - 1) / speech.Frame * speech.Frame
	level := SpeechLevel
	if keep {
		level = s.Level
	}
	sum := make([]float64, n)
	if !math.IsInf(snr, 1) {
		sum = bank.draw(name, n)
		k := gain(level - snr - decibels(power(sum)/(fullScale*fullScale)))
		for i := range sum {
			sum[i] *= k
		}
	}
	voice := gain(level - s.Level)
	for i, v := range pcm {
		sum[lead+i] += voice * float64(v)
	}
	dither, r := fullScale*gain(DitherLevel), bank.random("dither "+name)
	top := 0.0
	for i := range sum {
		sum[i] += dither * r.NormFloat64()
		top = max(top, math.Abs(sum[i]))
	}
	scene := Scene{PCM: make([]int16, n), From: speech.Samples(lead) + s.From, To: speech.Samples(lead) + s.To}
	fit := min(1, (fullScale-1)/top)
	for i, v := range sum {
		scene.PCM[i] = int16(math.Round(v * fit))
	}
	return scene
}

func power(samples []float64) float64 {
	sum := 0.0
	for _, v := range samples {
		sum += v * v
	}
	return sum / float64(len(samples))
}

// Source is the scene as something to hear.
func (s Scene) Source() speech.Source { return &sceneSource{pcm: s.PCM} }

type sceneSource struct {
	pcm []int16
	at  int
}

func (s *sceneSource) Read() (speech.Block, error) {
	if s.at+speech.Frame > len(s.pcm) {
		return speech.Block{}, io.EOF
	}
	b := speech.Block{At: speech.Samples(s.at), PCM: s.pcm[s.at : s.at+speech.Frame]}
	s.at += speech.Frame
	return b, nil
}

func (s *sceneSource) Anchor() time.Duration { return 0 }
func (s *sceneSource) Close() error          { return nil }
