package speech_test

import (
	"errors"
	"strings"
	"testing"

	"stepcaller/speech"
)

func TestParseCommand(t *testing.T) {
	accept := func(line, want string) {
		t.Helper()
		c, err := speech.ParseCommand(line)
		if err != nil {
			t.Errorf("%s: %v", line, err)
		} else if c.String() != want {
			t.Errorf("%s was read as %s, want %s", line, c, want)
		}
	}
	refuse := func(line, why string) {
		t.Helper()
		c, err := speech.ParseCommand(line)
		if err == nil {
			t.Errorf("%s was taken, as %s", line, c)
		} else if !strings.Contains(err.Error(), why) {
			t.Errorf("%s: %v, which does not say %q", line, err, why)
		}
	}
	accept(`hum`, `hum`)
	accept(`  hum  -s  "two words"  `, `hum -s 'two words'`)
	accept(`'/opt/my voice/hum' $HOME ; | > &`, `'/opt/my voice/hum' \$HOME \; \| \> \&`)
	refuse(``, "empty")
	refuse(`   `, "empty")
	refuse(`hum "two`, "close every quote")
	refuse(`hum -s {speed}`, "{speed} means nothing here: use {text}, {wpm}")
	refuse(`hum {}`, "{} means nothing here")
	refuse(`{voice} {text}`, "name it")
}

func TestCommandThatCannotBeFoundSaysWhatToInstall(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	missing := func(line, remedy string) {
		t.Helper()
		c, err := speech.ParseCommand(line)
		if err != nil {
			t.Fatal(err)
		}
		_, spoken := speech.CommandVoice{Command: c, Settings: speech.DefaultSettings()}.Speak(t.Context(), "one")
		for _, err := range []error{c.Find(), spoken} {
			if !errors.Is(err, speech.ErrVoiceMissing) || !strings.Contains(err.Error(), remedy) {
				t.Errorf("%s: %v, want ErrVoiceMissing and %q", line, err, remedy)
			}
		}
	}
	missing(speech.DefaultCommand, "apt-get install espeak-ng")
	missing("text2wave -o {wav}", "apt-get install festival")
	missing("/no/such/hum {text}", "name another voice command")
	if err := (speech.Command{}).Find(); err == nil {
		t.Error("no command at all was found")
	}
}

func TestSettingsCheck(t *testing.T) {
	check := func(s speech.Settings, good bool) {
		t.Helper()
		if err := s.Check(); (err == nil) != good {
			t.Errorf("%+v: %v", s, err)
		}
	}
	check(speech.DefaultSettings(), true)
	check(speech.Settings{Voice: "slt", WordsPerMinute: speech.SlowestWords}, true)
	check(speech.Settings{Voice: "slt", WordsPerMinute: speech.FastestWords}, true)
	check(speech.Settings{Voice: "slt", WordsPerMinute: speech.SlowestWords - 1}, false)
	check(speech.Settings{Voice: "slt", WordsPerMinute: speech.FastestWords + 1}, false)
	check(speech.Settings{Voice: "", WordsPerMinute: 160}, false)
	check(speech.Settings{Voice: "-w /etc/passwd", WordsPerMinute: 160}, false)
}
