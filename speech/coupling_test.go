package speech_test

import "testing"

// With a headset our own voice never reaches the microphone. Then a technician who talks over it is heard as if it were
// silent, from the first second of its speech on.
func TestAHeadsetLetsTheTechnicianTalkOverOurVoice(t *testing.T) {
	long := "Step seven. Fit the new gasket with the printed side up, then set the cover down over the two dowels and start all bolts by hand."
	played := ownVoice(t, 34, long, long, long, long)
	words := []string{"next", "stop", "repeat", "torque", "hold the job", "finish job", "where am i", "louder"}
	for _, voice := range []string{"en-us+f3", "en-gb+m5"} {
		mic := newTrack(34, 4)
		mic.noise(-60)
		for i, w := range words {
			mic.put(16000*3+i*48000, spoken(t, voice, w), -25)
		}
		var got []string
		for _, h := range listen(newEars(t), mic.samples(), played) {
			got = append(got, h.Label)
		}
		if len(got) != len(words) {
			t.Errorf("%s: said %q over our voice, heard %q", voice, words, got)
			continue
		}
		for i, w := range words {
			if got[i] != w {
				t.Errorf("%s: said %q over our voice, heard %q", voice, w, got[i])
			}
		}
	}
}
