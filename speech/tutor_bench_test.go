package speech_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"stepcaller/speech"
)

// takeOf has the ears find the speech in a clip, as a sitting does. A clip that
// they do not find one utterance in is no take.
func takeOf(t testing.TB, label string, clip []int16, seed uint64) (speech.Take, bool) {
	t.Helper()
	const lead = speech.Rate
	sound := newTrack(2+float64(len(clip))/speech.Rate, seed)
	sound.put(lead, clip, -25)
	pcm := sound.samples()
	heard := listen(newEars(t), pcm, nil)
	if len(heard) != 1 {
		return speech.Take{}, false
	}
	from := heard[0].From - speech.SamplesIn(speech.TakeMargin)
	to := heard[0].To + speech.SamplesIn(speech.TakeMargin)
	if from < 0 || int(to) > len(pcm) {
		return speech.Take{}, false
	}
	return speech.Take{Label: label, PCM: pcm[from:to], From: heard[0].From - from, To: heard[0].To - from}, true
}

// teach learns from takes and reports how long it took.
func teach(t testing.TB, takes []speech.Take) (speech.Lesson, time.Duration) {
	t.Helper()
	tutor, err := speech.NewTutor(speech.DefaultEarsConfig())
	if err != nil {
		t.Fatal(err)
	}
	begun := time.Now()
	lesson, err := tutor.Learn(t.Context(), takes)
	if err != nil {
		t.Fatal(err)
	}
	return lesson, time.Since(begun)
}

// tunedEars hear with a tuning, nil for none.
func tunedEars(t testing.TB, tuning *speech.Tuning) *speech.Ears {
	t.Helper()
	e := newEars(t)
	if err := e.Tune(tuning); err != nil {
		t.Fatal(err)
	}
	return e
}

// wrongs are the errors of an examination: missed and wrongly obeyed.
func (y tally) wrongs() string {
	return fmt.Sprintf("missed %d, wrong %d of %d", y.said-y.obeyed-y.wrong, y.wrong, y.said)
}

// BenchmarkTeachingDigits prints, for every speaker of the recorded digits, how
// takes that were not taught are taken at 5 dB before and after three takes of
// each digit were. Training had five of the six.
func BenchmarkTeachingDigits(b *testing.B) {
	noise := recordings(b, "noise/*.flac", 5, 6)
	other := slices.Concat(recordings(b, "words/[abdhlmorstuw]*/*.flac", 0, 3), recordings(b, "talk/*.flac", 0, 4))
	for speaker := 1; speaker <= 6; speaker++ {
		b.Run(fmt.Sprintf("speaker%d", speaker), func(b *testing.B) {
			var takes []speech.Take
			var said []string
			var sounds [][]int16
			for i, n := range []string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"} {
				taught := 0
				for _, c := range recordings(b, fmt.Sprintf("digits/%d_speaker%d_*.flac", i, speaker), 0, 1) {
					if take, ok := takeOf(b, n, c, 1); ok && taught < 3 {
						takes = append(takes, take)
						taught++
						continue
					}
					said, sounds = append(said, n), append(sounds, c)
				}
			}
			shuffle(said, sounds)
			for b.Loop() {
				lesson, took := teach(b, takes)
				b.Logf("%d takes in %v: %s", lesson.Takes, took.Round(100*time.Millisecond), lesson.Words())
				b.Logf("before %+v", lesson.Before)
				b.Logf("after  %+v", lesson.After)
				for _, snr := range []float64{99, 5} {
					var results [2]tally
					for i, tuning := range []*speech.Tuning{nil, lesson.Tuning} {
						e := tunedEars(b, tuning)
						_, numbers := numbersOf(newEars(b))
						e.Live(numbers)
						results[i] = examine(e, said, sounds, noise, snr, 2)
					}
					b.Logf("%2.0f dB: %s; taught %s", snr, results[0].wrongs(), results[1].wrongs())
				}
				b.Logf("obeyed in other people's words and talk: %d before, %d after", obeyedIn(b, nil, other), obeyedIn(b, lesson.Tuning, other))
			}
		})
	}
}

// obeyedIn counts what is obeyed in clips that hold no phrase, numbers being
// live and then everything else.
func obeyedIn(t testing.TB, tuning *speech.Tuning, clips [][]int16) (n int) {
	t.Helper()
	commands, numbers := numbersOf(newEars(t))
	for _, live := range [][]string{numbers, append(commands, tuningWords(tuning)...)} {
		total := 0
		for _, c := range clips {
			total += len(c) + 16000
		}
		sound := newTrack(float64(total)/speech.Rate, 1)
		at := 8000
		for _, c := range clips {
			at = sound.put(at, c, -25) + 16000
		}
		e := tunedEars(t, tuning)
		e.Live(live)
		for _, h := range listen(e, sound.samples(), nil) {
			if h.Sure && h.Label != "" {
				n++
			}
		}
	}
	return n
}

func tuningWords(t *speech.Tuning) []string {
	if t == nil {
		return nil
	}
	return t.Words()
}

func shuffle(said []string, sounds [][]int16) {
	r := rand.New(rand.NewPCG(1, 1))
	r.Shuffle(len(said), func(i, j int) {
		said[i], said[j] = said[j], said[i]
		sounds[i], sounds[j] = sounds[j], sounds[i]
	})
}
