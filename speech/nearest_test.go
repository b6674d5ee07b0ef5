package speech_test

import (
	"testing"

	"stepcaller/speech"
)

func TestNearestPhraseIsKnownWhateverWasDecided(t *testing.T) {
	const voice = "en-us+f3"
	next, week := spoken(t, voice, "next"), spoken(t, voice, "week")
	e := newEars(t)
	sound := newTrack(4, 1)
	end := sound.put(24000, next, -25)
	sound.put(end+1600, week, -25) // too close behind: no command
	heard := listen(e, sound.samples()[:end+16000], nil)
	if len(heard) != 1 || heard[0].Label != "" || heard[0].Nearest == "" {
		t.Fatalf("heard %+v, want one utterance without a label and with a nearest phrase", heard)
	}
	if got := e.Nearest(24000, speech.Samples(end)); got != "next" {
		t.Errorf("the first word alone is nearest to %q", got)
	}
	e.Live([]string{"torque", "louder"})
	if got := e.Nearest(24000, speech.Samples(end)); got != "torque" && got != "louder" {
		t.Errorf("with two phrases live it is nearest to %q", got)
	}
	for name, span := range map[string][2]speech.Samples{"an empty span": {30000, 30000}, "one to come": {200000, 210000}} {
		if got := e.Nearest(span[0], span[1]); got != "" {
			t.Errorf("%s is nearest to %q", name, got)
		}
	}
	listen(e, newTrack(4, 1).samples(), nil)
	if got := e.Nearest(0, 8000); got != "" {
		t.Errorf("what was forgotten is nearest to %q", got)
	}
	e.Live(nil)
	if got := e.Nearest(70000, 80000); got != "" {
		t.Errorf("with nothing live it is nearest to %q", got)
	}
}

func TestNearestIsTheLabelOfWhatIsObeyed(t *testing.T) {
	sound := newTrack(4, 1)
	sound.put(24000, spoken(t, "en-gb+m5", "carry on"), -25)
	heard := listen(newEars(t), sound.samples(), nil)
	if len(heard) != 1 || heard[0].Label != "carry on" || heard[0].Nearest != "carry on" {
		t.Errorf("heard %+v", heard)
	}
}

func TestResetEarsHearAsNewOnes(t *testing.T) {
	sound := newTrack(4, 1)
	sound.put(24000, spoken(t, "en-gb+m5", "carry on"), -25)
	pcm := sound.samples()
	e := newEars(t)
	first := listen(e, pcm, nil)
	e.Live([]string{"torque"})
	e.Reset()
	if heard := listen(e, pcm, nil); len(heard) != 1 || heard[0].Label == "carry on" {
		t.Errorf("what is live did not outlast the reset: heard %+v", heard)
	}
	e.Live([]string{"carry on", "next"})
	e.Reset()
	if again := listen(e, pcm, nil); len(again) != 1 || len(first) != 1 || again[0].Score != first[0].Score || again[0].At != first[0].At {
		t.Errorf("heard %+v after the reset, %+v before", again, first)
	}
}
