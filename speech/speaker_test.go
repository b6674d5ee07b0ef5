package speech_test

import (
	"testing"
	"time"

	"stepcaller/speech"
	"stepcaller/speech/soundtest"
)

func TestSpeakerPlays(t *testing.T) {
	server := soundtest.Start(t)
	eachRate(t, func(t *testing.T, c speech.DeviceConfig) {
		p := speech.NewPlayer()
		s := openSpeaker(t, newHost(t), c, p)
		r := server.RecordSpeaker()
		// On a busy machine the loudspeaker may run dry, which spoils a chirp or
		// delays those that follow: the distance is logged, not asserted.
		const apart = speech.Rate / 2
		said := chirps(1600, 1600+apart, 1600+2*apart, 1600+3*apart)
		p.Say(1, said)
		var places []int
		if !r.Await(func(pcm []int16) bool {
			places = findChirps(pcm)
			return len(places) >= 2 && len(pcm) > places[len(places)-1]+4*apart
		}) {
			t.Fatalf("chirps at %v", places)
		}
		for i := range places[1:] {
			t.Logf("%d samples from chirp to chirp, %d as said", places[i+1]-places[i], apart)
		}
		reports := p.Reports()
		if len(reports) != 2 || int(reports[1].At-reports[0].At) != len(said) {
			t.Errorf("reports %v", reports)
		}
		if err := s.Advance(speech.Frame); err != nil {
			t.Error(err)
		}
		t.Logf("latency %v", s.Latency())
	})
}

// silentFrom is the place after the last sample that is louder than the

func silentFrom(pcm []int16) int {
	for i := len(pcm) - 1; i >= 0; i-- {
		if pcm[i] > 100 || pcm[i] < -100 {
			return i + 1
		}
	}
	return 0
}

func TestCutIsSilenceAtTheLoudspeaker(t *testing.T) {
	server := soundtest.Start(t)
	eachRate(t, func(t *testing.T, c speech.DeviceConfig) {
		p := speech.NewPlayer()
		openSpeaker(t, newHost(t), c, p)
		r := server.RecordSpeaker()
		p.Say(1, mains(20*speech.Rate, speech.Rate))
		if !r.Await(func(pcm []int16) bool { return silentFrom(pcm) > 8000 }) {
			t.Fatal("nothing to be heard")
		}
		cut := len(r.Sound())
		p.Cut()
		if !r.Await(func(pcm []int16) bool { return len(pcm) > silentFrom(pcm)+4800 }) {
			t.Fatal("the voice goes on")
		}
		d := speech.Samples(silentFrom(r.Stop()) - cut).Duration()
		t.Logf("silence %v after Cut, the recorder's own delay included", d)
		if d > 500*time.Millisecond {
			t.Errorf("silence only %v after Cut", d)
		}
	})
}
