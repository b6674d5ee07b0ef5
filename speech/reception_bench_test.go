package speech_test

import (
	"fmt"
	"math"
	"testing"

	"stepcaller/speech"
)

// BenchmarkReception prints, by signal to noise ratio, by level and by
// overload, how words are obeyed and what the ears think of it: the limits of
// a verdict are chosen by it.
func BenchmarkReception(b *testing.B) {
	noise := recordings(b, "noise/*.flac", 5, 6)
	voices := []string{"en-us+f3", "en-gb-scotland+m1", "awb"}
	say := func(b *testing.B, level, floor, gain float64) {
		var y tally
		var snr, clipped float64
		verdicts := map[string]int{}
		for i, voice := range voices {
			e := newEars(b)
			commands, _ := numbersOf(e)
			const lead = 32000
			total := lead
			var sounds [][]int16
			for _, c := range commands {
				sounds = append(sounds, spoken(b, voice, c))
				total += len(sounds[len(sounds)-1]) + lead
			}
			t := &track{pcm: make([]float64, total), r: newTrack(1, uint64(i)).r}
			if floor > -100 {
				t.under(noise, floor)
			}
			at := lead
			for k, s := range sounds {
				end := t.put(at, s, level)
				for n := range t.pcm[at-lead/2 : end+lead/2] {
					t.pcm[at-lead/2+n] *= math.Pow(10, gain/20)
				}
				pcm := (&track{pcm: t.pcm[at-lead/2 : end+lead/2]}).samples()
				y.said++
				for _, h := range listen(e, pcm[:len(pcm)/speech.Frame*speech.Frame], nil) {
					switch {
					case h.Label == commands[k] && h.Sure:
						y.obeyed++
					case h.Label == commands[k]:
						y.asked++
					case h.Sure:
						y.wrong++
					}
				}
				r := e.Reception()
				snr, clipped = snr+r.SNR, clipped+r.Clipped
				verdicts[fmt.Sprint(r.Verdict, " ", r.Cause)]++
				at = end + lead
			}
		}
		b.Logf("%s; SNR measured %.1f dB, clipped %.3f, verdicts %v", y, snr/float64(y.said), clipped/float64(y.said), verdicts)
	}
	for _, snr := range []float64{20, 10, 5, 2, 0, -2, -4, -6} {
		b.Run(fmt.Sprintf("SNR %.0f dB", snr), func(b *testing.B) { say(b, -25, -25-snr, 0) })
	}
	for _, level := range []float64{-45, -55, -60, -65, -70} {
		b.Run(fmt.Sprintf("speech at %.0f dBFS", level), func(b *testing.B) { say(b, level, level-30, 0) })
	}
	for _, gain := range []float64{10, 20, 25, 30, 40} {
		b.Run(fmt.Sprintf("driven %.0f dB over -15 dBFS", gain), func(b *testing.B) { say(b, -15, -45, gain) })
	}
}
