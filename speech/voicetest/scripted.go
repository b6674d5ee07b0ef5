package voicetest

import (
	"context"
	"fmt"
	"hash/fnv"
	"math"
	"time"

	"stepcaller/speech"
)

// ScriptedVoice is a [speech.Voice] that hums: each text at a pitch of its own, 60 ms for each of its
// bytes at 165 words a minute. It stands in for a program in tests of what is done with a voice.
type ScriptedVoice struct {
	// Settings change the pitch and the pace; the zero value hums at 165 words a minute.
	Settings speech.Settings
	// Before, when set, is called first in every Speak, on the goroutine of the caller. It may wait, and
	// the error it returns is what Speak returns.
	Before func(ctx context.Context, text string) error
}

// At is the voice in other settings.
func (v ScriptedVoice) At(s speech.Settings) speech.Voice {
	v.Settings = s
	return v
}

// Length is how long the sound of text will be, 0 where there is nothing to say.
func (v ScriptedVoice) Length(text string) speech.Samples {
	line, err := speech.Speakable(text)
	if err != nil {
		return 0
	}
	pace := v.Settings.WordsPerMinute
	if pace == 0 {
		pace = 165
	}
	return speech.SamplesIn(time.Duration(len(line)) * 60 * time.Millisecond * 165 / time.Duration(pace))
}

// Speak implements [speech.Voice].
func (v ScriptedVoice) Speak(ctx context.Context, text string) ([]int16, error) {
	line, err := speech.Speakable(text)
	if err != nil {
		return nil, err
	}
	if v.Before != nil {
		if err := v.Before(ctx, line); err != nil {
			return nil, fmt.Errorf("speaking %q: %w", line, err)
		}
	}
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("speaking %q: %w", line, err)
	}
	name := fnv.New32a()
	fmt.Fprint(name, v.Settings, line)
	hertz := 200 + float64(name.Sum32()%1000)
	pcm := make([]int16, v.Length(line))
	for i := range pcm {
		pcm[i] = int16(4600 * math.Sin(2*math.Pi*hertz*float64(i+1)/speech.Rate))
	}
	return pcm, nil
}
