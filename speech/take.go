package speech

import (
	"fmt"
	"math"
	"time"
)

// Take is one spoken example of a phrase: the sound of one utterance with the
// quiet around it, at [Rate].
type Take struct {
	Label    string // what was to be said
	PCM      []int16
	From, To Samples // its speech, as samples of PCM
}

// TakeMargin is the quiet that a take should have before and after its speech:
// as much as the ears look at, and a little more.
const TakeMargin = 300 * time.Millisecond

// What makes a take useless.
const (
	TakeQuietest = 6.0                    // dB that its speech must stand above the quiet around it
	TakeShortest = 120 * time.Millisecond // of speech
	takeClipped  = 3                      // samples in a row at full scale
)

// Level is how loud the speech is, in dBFS, over its louder frames.
func (t Take) Level() float64 {
	return decibels(activePower(t.PCM[t.From:t.To]))
}

// Floor is how loud the quiet around the speech is, in dBFS: the softest tenth
// of the take.
func (t Take) Floor() float64 {
	powers := framePowers(t.PCM)
	if len(powers) == 0 {
		return silence
	}
	return decibels(quantile(powers, 0.1))
}

// Check says why a take cannot be learnt from, in words that can be spoken, or
// returns nil.
func (t Take) Check() error {
	switch {
	case t.From < 0 || t.To > Samples(len(t.PCM)) || t.From >= t.To:
		return fmt.Errorf("no speech in it")
	case t.To-t.From < SamplesIn(TakeShortest):
		return fmt.Errorf("too short")
	case clipped(t.PCM):
		return fmt.Errorf("too loud for the microphone")
	case t.Level()-t.Floor() < TakeQuietest:
		return fmt.Errorf("too quiet")
	}
	return nil
}

// clipped reports whether the microphone or its amplifier ran out of range.
func clipped(pcm []int16) bool {
	run := 0
	for _, v := range pcm {
		if v < math.MaxInt16-8 && v > math.MinInt16+8 {
			run = 0
			continue
		}
		if run++; run >= takeClipped {
			return true
		}
	}
	return false
}

// framePowers is the mean square of every whole frame, full scale 1.
func framePowers(pcm []int16) (powers []float64) {
	for i := 0; i+Frame <= len(pcm); i += Frame {
		powers = append(powers, meanSquare(pcm[i:i+Frame])/(32768*32768))
	}
	return powers
}

// activePower is the mean square of the frames within 32 dB of the loudest.
func activePower(pcm []int16) float64 {
	var top, sum, n float64
	powers := framePowers(pcm)
	for _, p := range powers {
		top = max(top, p)
	}
	for _, p := range powers {
		if p > top/1600 {
			sum, n = sum+p, n+1
		}
	}
	return sum / max(1, n)
}
