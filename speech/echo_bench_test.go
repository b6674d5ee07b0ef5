package speech_test

import (
	"fmt"
	"math"
	"strings"
	"sync"
	"testing"

	"stepcaller/speech"
)

// place is where a loudspeaker, a microphone and a technician are, in metres.
type place struct {
	name                           string
	size, voice, microphone, mouth [3]float64
	absorbs                        float64 // share of the energy that a wall takes
}

var (
	office = place{"office", [3]float64{4, 3, 2.5}, [3]float64{1, 1, 1}, [3]float64{1.6, 1.2, 1.1}, [3]float64{2.1, 1.6, 1.4}, 0.35}
	bay    = place{"bay", [3]float64{8, 6, 4}, [3]float64{2, 1, 1.2}, [3]float64{3, 1.5, 1.1}, [3]float64{3.6, 1.9, 1.5}, 0.3}
)

// response is the room's answer from one place to another over n samples, by
// mirrored sources (Allen and Berkley, Journal of the Acoustical Society of
// America, 1979), its direct sound at sample late. Its gain is 1.
func (p place) response(from, to [3]float64, late, n int) []float64 {
	const speed = 343.0
	beta := math.Sqrt(1 - p.absorbs)
	h := make([]float64, n)
	far := func(a, b [3]float64) float64 {
		return math.Sqrt((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))
	}
	direct := far(from, to)
	reach := direct + float64(n-late)/speech.Rate*speed
	var order [3]int
	for a := range order {
		order[a] = int(reach/(2*p.size[a])) + 1
	}
	for mirror := range 8 {
		for x := -order[0]; x <= order[0]; x++ {
			for y := -order[1]; y <= order[1]; y++ {
				for z := -order[2]; z <= order[2]; z++ {
					image, bounces := [3]float64{}, 0
					for a, n := range [3]int{x, y, z} {
						q := mirror >> a & 1
						image[a] = float64(1-2*q)*from[a] + 2*float64(n)*p.size[a]
						bounces += max(n-q, q-n) + max(n, -n)
					}
					d := far(image, to)
					if at := late + int(math.Round((d-direct)/speed*speech.Rate)); at < n {
						h[at] += math.Pow(beta, float64(bounces)) / d
					}
				}
			}
		}
	}
	var sum float64
	for _, v := range h {
		sum += v * v
	}
	for i := range h {
		h[i] /= math.Sqrt(sum)
	}
	return h
}

// cheap is pcm out of a small loudspeaker that is driven hard: no bass, and
// bent at its peaks.
func cheap(pcm []int16) []int16 {
	out := make([]int16, len(pcm))
	var low float64
	for i, v := range pcm {
		x := float64(v) / 32768
		low += 0.09 * (x - low) // 230 Hz
		x -= low
		x = math.Tanh(1.5*x+0.1) - math.Tanh(0.1)
		out[i] = int16(max(-32768, min(32767, 32768/1.5*x)))
	}
	return out
}

// setting is one way that our own voice comes back.
type setting struct {
	place
	late  int  // ms from playing to the microphone
	cheap bool // a poor loudspeaker
	jump  int  // ms by which the sound comes later from the middle on
}

func (s setting) String() string {
	name := fmt.Sprintf("%s %d ms", s.name, s.late)
	if s.cheap {
		name += " cheap"
	}
	if s.jump != 0 {
		name += fmt.Sprintf(" +%d ms", s.jump)
	}
	return name
}

var settings = []setting{
	{office, 20, false, 0}, {office, 100, true, 0}, {bay, 60, false, 0}, {bay, 150, true, 0}, {bay, 250, false, 0}, {office, 40, true, 20},
}

// echo adds our own voice to the track as s has it, gain in dB.
func (t *track) echo(s setting, played []int16, gain float64) {
	sound := played
	if s.cheap {
		sound = cheap(played)
		gain += 20 * math.Log10(activeLevel(played)/activeLevel(sound))
	}
	const length = speech.Rate / 2
	if s.jump == 0 {
		t.through(sound, s.response(s.voice, s.microphone, s.late*16, s.late*16+length), gain)
		return
	}
	half := len(sound) / 2
	first, then := make([]int16, len(sound)), make([]int16, len(sound))
	copy(first, sound[:half])
	copy(then[half:], sound[half:])
	t.through(first, s.response(s.voice, s.microphone, s.late*16, s.late*16+length), gain)
	t.through(then, s.response(s.voice, s.microphone, (s.late+s.jump)*16, (s.late+s.jump)*16+length), gain)
}

// spoke adds a technician's word, gain in dB.
func (t *track) spoke(p place, at int, word []int16, db float64) {
	h := p.response(p.mouth, p.microphone, 0, 4000)
	wet := track{pcm: make([]float64, len(word)+len(h))}
	wet.through(word, h, db-20*math.Log10(activeLevel(word)))
	for i, v := range wet.pcm {
		if at+i < len(t.pcm) {
			t.pcm[at+i] += v
		}
	}
}

var ourSentences = []string{
	"Ready when you are. This is the bench job from this morning.",
	"Step seven. Fit the new gasket with the printed side up, then set the cover down over the two dowels and start all bolts by hand.",
	"Step eight. Tighten the eight bolts in a cross, from the middle out, to twenty five newton metres.",
	"Caution. The coolant is hot and under pressure, so let the engine stand until you can hold a hand on the hose.",
	"You need a torque wrench, a plastic scraper, thread lock and a clean rag.",
	"Step nine. Turn the crank by hand two full turns, and look that the marks are in line again.",
}

