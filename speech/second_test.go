package speech_test

import (
	"testing"
	"time"

	"stepcaller/speech"
)

// Whatever was said a moment ago, the next word is heard: a technician says
// "repeat", listens to a word of it and says "stop".
func TestASecondWordIsHeardSoonAfterTheFirst(t *testing.T) {
	for _, voice := range []string{"en-us+f3", "en-gb+m5", "en-us+m2"} {
		heard, said := 0, 0
		for _, gap := range []time.Duration{900 * time.Millisecond, 1200 * time.Millisecond, 1500 * time.Millisecond} {
			for _, first := range []string{"stop", "yes", "repeat"} {
				for _, second := range []string{"stop", "seven", "break", "torque", "yes"} {
					sound := newTrack(5.5, 1)
					at := sound.put(24000, spoken(t, voice, first), -25) + int(speech.SamplesIn(gap))
					sound.put(at, spoken(t, voice, second), -25)
					said++
					if h := listen(newEars(t), sound.samples(), nil); len(h) > 0 && int(h[len(h)-1].To) > at {
						heard++
					}
				}
			}
		}
		if heard < said*97/100 {
			t.Errorf("%s: %d of %d second words were noticed", voice, heard, said)
		}
	}
}
