package speech_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"syscall"
	"testing"
	"time"

	"stepcaller/speech"
)

// recordings are the recorded clips under a folder of the speech data beside
// the repository (see training/README.md); every of them is taken, from first
// on. Without the data the test is skipped, but not where CI is true.
func recordings(t testing.TB, pattern string, first, every int) (clips [][]int16) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("../../shared/speech-data", pattern))
	if err != nil {
		t.Fatal(err)
	}
	if len(files) == 0 {
		if os.Getenv("CI") == "true" {
			t.Fatalf("no recordings match ../shared/speech-data/%s", pattern)
		}
		t.Skipf("no recordings match ../shared/speech-data/%s", pattern)
	}
	for i := first; i < len(files); i += every {
		clips = append(clips, wholeTrack(t, files[i]))
	}
	return clips
}

func wholeTrack(t testing.TB, path string) (pcm []int16) {
	t.Helper()
	source, err := speech.OpenTrack(path, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer source.Close()
	for {
		b, err := source.Read()
		if err != nil {
			return pcm
		}
		pcm = append(pcm, b.PCM...)
	}
}

// under adds a recording over and over, its level db.
func (t *track) under(clips [][]int16, db float64) {
	for at := 0; at < len(t.pcm); {
		c := clips[t.r.IntN(len(clips))]
		at = t.put(at, c, db)
	}
}

// tally is how a list of spoken phrases was taken.
type tally struct{ said, obeyed, asked, wrong, doubted, extra int }

func (y tally) String() string {
	p := func(n int) float64 { return 100 * float64(n) / float64(max(1, y.said)) }
	return fmt.Sprintf("%4d said: obeyed %5.1f %%, asked about %4.1f %%, wrong obeyed %4.1f %%, wrong asked %4.1f %%, split %4.1f %%", y.said, p(y.obeyed), p(y.asked), p(y.wrong), p(y.doubted), p(y.extra))
}

// examine says every phrase once, 1.2 s apart, over noise at snr dB.
func examine(e *speech.Ears, said []string, sounds [][]int16, noise [][]int16, snr float64, seed uint64) (y tally) {
	const lead, level = 24000, -25.0
	total := lead
	for _, s := range sounds {
		total += len(s) + lead
	}
	t := newTrack(float64(total)/speech.Rate, seed)
	if snr < 90 {
		t.under(noise, level-snr)
	}
	at := make([]int, len(sounds))
	pos := lead
	for i, s := range sounds {
		at[i] = pos
		pos = t.put(pos, s, level) + lead
	}
	heard := listen(e, t.samples(), nil)
	for i := range said {
		y.said++
		n := 0
		for _, h := range heard {
			if int(h.To) < at[i]-1600 || int(h.From) > at[i]+len(sounds[i]) {
				continue
			}
			n++
			switch {
			case h.Label == "":
			case h.Label == said[i] && h.Sure:
				y.obeyed++
			case h.Label == said[i]:
				y.asked++
			case h.Sure:
				y.wrong++
			default:
				y.doubted++
			}
		}
		if n > 1 {
			y.extra++
		}
	}
	return y
}

func numbersOf(e *speech.Ears) (commands, numbers []string) {
	i := slices.Index(e.Labels(), "zero")
	numbers = e.Labels()[i : i+13]
	return slices.DeleteFunc(e.Labels(), func(l string) bool { return slices.Contains(numbers, l) }), numbers
}

// BenchmarkHeldOutVoices prints how phrases of voices that took no part in
// training are taken, by signal to noise ratio; the noise is recorded.
func BenchmarkHeldOutVoices(b *testing.B) {
	noise := recordings(b, "noise/*.flac", 5, 6)
	for _, voice := range []string{"en-us+f3", "en-gb+m5", "en-029+f3", "en-gb-scotland+m1", "awb"} {
		for _, snr := range []float64{99, 20, 10, 5, 0} {
			b.Run(fmt.Sprintf("%s/%.0fdB", voice, snr), func(b *testing.B) {
				e := newEars(b)
				commands, _ := numbersOf(e)
				var sounds [][]int16
				for _, c := range commands {
					sounds = append(sounds, spoken(b, voice, c))
				}
				b.ResetTimer()
				for b.Loop() {
					b.Log(examine(newEars(b), commands, sounds, noise, snr, 1))
				}
			})
		}
	}
}

// BenchmarkHeldOutPeople prints how digits of people who took no part in
// training are taken, while numbers are live.
func BenchmarkHeldOutPeople(b *testing.B) {
	noise := recordings(b, "noise/*.flac", 5, 6)
	_, numbers := numbersOf(newEars(b))
	var said []string
	var sounds [][]int16
	for i, n := range []string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"} {
		for _, c := range recordings(b, fmt.Sprintf("digits/%d_speaker6_*.flac", i), 0, 1) {
			said, sounds = append(said, n), append(sounds, c)
		}
		for _, k := range []int{11, 12, 13} {
			for _, c := range recordings(b, fmt.Sprintf("words/%s/%d.flac", n, k), 0, 1) {
				said, sounds = append(said, n), append(sounds, c)
			}
		}
	}
	r := rand.New(rand.NewPCG(1, 1))
	r.Shuffle(len(said), func(i, j int) {
		said[i], said[j] = said[j], said[i]
		sounds[i], sounds[j] = sounds[j], sounds[i]
	})
	for _, snr := range []float64{99, 20, 10, 5, 0} {
		b.Run(fmt.Sprintf("%.0fdB", snr), func(b *testing.B) {
			for b.Loop() {
				e := newEars(b)
				e.Live(numbers)
				b.Log(examine(e, said, sounds, noise, snr, 1))
			}
		})
	}
}

