package speech

import (
	"testing"

	"github.com/gordonklaus/portaudio"
)

// What runs on the audio thread allocates nothing, full rings included.
func TestCallbacksDoNotAllocate(t *testing.T) {
	w, err := newWake()
	if err != nil {
		t.Fatal(err)
	}
	defer w.close()
	m := &Microphone{pcm: newRing[int16](Rate), marks: newRing[mark](1000), wake: w}
	direct := &Speaker{feed: NewPlayer()}
	resampled := &Speaker{feed: NewPlayer(), pcm: newRing[int16](48000), wake: w}
	sound := make([]int16, Frame)
	check := func(name string, callback func()) {
		t.Helper()
		if n := testing.AllocsPerRun(500, callback); n != 0 {
			t.Errorf("%s: %v allocations", name, n)
		}
	}
	check("record", func() { m.record(sound, portaudio.StreamCallbackTimeInfo{}, portaudio.InputOverflow) })
	check("play", func() { direct.play(sound, portaudio.StreamCallbackTimeInfo{}) })
	check("play resampled", func() { resampled.playResampled(sound, portaudio.StreamCallbackTimeInfo{}) })
	if m.dropped == 0 || m.marks.len() == 0 {
		t.Errorf("%d samples dropped after %d deliveries", m.dropped, m.marks.len())
	}
}
