package main

import (
	"bytes"
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stepcaller/speech"
	"stepcaller/speech/soundtest"
	"stepcaller/testdata"
)

// noisy is three words over white noise of a level in dBFS, all of it driven by gain dB.
func noisy(t *testing.T, floor, gain float64) []int16 {
	t.Helper()
	pcm := technicians[0].track(t, 13, said{4, "next"}, said{7, "next"}, said{10, "next"})
	noise := rand.New(rand.NewPCG(5, 6))
	for i, v := range pcm {
		sum := math.Pow(10, gain/20) * (float64(v) + 32768*math.Pow(10, floor/20)*noise.NormFloat64())
		pcm[i] = int16(max(-32768, min(32767, sum)))
	}
	return pcm
}

func TestWhoWasAskedAndNotHeardIsTold(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	for name, c := range map[string]struct {
		pcm   []int16
		found string
		mend  string // "" for a room that will do
	}{
		"understood": {noisy(t, -66, 0), `"next" heard: 3`, ""},
		"nobody":     {technicians[0].track(t, 5), "nobody was heard", "not the microphone that you speak into"},
		"other talk": {technicians[0].track(t, 6, said{2, "a bucket of cold water"}), "was not understood", "voice teach"},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := hearFile(t.Context(), defaultConfig(), writeTrack(t, c.pcm))
			if err != nil {
				t.Fatal(err)
			}
			r.asked = true
			v := r.verdict("")
			text := v.found
			if v.err != nil {
				text = v.err.Error()
			}
			if !strings.Contains(text, c.found) || (v.err == nil) != (c.mend == "") || !strings.Contains(v.mend, c.mend) {
				t.Errorf("%+v", v)
			}
		})
	}
}

func TestTheRoomIsMeasuredFromAFile(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	for name, c := range map[string]struct {
		pcm   []int16
		found string
		mend  string // "" for a room that will do
	}{
		"quiet":       {noisy(t, -66, 0), `"next" heard: 3`, ""},
		"noisy":       {noisy(t, -27, 0), "words will be missed: ", "make less noise"},
		"driven":      {noisy(t, -66, 42), "clipped", "Turn the microphone down"},
		"hardly":      {noisy(t, -80, -42), "words will be missed: ", "Turn the microphone up"},
		"muted":       {make([]int16, 5*speech.Rate), "nothing but digital silence", "muted"},
		"nobody":      {technicians[0].track(t, 5), "nobody spoke", ""},
		"no sound":    {nil, "nothing but digital silence", "muted"},
		"half a word": {noisy(t, -66, 0)[:4*speech.Rate+2000], "noise floor", ""},
	} {
		t.Run(name, func(t *testing.T) {
			path := writeTrack(t, c.pcm)
			r, err := hearFile(t.Context(), defaultConfig(), path)
			if err != nil {
				t.Fatal(err)
			}
			v := r.verdict("")
			text := v.found
			if v.err != nil {
				text = v.err.Error()
			}
			if !strings.Contains(text, c.found) || (v.err == nil) != (c.mend == "") || !strings.Contains(v.mend, c.mend) {
				t.Errorf("%+v", v)
			}
		})
	}
}

func TestTheBundledTrackIsAGoodRoom(t *testing.T) {
	r, err := hearBundled(t.Context(), defaultConfig())
	if err != nil {
		t.Fatal(err)
	}
	if v := r.verdict("bundled: "); v.err != nil || !strings.HasPrefix(v.found, "bundled: noise floor") || r.wanted == 0 {
		t.Errorf("%+v, %d words", v, r.wanted)
	}
}

func TestACheckCanBeBrokenOff(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := hearBundled(ctx, defaultConfig()); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
}

func TestAFileToHearThatIsNone(t *testing.T) {
	root := newRoot()
	var out bytes.Buffer
	root.SetOut(&out)
	root.SetErr(&out)
	root.SetArgs([]string{"check", "machine", "--data", t.TempDir(), "--hear", filepath.Join(t.TempDir(), "none.wav")})
	if err := root.ExecuteContext(t.Context()); err == nil || !strings.Contains(out.String(), "--hear: ") {
		t.Errorf("%v in\n%s", err, out.String())
	}
}

// A good file is good on a machine without sound, too.
func TestAFileIsCheckedAlone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "technician.flac")
	if err := os.WriteFile(path, testdata.Technician, 0o600); err != nil {
		t.Fatal(err)
	}
	out := command(t, t.TempDir(), "check", "machine", "--hear", path, "--microphone", "none such")
	if !strings.Contains(out, "hearing") || strings.Contains(out, "microphone") {
		t.Errorf("checked:\n%s", out)
	}
}

// At a microphone the check asks for quiet and for three words, and does not wait longer than they last.
func TestTheRoomIsMeasuredAtAMicrophone(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	atHome(t)
	server := soundtest.Start(t)
	server.Saying(slices.Repeat(noisy(t, -60, 0), 3)) // more than the check listens to
	p := startProgram(t, "check", "machine", "--data", t.TempDir())
	p.until("Be quiet for 3 seconds")
	p.until("Now say", `"next" three times`)
	p.until("microphone", "good")
	p.until("hearing", "good", "noise floor -", "dB above it", `"next" heard`)
	if err := p.rest(); err != nil {
		t.Errorf("ended with %v", err)
	}
}