// BenchmarkFalseAccepts prints what is obeyed or asked about in sound that
// holds no command, and the same for an hour.
func BenchmarkFalseAccepts(b *testing.B) {
	other := []string{}
	for _, w := range []string{"bed", "bird", "cat", "dog", "down", "happy", "house", "left", "marvin", "off", "on", "right", "sheila", "tree", "up", "wow"} {
		other = append(other, "words/"+w+"/9.flac", "words/"+w+"/10.flac")
	}
	sets := map[string][][]int16{
		"talk, all": recordings(b, "talk/*.flac", 0, 1), "talk, held out": recordings(b, "talk/*.flac", 5, 6),
		"noise, all": recordings(b, "noise/*.flac", 0, 1), "noise, held out": recordings(b, "noise/*.flac", 5, 6),
	}
	for _, w := range other {
		sets["other words, held out"] = append(sets["other words, held out"], recordings(b, w, 0, 1)...)
	}
	for _, f := range []string{"librivox/*.wav", "cards/*.wav"} {
		files, _ := filepath.Glob("/usr/share/pocketsphinx/test/data/" + f)
		for _, f := range files {
			sets["people reading, another corpus"] = append(sets["people reading, another corpus"], wholeTrack(b, f))
		}
	}
	for name, clips := range sets {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				e := newEars(b)
				total := 0
				for _, c := range clips {
					total += len(c) + 16000
				}
				t := newTrack(float64(total)/speech.Rate, 1)
				at := 8000
				for _, c := range clips {
					at = t.put(at, c, -25) + 16000
				}
				sure, asked, quiet := 0, 0, 0
				var what []string
				for _, h := range listen(e, t.samples(), nil) {
					switch {
					case h.Label == "":
						quiet++
						continue
					case h.Sure:
						sure++
					default:
						asked++
					}
					what = append(what, fmt.Sprintf("%s %.2f", h.Label, h.Score))
				}
				hours := float64(total) / speech.Rate / 3600
				b.Logf("%.0f s: obeyed %d (%.0f an hour), asked about %d (%.0f an hour), other speech %d times: %v", hours*3600, sure, float64(sure)/hours, asked, float64(asked)/hours, quiet, what)
			}
		})
	}
}

// processTime is the time that this process has spent on a processor.
func processTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkEarsMemory prints the memory that ears hold, the weights decoded
// with the first of them included.
func BenchmarkEarsMemory(b *testing.B) {
	for b.Loop() {
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		e := newEars(b)
		runtime.GC()
		runtime.ReadMemStats(&after)
		b.Logf("one Ears more: %.2f MB; the process, weights included: %.2f MB on the heap, %.1f MB from the system", float64(after.HeapAlloc-before.HeapAlloc)/1e6, float64(after.HeapAlloc)/1e6, float64(after.Sys)/1e6)
		runtime.KeepAlive(e)
	}
}

// BenchmarkListening is the cost of a second of sound, with nothing said, with
// talk, and while our own voice plays.
func BenchmarkListening(b *testing.B) {
	quiet := newTrack(4, 1).samples()
	talk := newTrack(4, 1)
	talk.put(8000, spoken(b, "en-us+f3", "take the old gasket off and clean both faces with a scraper"), -25)
	voice := ownVoice(b, 4, "Step seven. Fit the new gasket with the printed side up.")
	for name, c := range map[string][2][]int16{"quiet": {quiet, nil}, "talk": {talk.samples(), nil}, "ownVoice": {quiet, voice}} {
		b.Run(name, func(b *testing.B) {
			e := newEars(b)
			at := 0
			spent := processTime(b)
			for b.Loop() {
				for range 100 {
					i := at % (len(quiet) - speech.Frame)
					var played []int16
					if c[1] != nil {
						played = c[1][i : i+speech.Frame]
					}
					e.Hear(speech.Block{At: speech.Samples(at), PCM: c[0][i : i+speech.Frame]}, played)
					at += speech.Frame
				}
			}
			b.ReportMetric(100*(processTime(b)-spent).Seconds()/float64(b.N), "%core")
		})
	}
}

// BenchmarkTimes prints how far From and To lie from where words were put, and
// how long after its word a decision comes.
func BenchmarkTimes(b *testing.B) {
	for b.Loop() {
		for _, snr := range []float64{99, 20, 10} {
			var from, to, wait []float64
			e := newEars(b)
			commands, _ := numbersOf(e)
			for _, voice := range []string{"en-us+f3", "en-gb+m5"} {
				sound := newTrack(2.5*float64(len(commands))+2, 3)
				if snr < 90 {
					sound.noise(-25 - snr)
				}
				var at, end []int
				for i, c := range commands {
					at = append(at, 16000+i*40000)
					end = append(end, sound.put(at[i], spoken(b, voice, c), -25))
				}
				for _, h := range listen(newEars(b), sound.samples(), nil) {
					i := (int(h.From) - 16000 + 8000) / 40000
					if i >= 0 && i < len(at) && h.Label == commands[i] {
						from = append(from, float64(int(h.From)-at[i])/16)
						to = append(to, float64(int(h.To)-end[i])/16)
						wait = append(wait, float64(int(h.At)-end[i])/16)
					}
				}
			}
			b.Logf("%.0f dB, ms: From %s; To %s; decided %s after the word", snr, spread(from), spread(to), spread(wait))
		}
	}
}

// spread is the mean, the standard deviation and the extremes.
func spread(x []float64) string {
	var sum, square float64
	for _, v := range x {
		sum += v
		square += v * v
	}
	n := float64(len(x))
	mean := sum / n
	return fmt.Sprintf("%+.0f ± %.0f (%+.0f to %+.0f, %d words)", mean, math.Sqrt(max(0, square/n-mean*mean)), slices.Min(x), slices.Max(x), len(x))
}