var overWords = []string{
	"next", "stop", "repeat", "torque", "hold the job", "carry on", "louder", "quieter",
	"help", "what's left", "caution", "tool list", "part list", "where am i", "previous step", "speak slower",
}

var overVoices = []string{"en-us+f3", "en-gb+m5", "en-029+f3", "en-gb-scotland+m1"}

// over is how words said over our own voice were taken.
type over struct{ said, heard, asked, wrong, other int }

// talkOver says 16 words of one voice over ours, which is gain dB louder, from
// second from on. played is what the loudspeaker plays all the time.
func talkOver(t testing.TB, s setting, words [][]int16, played []int16, gain float64, from int) (o over, missed []string) {
	mic := newTrack(float64(len(played))/speech.Rate, 4)
	mic.noise(-60)
	if gain > -90 {
		mic.echo(s, played, gain-5) // our voice leaves at -20 dBFS, a technician is at -25
	}
	speaks := mic.r.IntN(8000) // so that words fall anywhere in a sentence
	var at []int
	for i := range overWords {
		at = append(at, speech.Rate*from+i*40000+speaks)
		mic.spoke(s.place, at[i], words[i], -25)
	}
	if gain <= -90 {
		played = nil
	}
	got := listen(newEars(t), mic.samples(), played)
	for i, w := range overWords {
		o.said++
		what := "-"
		for _, h := range got {
			if int(h.To) < at[i] || int(h.From) > at[i]+16000 {
				continue
			}
			switch {
			case h.Label == w && h.Sure:
				o.heard++
				what = ""
			case h.Label == w:
				o.asked++
				what = "asked"
			case h.Label != "":
				o.wrong++
				what = h.Label
			default:
				what = "other"
			}
		}
		if what != "" {
			missed = append(missed, w+":"+what)
		}
	}
	for _, h := range got {
		if h.Label == "" {
			o.other++
		}
	}
	return o, missed
}

// BenchmarkOverOurVoice prints how many of a technician's words are heard over
// our own voice, by level, room and delay.
func BenchmarkOverOurVoice(b *testing.B) {
	var long []string
	for len(long) < 9 {
		long = append(long, ourSentences...)
	}
	ours := [][]int16{ownVoice(b, 46, long...), ownVoiceOf(b, "en-us", 46, long...)}
	words := make([][][]int16, len(overVoices))
	for v, voice := range overVoices {
		for _, w := range overWords {
			words[v] = append(words[v], spoken(b, voice, w))
		}
	}
	for _, gain := range []float64{-99, 0, 5, 10} {
		b.Run(fmt.Sprintf("ours%+.0fdB", gain), func(b *testing.B) {
			for b.Loop() {
				var sum over
				lines := make([]string, len(settings))
				var wait sync.WaitGroup
				var lock sync.Mutex
				for i, s := range settings {
					wait.Go(func() {
						var all over
						var missed []string
						for v := range overVoices {
							o, m := talkOver(b, s, words[v], ours[v%2], gain, 4)
							all.add(o)
							missed = append(missed, m...)
						}
						lines[i] = fmt.Sprintf("%-22s %v  %s", s, all, strings.Join(missed, " "))
						lock.Lock()
						sum.add(all)
						lock.Unlock()
					})
				}
				wait.Wait()
				b.Logf("ours %+.0f dB: %v\n%s", gain, sum, strings.Join(lines, "\n"))
			}
		})
	}
}

func (o *over) add(p over) {
	o.said += p.said
	o.heard += p.heard
	o.asked += p.asked
	o.wrong += p.wrong
	o.other += p.other
}

func (o over) String() string {
	return fmt.Sprintf("%d of %d heard, %d asked, %d wrong, other speech %d times", o.heard, o.said, o.asked, o.wrong, o.other)
}

// BenchmarkOurVoiceAlone prints what is made of our own voice when nobody
// speaks over it: every command and reason alone, and sentences.
func BenchmarkOurVoiceAlone(b *testing.B) {
	commands, _ := numbersOf(newEars(b))
	for _, gain := range []float64{-10, 0, 5, 10} {
		b.Run(fmt.Sprintf("ours%+.0fdB", gain), func(b *testing.B) {
			for b.Loop() {
				said, sure, asked := 0, 0, 0
				var what []string
				for i, s := range settings {
					sentences := append(append(append([]string(nil), commands[i*7:]...), commands[:i*7]...), ownSentences...)
					sentences = append(sentences, ourSentences...)
					played := ownVoiceOf(b, []string{"kal16", "en-us"}[i%2], 125, sentences...)
					mic := newTrack(125, 9)
					mic.noise(-60)
					mic.echo(s, played, gain-5)
					said += len(sentences)
					for _, h := range listen(newEars(b), mic.samples(), played) {
						switch {
						case h.Label == "":
							continue
						case h.Sure:
							sure++
						default:
							asked++
						}
						what = append(what, fmt.Sprintf("%s: %s %.2f at %.1f s", s, h.Label, h.Score, h.From.Duration().Seconds()))
					}
				}
				b.Logf("ours %+.0f dB: of %d sentences obeyed %d, asked about %d: %s", gain, said, sure, asked, strings.Join(what, "; "))
			}
		})
	}
}
