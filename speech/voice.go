package speech

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"unicode"
)

// A Voice turns one sentence into sound.
//
//   - The text is words ready to be spoken; control characters and line ends count as spaces.
//   - The sound is mono at Rate, begins and ends within some 10 ms of the speech, and belongs to the caller.
//   - The same text gives the same samples for as long as the voice and its version stay the same.
//   - A text with neither letter nor digit in it is ErrVoiceSilent.
//   - A cancelled ctx ends the work; the error then wraps ctx.Err(), and nothing that was started runs on.
//   - A leading dash is text, never an option.
//   - Any number of goroutines may call Speak at once.
//
// The suite in speech/voicetest holds every implementation to this.
type Voice interface {
	Speak(ctx context.Context, text string) ([]int16, error)
}

// What can become of a sentence besides sound. Errors of a Voice wrap one of these, so that a caller
// can fall back to a tone and to text in the terminal, and say why.
var (
	// ErrVoiceMissing: the program is not installed, or may not be run.
	ErrVoiceMissing = errors.New("the voice program is missing")
	// ErrVoiceFailed: the program ended with an exit status other than 0, or by a signal.
	ErrVoiceFailed = errors.New("the voice program failed")
	// ErrVoiceHung: the program had not finished when its time was over, and was ended.
	ErrVoiceHung = errors.New("the voice program hung")
	// ErrVoiceEndless: the program wrote more sound than any sentence needs, and was ended.
	ErrVoiceEndless = errors.New("the voice program did not stop talking")
	// ErrVoiceGarbled: what the program wrote is not a WAV file.
	ErrVoiceGarbled = errors.New("the voice program wrote no readable sound")
	// ErrVoiceSilent: there was nothing to say, or nothing but silence came back.
	ErrVoiceSilent = errors.New("nothing was spoken")
	// ErrVoiceClosed: the Ahead that was asked has been closed.
	ErrVoiceClosed = errors.New("the voice is closed")
)

// Limits of Settings.WordsPerMinute: slower than SlowestWords falls apart, faster than FastestWords
// cannot be followed over a running engine (common practice).
const (
	SlowestWords = 80
	FastestWords = 300
)

// Settings are how a voice speaks. They are comparable, and two voices of equal settings made from the
// same command sound alike.
type Settings struct {
	// Voice is the program's own name for the speaker, such as en-gb for espeak-ng or slt for flite.
	Voice string
	// WordsPerMinute is the pace, from SlowestWords to FastestWords.
	WordsPerMinute int
}

// DefaultSettings suit DefaultCommand: an English voice, a little slower than reading aloud.
func DefaultSettings() Settings { return Settings{Voice: "en-gb", WordsPerMinute: 160} }

// Check says what is wrong with s, or nil.
func (s Settings) Check() error {
	if s.WordsPerMinute < SlowestWords || s.WordsPerMinute > FastestWords {
		return fmt.Errorf("voice settings: %d words a minute: choose from %d to %d",
			s.WordsPerMinute, SlowestWords, FastestWords)
	}
	if s.Voice == "" || strings.HasPrefix(s.Voice, "-") {
		return fmt.Errorf("voice settings: voice %q: give the name the voice program knows, such as %q",
			s.Voice, DefaultSettings().Voice)
	}
	return nil
}

// Speakable is text on one line without control characters, as a [Voice] takes it, or ErrVoiceSilent when
// there is neither letter nor digit in it.
func Speakable(text string) (string, error) {
	line := strings.Join(strings.FieldsFunc(strings.ToValidUTF8(text, " "), func(r rune) bool {
		return unicode.IsSpace(r) || unicode.IsControl(r)
	}), " ")
	pronounced := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
	if !strings.ContainsFunc(line, pronounced) {
		return "", fmt.Errorf("speaking %q: no letter or digit in it: %w", text, ErrVoiceSilent)
	}
	return line, nil
}
