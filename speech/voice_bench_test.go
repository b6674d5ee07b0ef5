package speech_test

import (
	"testing"

	"stepcaller/speech"
	"stepcaller/speech/voicetest"
)

// longSentence takes some 8 s at 160 words a minute.
const longSentence = "Tighten the six bolts of the cylinder head in two stages, first to forty newton metres, " +
	"then a further ninety degrees, working outward from the middle."

func BenchmarkVoice(b *testing.B) {
	program := func(program, line, name string) {
		b.Run(program, func(b *testing.B) {
			voicetest.Need(b, program)
			voice := speech.CommandVoice{Command: parsed(b, line), Settings: speech.Settings{Voice: name, WordsPerMinute: 160}}
			benchmarkVoice(b, voice)
		})
	}
	program("espeak-ng", speech.DefaultCommand, "en-gb")
	program("flite", "flite -voice {voice} --setf duration_stretch={stretch} -t {text} -o {wav}", "slt")
	b.Run("kept", func(b *testing.B) {
		a := speech.NewAhead(voicetest.ScriptedVoice{}.At, speech.DefaultSettings())
		defer a.Close()
		benchmarkVoice(b, a)
	})
}

func benchmarkVoice(b *testing.B, voice speech.Voice) {
	pcm := said(b, voice, longSentence)
	for b.Loop() {
		said(b, voice, longSentence)
	}
	b.ReportMetric(speech.Samples(len(pcm)).Duration().Seconds(), "s-of-sound")
}
