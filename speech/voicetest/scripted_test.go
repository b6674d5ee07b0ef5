package voicetest_test

import (
	"testing"

	"stepcaller/speech"
	"stepcaller/speech/voicetest"
)

func TestScriptedVoiceKeepsTheContract(t *testing.T) {
	t.Run("plain", func(t *testing.T) { voicetest.Contract(t, voicetest.ScriptedVoice{}) })
	t.Run("in other settings", func(t *testing.T) {
		voicetest.Contract(t, voicetest.ScriptedVoice{}.At(speech.Settings{Voice: "low", WordsPerMinute: 120}))
	})
	t.Run("made ahead", func(t *testing.T) {
		ahead := speech.NewAhead(voicetest.ScriptedVoice{}.At, speech.DefaultSettings())
		defer ahead.Close()
		voicetest.Contract(t, ahead)
	})
}

func TestScriptedVoiceTellsItsLength(t *testing.T) {
	voice := voicetest.ScriptedVoice{}
	pcm, err := voice.Speak(t.Context(), " ten  bytes ")
	if err != nil {
		t.Fatal(err)
	}
	if want := speech.Samples(9 * 960); voice.Length(" ten  bytes ") != want || speech.Samples(len(pcm)) != want {
		t.Errorf("%d samples told, %d made, want %d", voice.Length(" ten  bytes "), len(pcm), want)
	}
}
