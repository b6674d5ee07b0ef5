package main

import (
	"errors"
	"io"
	"math"
	"slices"
	"time"

	"stepcaller/speech"
)

// echoDelay is the time that sound takes from the loudspeaker's converter over the air to the microphone's: 120 ms, a plain
// sound card with buffers and an arm's length of air (common practice).
const echoDelay = 120 * time.Millisecond

// echo is a loudspeaker standing beside the microphone: a source that hears its track and, quieter or louder, what is pulled
// through it.
type echo struct {
	track speech.Source
	feed  speech.Feed
	gain  float64
	line  []int16 // pulled and not yet heard, oldest first
	mixed []int16
}

// newEcho sets the gain so that speech, as the voice makes it and the volume in per cent leaves it, is heard db decibels above the speech on
// the track.
func newEcho(track speech.Source, feed speech.Feed, path string, db float64, volume int) (*echo, error) {
	level, err := speechLevel(path)
	if err != nil {
		return nil, err
	}
	return &echo{track: track, feed: feed, gain: level / (speech.VoiceRMS * float64(volume) / 100) * math.Pow(10, db/20),
		line: make([]int16, speech.SamplesIn(echoDelay))}, nil
}

// Pull implements speech.Feed.
func (e *echo) Pull(out []int16) {
	e.feed.Pull(out)
	e.line = append(e.line, out...)
}

// Read implements speech.Source.
func (e *echo) Read() (speech.Block, error) {
	b, err := e.track.Read()
	if err != nil {
		return b, err
	}
	e.mixed = append(e.mixed[:0], b.PCM...)
	n := min(len(e.line), len(e.mixed))
	for i, v := range e.line[:n] {
		sum := float64(e.mixed[i]) + e.gain*float64(v)
		e.mixed[i] = int16(math.Round(max(math.MinInt16, min(math.MaxInt16, sum))))
	}
	e.line = slices.Delete(e.line, 0, n)
	b.PCM = e.mixed
	return b, nil
}

func (e *echo) Anchor() time.Duration { return e.track.Anchor() }
func (e *echo) Close() error          { return e.track.Close() }

// speechLevel is the effective value of a track's speech: of those frames that come within 20 dB of its loud ones (the 95th
// percentile), so that pauses do not count.
func speechLevel(path string) (float64, error) {
	t, err := speech.OpenTrack(path, 0)
	if err != nil {
		return 0, usage("--hear: %v", err)
	}
	defer t.Close()
	var power []float64
	for {
		b, err := t.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return 0, err
		}
		sum := 0.0
		for _, v := range b.PCM {
			sum += float64(v) * float64(v)
		}
		power = append(power, sum/float64(len(b.PCM)))
	}
	if len(power) == 0 {
		return 0, usage("--hear %s: the track is empty", path)
	}
	sorted := slices.Clone(power)
	slices.Sort(sorted)
	// Speech may be a small part of a track: its loud frames are looked for among those that are not silence.
	floor := sorted[len(sorted)-1] / 1e4
	active := sorted[sortedFrom(sorted, floor):]
	loud := active[len(active)*95/100]
	active = sorted[sortedFrom(sorted, loud/100):]
	sum := 0.0
	for _, p := range active {
		sum += p
	}
	return math.Sqrt(sum / float64(len(active))), nil
}

func sortedFrom(sorted []float64, least float64) int {
	i, _ := slices.BinarySearch(sorted, least)
	return i
}
