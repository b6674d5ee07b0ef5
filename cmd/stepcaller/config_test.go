package main

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"stepcaller/procedures"
	"strings"
	"testing"

	"github.com/spf13/pflag"
)

// at home gives the test a home folder of its own.
func atHome(t *testing.T) string {
	t.Helper()
	home := t.TempDir()
	t.Setenv("HOME", home)
	t.Setenv("XDG_CONFIG_HOME", "")
	t.Setenv("XDG_DATA_HOME", "")
	return home
}

func flagsOf(t *testing.T, args ...string) *pflag.FlagSet {
	t.Helper()
	f := newRoot().PersistentFlags()
	if err := f.Parse(args); err != nil {
		t.Fatal(err)
	}
	return f
}

func TestFlagsOverEnvironmentOverFileOverDefaults(t *testing.T) {
	home := atHome(t)
	file := filepath.Join(home, ".config", "stepcaller", "config.yaml")
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		t.Fatal(err)
	}
	text := "technician: File\nunit: lbf·ft\nvoice: {pace: 140}\nwords: [{command: carry on, say: [carry on]}]\n"
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := readConfig("", flagsOf(t))
	if err != nil || c.Technician != "File" || c.Unit != "lbf·ft" || c.Voice.Pace != 140 || c.Voice.Volume != defaultConfig().Voice.Volume {
		t.Errorf("file: %+v, %v", c, err)
	}
	t.Setenv("STEPCALLER_TECHNICIAN", "Environment")
	t.Setenv("STEPCALLER_VOICE_PACE", "150")
	c, err = readConfig("", flagsOf(t))
	if err != nil || c.Technician != "Environment" || c.Voice.Pace != 150 || c.Unit != "lbf·ft" {
		t.Errorf("environment: %+v, %v", c, err)
	}
	c, err = readConfig("", flagsOf(t, "--technician", "Flag"))
	if err != nil || c.Technician != "Flag" || c.Voice.Pace != 150 {
		t.Errorf("flag: %+v, %v", c, err)
	}
}

func TestWhatConfigPrintsReadsBackAsTheSame(t *testing.T) {
	home := atHome(t)
	var out bytes.Buffer
	want := defaultConfig()
	want.Technicians = []string{"Ines", "Marek: senior", "Tove #2"}
	want.Approvers = []string{"customer", "service desk"}
	want.Wrenches = []procedures.WrenchText{{Name: "the long one", Span: "40 to 200 N·m", Step: "1 N·m", Length: 500, Adapter: 60, Angle: 90}}
	want.Microphone = "Headset: \"left\""
	if err := writeConfig(&out, want); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(home, "c.yaml")
	if err := os.WriteFile(path, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	got, err := readConfig(path, flagsOf(t))
	if err != nil {
		t.Fatalf("%v in\n%s", err, out.String())
	}
	if len(got.Words) == 0 {
		got.Words = want.Words
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v\nwant %+v", got, want)
	}
}

func TestALanguageBringsItsVoiceUnlessSomebodyChose(t *testing.T) {
	home := atHome(t)
	path := filepath.Join(home, "c.yaml")
	for text, voice := range map[string]string{
		"unit: N·m\n":                                defaultConfig().Voice.Name,
		"language: de\n":                             "de",
		"language: de\nvoice: {name: mb-de5}\n":      "mb-de5",
		"language: de\nvoice: {name: en-gb}\n":       "en-gb",
		"language: en\nvoice: {pace: 150}\n":         defaultConfig().Voice.Name,
		"language: " + home + "/polski.yaml\n":       "pl",
		"language: de\nlexicon: " + home + "/l.yaml": "de",
	} {
		for name, body := range map[string]string{"c.yaml": text, "polski.yaml": "language: pl\ntexts: {Listening.: Słucham.}\n", "l.yaml": "ÖDS: Öldruckschalter\n"} {
			if err := os.WriteFile(filepath.Join(home, name), []byte(body), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		c, err := readConfig(path, flagsOf(t))
		if err != nil || c.Voice.Name != voice {
			t.Errorf("%q: voice %q, %v, want %q", text, c.Voice.Name, err, voice)
		}
		if aloud, err := c.aloud(); c.Lexicon != "" && (err != nil || aloud.Speakable("ÖDS ca. 3 mm") != "Öldruckschalter zirka 3 Millimeter") {
			t.Errorf("the lexicon: %q, %v", aloud.Speakable("ÖDS ca. 3 mm"), err)
		}
	}
	if c, err := readConfig(path, flagsOf(t, "--language", "de", "--voice", "en-gb")); err != nil || c.Voice.Name != "en-gb" {
		t.Errorf("a flag: %q, %v", c.Voice.Name, err)
	}
	t.Setenv("STEPCALLER_VOICE_NAME", "en-us")
	if c, err := readConfig(path, flagsOf(t, "--language", "de")); err != nil || c.Voice.Name != "en-us" {
		t.Errorf("the environment: %q, %v", c.Voice.Name, err)
	}
}

func TestEveryKeyIsDocumented(t *testing.T) {
	for _, key := range configKeys(defaultConfig()) {
		if key.doc == "" || key.path == "" {
			t.Errorf("key %q has no doc", key.path)
		}
	}
}

func TestWrongConfigurationsSayWhereAndWhat(t *testing.T) {
	home := atHome(t)
	wrong := func(text string, parts ...string) {
		t.Helper()
		path := filepath.Join(home, "c.yaml")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := readConfig(path, flagsOf(t))
		if err == nil {
			t.Errorf("accepted: %s", text)
			return
		}
		for _, part := range append(parts, "c") {
			if !strings.Contains(err.Error(), part) {
				t.Errorf("%q: error %q without %q", text, err, part)
			}
		}
		if exitCode(err) != exitUsage {
			t.Errorf("%q: exit code %d", text, exitCode(err))
		}
	}
	wrong("technician: A\nvoise:\n  pace: 100\n", "[2:1]", "voise")
	wrong("voice: {pace: fast}\n", "[1:15]")
	wrong("unit: stone·furlong\n", "unit", "stone")
	wrong("answer: soon\n", "answer", "soon")
	wrong("reasons: [parts, daydreaming]\n", "reasons", "daydreaming")
	wrong("words: [{command: next, say: [off]}]\n", "words", "off")
	wrong("words: [{command: next, say: [torque]}]\n", "torque")
	wrong("voice: {volume: 300}\n", "voice.volume", "300")
	wrong("voice: {pace: 9}\n", "9")
	wrong("approvers: {a: b}\n", "[1:12]")
	wrong("wrenches: [{name: long, span: 200 to 40 N·m}]\n", "wrenches", "long", "200 to 40")
	wrong("language: klingon\n", "language", "klingon", "en or de")
	wrong("language: ./absent.yaml\n", "language", "absent.yaml")
	wrong("lexicon: absent.yaml\n", "lexicon", "absent.yaml")
	lexicon := filepath.Join(home, "lexicon.yaml")
	if err := os.WriteFile(lexicon, []byte("ABS: anti-lock brakes\n42: the answer\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	wrong("lexicon: "+lexicon+"\n", "lexicon.yaml:2:1", "42")
	wrong("data: [\n", "[")
	if _, err := readConfig(filepath.Join(home, "absent.yaml"), flagsOf(t)); err == nil || exitCode(err) != exitUsage {
		t.Errorf("a named file that is absent: %v", err)
	}
}
