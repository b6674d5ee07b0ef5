package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator/labour"
	"stepcaller/procedures"
	"stepcaller/speech"
	"stepcaller/testdata"
)

// fanBelt is a procedure with an invented machine, short enough for a track.
const fanBelt = `
stepcaller: 1
id: fan-belt
title: Fan belt
machine: Ostwick Pony
book:
  - {code: "0410", title: Fan belt, hours: 0.1}
tools: [ratchet]
parts: [belt]
cautions: [Engine off]
steps:
  - {id: cover, say: Take the cover off., minutes: 1}
  - {id: belt, say: Swap the belt., minutes: 1}
  - id: close
    say: Put the cover back.
    minutes: 1
    torque:
      - {fastener: cover bolts, count: 4, value: 7 lbf·ft}
`

func writeProcedure(t testing.TB, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "procedure.yaml")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// rehearseCommand runs `stepcaller rehearse` as a user would and reads its document.
func rehearseCommand(t testing.TB, procedure, track string, more ...string) (Rehearsal, []byte) {
	t.Helper()
	args := append([]string{"rehearse", procedure, "--hear", track, "--data", filepath.Join(t.TempDir(), "data"), "--json"}, more...)
	root := newRoot()
	var out bytes.Buffer
	root.SetOut(&out)
	root.SetArgs(args)
	if err := root.ExecuteContext(t.Context()); err != nil {
		t.Fatalf("%v: %v", args, err)
	}
	var r Rehearsal
	if err := json.Unmarshal(out.Bytes(), &r); err != nil {
		t.Fatalf("%v in %s", err, out.Bytes())
	}
	return r, out.Bytes()
}

func words(r Rehearsal) string {
	var w []string
	for _, h := range r.Heard {
		w = append(w, h.Word)
	}
	return strings.Join(w, ", ")
}

func TestAJobFromATrack(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	for _, who := range technicians {
		t.Run(who.voice, func(t *testing.T) {
			track := []said{{10, "next"}, {20, "hold the job"}, {26, "parts"}, {40, "carry on"}, {50, "next"}, {56, "torque"},
				{70, "finish job"}, {78, "yes"}}
			say := filepath.Join(t.TempDir(), "say.wav")
			r, _ := rehearseCommand(t, writeProcedure(t, fanBelt), writeTrack(t, who.track(t, 90, track...)), "--say", say)
			if r.State != labour.Finished || len(r.Heard) != len(track) {
				t.Fatalf("%s, heard %s", r.State, words(r))
			}
			for i, h := range r.Heard {
				if h.Word != track[i].word || math.Abs(h.AtS-track[i].at) > 0.05 {
					t.Errorf("heard %q at %.3f s, said %q at %.3f s", h.Word, h.AtS, track[i].word, track[i].at)
				}
			}
			ends := []float64{r.Heard[0].AtS, r.Heard[4].AtS, r.Heard[6].AtS}
			for i, s := range r.Steps {
				if float64(s.Ended) != ends[i] {
					t.Errorf("step %s ends at %v s, the word that ended it began at %v s", s.ID, s.Ended, ends[i])
				}
			}
			if len(r.Torques) != 1 || math.Abs(r.Torques[0].Value-9.490725638) > 1e-6 { // 7 × 1.355817948..., NIST SP 811 App. B
				t.Errorf("torques %+v", r.Torques)
			}
			if len(r.Pauses) != 1 || r.Pauses[0].Reason != "parts" {
				t.Errorf("pauses %+v", r.Pauses)
			}
			pcm, err := readTrack(say)
			if err != nil {
				t.Fatal(err)
			}
			if len(pcm) < 90*speech.Rate {
				t.Errorf("%d samples said, less than the track", len(pcm))
			}
			checkSaid(t, r, pcm)
		})
	}
}

