package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stepcaller/procedures"
	"stepcaller/speech"
	"stepcaller/speech/hearing"
)

// spokenFolder has the voice say each word into a folder of its own.
func spokenFolder(t testing.TB, words ...string) string {
	t.Helper()
	voice := needVoice(t, speech.DefaultCommand).At(speech.DefaultSettings())
	dir := t.TempDir()
	for _, w := range words {
		pcm, err := voice.Speak(t.Context(), w)
		if err != nil {
			t.Fatal(err)
		}
		folder := filepath.Join(dir, strings.ReplaceAll(w, " ", "_"))
		if err := os.Mkdir(folder, 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(writeTrack(t, pcm), filepath.Join(folder, "1.wav")); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// hearingCommand runs the command and returns what it printed.
func hearingCommand(t testing.TB, args ...string) (string, error) {
	t.Helper()
	root := newRoot()
	var out bytes.Buffer
	root.SetOut(&out)
	root.SetArgs(append([]string{"hearing-test"}, args...))
	err := root.ExecuteContext(t.Context())
	return out.String(), err
}

func TestHearingTestPrintsADocumentOrATable(t *testing.T) {
	atHome(t)
	dir := spokenFolder(t, "next", "hold the job", "banana", "parts")
	picture, transcripts := filepath.Join(t.TempDir(), "confusion.svg"), filepath.Join(t.TempDir(), "trn")
	text, err := hearingCommand(t, dir, "--json", "--picture", picture, "--transcripts", transcripts)
	if err != nil {
		t.Fatal(err)
	}
	var r hearing.Report
	d := json.NewDecoder(strings.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&r); err != nil {
		t.Fatalf("%v in %s", err, text)
	}
	if len(r.Settings.Live) != len(procedures.InGroup(procedures.Always))+2 || slices.Contains(r.Settings.Live, "parts") || !slices.Contains(r.Settings.Live, "yes") {
		t.Errorf("live: %v", r.Settings.Live)
	}
	e := r.Engines[0]
	if e.Name != "stepcaller" || len(e.Conditions) != 1 || e.Conditions[0].N != 2 || e.Conditions[0].SNR != nil || e.Ignored.N != 2 {
		t.Errorf("%+v", e)
	}
	for _, path := range []string{picture, filepath.Join(transcripts, "stepcaller-clean.ref.trn"), filepath.Join(transcripts, "stepcaller-clean.hyp.trn")} {
		if info, err := os.Stat(path); err != nil || info.Size() == 0 {
			t.Errorf("%s: %v", path, err)
		}
	}
	text, err = hearingCommand(t, dir, "--words", "reasons, Next")
	if err != nil || !strings.Contains(text, "12 phrases live; 2 clips of them, 2 clips of other words") {
		t.Errorf("%v: %s", err, text)
	}
}

func TestHearingTestUsesTheShopsWords(t *testing.T) {
	config := filepath.Join(atHome(t), "shop.yaml")
	shop := "words:\n  - {command: tool list, say: [part list]}\n  - {command: part list, say: []}\n"
	if err := os.WriteFile(config, []byte(shop), 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := readConfig(config, flagsOf(t))
	if err != nil {
		t.Fatal(err)
	}
	words, err := c.words()
	if err != nil {
		t.Fatal(err)
	}
	live, err := livePhrases(words, "commands,next")
	if err != nil || len(live) != len(procedures.InGroup(procedures.Always))+1 || slices.Contains(live, "tool list") || !slices.Contains(live, "part list") {
		t.Errorf("%v: %v", err, live)
	}
	if all, err := livePhrases(words, "all"); err != nil || !slices.Contains(all, "zero") || !slices.Contains(all, "break") {
		t.Errorf("%v: %v", err, all)
	}
}

func TestHearingTestSaysWhatIsWrong(t *testing.T) {
	atHome(t)
	dir := t.TempDir()
	broken := filepath.Join(dir, "next", "1.wav")
	if err := os.Mkdir(filepath.Dir(broken), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(broken, []byte("RIFF"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		code int
		says string
		args []string
	}{
		{exitUsage, "--snr needs --noise", []string{dir, "--snr", "10"}},
		{exitUsage, `"loud" is no ratio`, []string{dir, "--noise", dir, "--snr", "10,loud"}},
		{exitUsage, `"sing" is no phrase`, []string{dir, "--words", "commands,sing"}},
		{exitUsage, "no WAV or FLAC file", []string{t.TempDir()}},
		{exitUsage, "no such file", []string{filepath.Join(dir, "absent")}},
		{exitUsage, "--talk", []string{dir, "--talk", t.TempDir()}},
		{exitUsage, ".svg or .png", []string{dir, "--picture", "confusion.gif"}},
		{exitUsage, "which recordings", nil},
		{exitFailed, broken, []string{dir}}, // the table is printed all the same
		{exitFailed, "none of 1 noise files", []string{dir, "--noise", dir}},
	} {
		_, err := hearingCommand(t, c.args...)
		if err == nil || exitCode(err) != c.code || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v: %v, want exit code %d and %q", c.args, err, c.code, c.says)
		}
	}
}

// BenchmarkHearing prints the table of recorded digits and other words beside the repository, where there are any.
func BenchmarkHearing(b *testing.B) {
	data := "../../../shared/speech-data"
	if _, err := os.Stat(data); err != nil {
		b.Skip("no recordings in ../shared/speech-data")
	}
	for b.Loop() {
		text, err := hearingCommand(b, filepath.Join(data, "words"), "--noise", filepath.Join(data, "noise"), "--talk", filepath.Join(data, "talk"), "--words", "numbers")
		if err != nil {
			b.Fatal(err)
		}
		b.Logf("\n%s", text)
	}
}

func TestAMissingFolderIsNamedWithWhatToDo(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{nil, "stepcaller hearing-test recordings"},
		{[]string{filepath.Join(t.TempDir(), "none")}, "check the spelling"},
		{[]string{"a", "b"}, "accepts 1 arg"},
	} {
		root := newRoot()
		root.SetArgs(append([]string{"hearing-test", "--config", emptyConfig(t)}, c.args...))
		if err := root.ExecuteContext(t.Context()); exitCode(err) != exitUsage || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want %q", c.args, err, c.want)
		}
	}
}
