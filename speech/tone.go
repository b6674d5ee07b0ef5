package speech

import (
	"math"
	"time"
)

// HeardTone says that a command was heard and is being obeyed: one soft note,
// 60 ms at 660 Hz.
func HeardTone() []int16 { return note(nil, 660, 60*time.Millisecond) }

// UnsureTone says that a question follows: two notes that rise, as a question
// does.
func UnsureTone() []int16 {
	return note(note(nil, 523, 70*time.Millisecond), 784, 90*time.Millisecond)
}

// FailedTone says that speech was heard and not understood: one low note.
func FailedTone() []int16 { return note(nil, 330, 140*time.Millisecond) }

// note appends a note of two partials, the octave at a third of the
// fundamental, with edges of 12 ms shaped as a raised cosine. Its peak stays
// under the cap of the tone lane.
func note(pcm []int16, hertz float64, d time.Duration) []int16 {
	const (
		octave = 1.0 / 3
		level  = toneCap * fullScale / (1 + octave)
		edge   = 12 * Rate / 1000
	)
	n := int(SamplesIn(d))
	for i := range n {
		phase := 2 * math.Pi * hertz * float64(i) / Rate
		shape := 1.0
		if near := min(i, n-1-i); near < edge {
			shape = (1 - math.Cos(math.Pi*float64(near)/edge)) / 2
		}
		pcm = append(pcm, int16(math.Round(level*shape*(math.Sin(phase)+octave*math.Sin(2*phase)))))
	}
	return pcm
}