// checkSaid holds the document against the sound: while a sentence is said there is sound, and behind a cut there is none for 50 ms unless
// the next sentence or a tone began.
func checkSaid(t *testing.T, r Rehearsal, pcm []int16) {
	t.Helper()
	for i, s := range r.Said {
		from, to := int(s.AtS*speech.Rate), int(s.EndedS*speech.Rate)
		if to > len(pcm) || from >= to {
			t.Errorf("said %q from %v to %v s", s.Text, s.AtS, s.EndedS)
			continue
		}
		loud := 0
		for _, v := range pcm[from:to] {
			if v > 100 || v < -100 {
				loud++
			}
		}
		if loud == 0 {
			t.Errorf("no sound in %q", s.Text)
		}
		if i > 0 && s.AtS < r.Said[i-1].EndedS {
			t.Errorf("%q begins before %q has ended", s.Text, r.Said[i-1].Text)
		}
	}
}

func readTrack(path string) ([]int16, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return speech.DecodeWAV(f)
}

func TestTheSameTrackGivesTheSameBytes(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	track := writeTrack(t, technicians[0].track(t, 30, said{8, "next"}, said{14, "where am i"}))
	procedure := writeProcedure(t, fanBelt)
	say1, say2 := filepath.Join(t.TempDir(), "1.wav"), filepath.Join(t.TempDir(), "2.wav")
	_, first := rehearseCommand(t, procedure, track, "--say", say1)
	_, second := rehearseCommand(t, procedure, track, "--say", say2)
	if !bytes.Equal(first, second) {
		t.Errorf("documents differ:\n%s\n%s", first, second)
	}
	a, _ := os.ReadFile(say1)
	b, _ := os.ReadFile(say2)
	if len(a) == 0 || !bytes.Equal(a, b) {
		t.Error("what was said differs")
	}
}

func TestATrackThatEndsMidJobLeavesItOpen(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	r, _ := rehearseCommand(t, writeProcedure(t, fanBelt), writeTrack(t, technicians[0].track(t, 20, said{8, "next"})))
	if r.State != labour.Open || r.Elapsed != 20 || float64(r.Steps[1].Ended) != 20 {
		t.Errorf("%s after %v s, steps %+v", r.State, r.Elapsed, r.Steps)
	}
}

