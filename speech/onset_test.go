package speech_test

import "testing"

// A recording opens with the hiss of its room, far below the word in it: that is
// not where the word begins. The times were read off the level of each clip, 10 ms
// by 10 ms.
func TestAWordDoesNotBeginWithTheHissBeforeIt(t *testing.T) {
	for file, begins := range map[string]int{"nine/10": 340, "five/9": 332, "eight/10": 165} { // ms
		sound := newTrack(4, 1)
		clear(sound.pcm)
		sound.noise(-80)
		const at = 24000
		sound.put(at, recordings(t, "words/"+file+".flac", 0, 1)[0], -25)
		e := newEars(t)
		_, numbers := numbersOf(e)
		e.Live(numbers)
		found := false
		for _, h := range listen(e, sound.samples(), nil) {
			found = true
			if d := int(h.From-at)/16 - begins; d < -50 || d > 50 {
				t.Errorf("%s: the word is placed %d ms off", file, d)
			}
		}
		if !found {
			t.Errorf("%s: nothing heard", file)
		}
	}
}