func TestNoFolderIsRehearsedIntoTwice(t *testing.T) {
	data := t.TempDir()
	if err := os.WriteFile(filepath.Join(data, "something"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	code := run(t.Context(), []string{"rehearse", "valve-cover", "--hear", "x.wav", "--data", data})
	if code != exitUsage {
		t.Errorf("exit code %d", code)
	}
}

// The gap between "next" and what follows decides: at once, they are one utterance and nothing; soon, the action becomes a question.
func TestAWordMustStandAlone(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	who := technicians[0]
	next := float64(len(who.speak(t, "next"))) / speech.Rate
	t.Run("within 200 ms", func(t *testing.T) {
		r, _ := rehearseCommand(t, writeProcedure(t, fanBelt), writeTrack(t, who.track(t, 20, said{10, "next"}, said{10 + next + 0.1, "week"})))
		if len(r.Heard) != 0 || len(r.Steps) != 1 {
			t.Errorf("heard %s, steps %d", words(r), len(r.Steps))
		}
	})
	t.Run("after 600 ms", func(t *testing.T) {
		r, _ := rehearseCommand(t, writeProcedure(t, fanBelt), writeTrack(t, who.track(t, 25, said{10, "next"}, said{10 + next + 0.6, "week after the holidays"})))
		if len(r.Steps) != 1 || !asked(r, "Next?") {
			t.Errorf("heard %s, said %+v", words(r), r.Said)
		}
	})
	t.Run("answered with yes", func(t *testing.T) {
		r, _ := rehearseCommand(t, writeProcedure(t, fanBelt), writeTrack(t, who.track(t, 25, said{10, "next"}, said{10 + next + 0.6, "week after the holidays"}, said{17, "yes"})))
		if len(r.Steps) != 2 || math.Abs(float64(r.Steps[1].Started)-10) > 0.05 {
			t.Errorf("heard %s, steps %+v", words(r), r.Steps)
		}
	})
}

func asked(r Rehearsal, text string) bool {
	for _, s := range r.Said {
		if s.Written == text {
			return true
		}
	}
	return false
}

func TestAYesWithoutAQuestionIsNothing(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	r, _ := rehearseCommand(t, writeProcedure(t, fanBelt), writeTrack(t, technicians[0].track(t, 40, said{10, "yes"}, said{15, "finish job"}, said{34, "yes"})))
	if r.State != labour.Open {
		t.Error("a yes long after the question finished the job")
	}
	for _, h := range r.Heard {
		if h.Word == "yes" {
			t.Errorf("heard yes at %v s", h.AtS)
		}
	}
}

// The program's own voice, as loud as the technician and louder, is in the microphone.
func TestItNeverObeysItself(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	who := technicians[0]
	track := []said{{20, "next"}, {45, "torque"}, {70, "what can i say"}, {100, "next"}}
	for _, echo := range []int{-10, 0, 10} {
		t.Run(fmt.Sprintf("%+d dB", echo), func(t *testing.T) {
			r, _ := rehearseCommand(t, writeProcedure(t, fanBelt), writeTrack(t, who.track(t, 115, track...)), "--echo", strconv.Itoa(echo))
			for _, h := range r.Heard {
				meant := false
				for _, s := range track {
					meant = meant || h.Word == s.word && math.Abs(h.AtS-s.at) < 0.05
				}
				if !meant {
					t.Errorf("heard %q at %v s, which nobody said", h.Word, h.AtS)
				}
			}
			if len(r.Heard) < len(track) {
				t.Logf("heard %s of %d words", words(r), len(track))
			}
		})
	}
}

// The bundled track runs from any folder and is heard as its labels say.
func TestTheBundledTrackIsHeard(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	t.Chdir(t.TempDir())
	path := filepath.Join(t.TempDir(), "technician.flac")
	if err := os.WriteFile(path, testdata.Technician, 0o600); err != nil {
		t.Fatal(err)
	}
	r, _ := rehearseCommand(t, procedures.Demo, path)
	if r.State != labour.Finished {
		t.Errorf("the job is %s", r.State)
	}
	var want []said
	inNote := false
	for line := range strings.Lines(testdata.TechnicianLabels) {
		at, word, ok := strings.Cut(strings.TrimSpace(line), "\t")
		if !ok || strings.HasPrefix(word, "[") {
			continue
		}
		if word == "end of note" {
			inNote = false
		}
		if !inNote {
			seconds, err := strconv.ParseFloat(at, 64)
			if err != nil {
				t.Fatal(err)
			}
			want = append(want, said{seconds, word})
		}
		if word == "take a note" {
			inNote = true
		}
	}
	for i, h := range r.Heard {
		if i >= len(want) || h.Word != want[i].word || math.Abs(h.AtS-want[i].at) > 0.05 {
			t.Errorf("heard %q at %v s", h.Word, h.AtS)
		}
	}
	if len(r.Heard) != len(want) {
		t.Errorf("heard %s: %d words of %d", words(r), len(r.Heard), len(want))
	}
	if len(r.Memos) != 1 || r.Memos[0].Length < 3 {
		t.Errorf("memos %+v", r.Memos)
	}
}

func TestStartTimeGivesTheJobItsID(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	r, _ := rehearseCommand(t, writeProcedure(t, fanBelt), writeTrack(t, technicians[0].track(t, 5)), "--at", "2031-05-06T07:08:09Z")
	if r.Job != "2031-05-06-1" || !r.StartedAt.Equal(time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)) {
		t.Errorf("job %s begun %v", r.Job, r.StartedAt)
	}
}
