package hearing_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"stepcaller/speech"
	"stepcaller/speech/hearing"
	"stepcaller/speech/voicetest"
)

var realEars = hearing.Ears{New: func() (*speech.Ears, error) { return speech.NewEars(speech.DefaultEarsConfig()) }}

// spokenClips are words of two synthetic voices, three of them live.
func spokenClips(t testing.TB) (clips []hearing.Clip, live []string) {
	t.Helper()
	voicetest.Need(t, "espeak-ng")
	dir := t.TempDir()
	for folder, text := range map[string]string{"next": "next", "hold_the_job": "hold the job", "torque": "torque", "banana": "banana"} {
		for _, voice := range []string{"en-us+f3", "en-gb+m5"} {
			if err := os.MkdirAll(filepath.Join(dir, folder), 0o777); err != nil {
				t.Fatal(err)
			}
			if out, err := exec.Command("espeak-ng", "-v", voice, "-s", "160", "-w", filepath.Join(dir, folder, voice+".wav"), text).CombinedOutput(); err != nil {
				t.Fatalf("espeak-ng: %v: %s", err, out)
			}
		}
	}
	live = []string{"next", "hold the job", "torque", "repeat", "yes", "no"}
	clips, _, err := hearing.FindClips(dir, live)
	if err != nil {
		t.Fatal(err)
	}
	return clips, live
}

func TestEarsHearSyntheticVoicesTheSameEachTime(t *testing.T) {
	clips, live := spokenClips(t)
	test := hearing.Test{Engines: []hearing.Engine{realEars}, Live: live, Clips: clips, Noise: noises(t), SNRs: []float64{20}}
	e := measure(t, test).Engines[0]
	clean := e.Conditions[0]
	if clean.N != 6 || clean.Counts.Forced < 5 || clean.Counts.AcceptedRight < 4 || e.Ignored.N != 2 {
		t.Errorf("clean: %+v; to ignore: %+v", clean, e.Ignored)
	}
	if e.Latency.P50 == nil || *e.Latency.P50 < 100 || *e.Latency.P50 > 400 {
		t.Errorf("decided %v after the word", e.Latency)
	}
	if e.StartError.P50 == nil || *e.StartError.P50 > 50 {
		t.Errorf("a word's time is off by %v", e.StartError)
	}
	if e.RealTimeFactor <= 0 {
		t.Errorf("real-time factor %v", e.RealTimeFactor)
	}
	if again := measure(t, test).Engines[0]; !reflect.DeepEqual(withoutLoad(again), withoutLoad(e)) {
		t.Errorf("the second time %+v, the first %+v", again, e)
	}
}

// Ears that find no utterance still tell the nearest phrase, though they have long
// forgotten it when the clip ends.
func TestNearestIsFoundInALongClip(t *testing.T) {
	clips, live := spokenClips(t)
	source, err := speech.OpenTrack(clips[slices.IndexFunc(clips, func(c hearing.Clip) bool { return c.Word == "hold the job" })].Path, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer source.Close()
	var word []int16
	for {
		b, err := source.Read()
		if err != nil {
			break
		}
		word = append(word, b.PCM...)
	}
	dir := t.TempDir()
	writeWAV(t, dir, "hold the job/1.wav", slices.Concat(word, make([]int16, 5*speech.Rate)))
	if clips, _, err = hearing.FindClips(dir, live); err != nil {
		t.Fatal(err)
	}
	deaf := hearing.Ears{New: func() (*speech.Ears, error) {
		config := speech.DefaultEarsConfig()
		config.Margin = 60 // dB above the noise floor: nothing is speech
		return speech.NewEars(config)
	}}
	c := measure(t, hearing.Test{Engines: []hearing.Engine{deaf}, Live: live, Clips: clips}).Engines[0].Conditions[0]
	if c.Counts.Forced != 1 || c.Counts.Missed != 1 {
		t.Errorf("%+v", c)
	}
}

func TestEarsSayWhatTheyDoNotKnow(t *testing.T) {
	if _, err := realEars.Listen([]string{"next", "eleventeen"}); err == nil || !strings.Contains(err.Error(), "eleventeen") {
		t.Errorf("a phrase that was never trained: %v", err)
	}
}

func TestPictureShowsEveryPhrase(t *testing.T) {
	r := measure(t, hearing.Test{Engines: []hearing.Engine{planned, planned}, Live: plannedLive, Clips: plannedClips(t)})
	dir := t.TempDir()
	vector, pixels := filepath.Join(dir, "matrix.svg"), filepath.Join(dir, "matrix.PNG")
	for _, path := range []string{vector, pixels} {
		if err := hearing.WritePicture(path, r); err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(vector)
	if err != nil {
		t.Fatal(err)
	}
	var words []string
	for d := xml.NewDecoder(bytes.NewReader(text)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not well formed: %v", err)
		}
		if chars, ok := token.(xml.CharData); ok {
			words = append(words, strings.TrimSpace(string(chars)))
		}
	}
	for _, w := range []string{"next", "stop", "hold the job", "2"} {
		n := 0
		for _, other := range words {
			if other == w {
				n++
			}
		}
		if n < 2 { // of each engine
			t.Errorf("%q stands %d times in %q", w, n, words)
		}
	}
	f, err := os.Open(pixels)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	picture, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	colours := map[[3]uint32]bool{}
	for y := range picture.Bounds().Dy() {
		for x := range picture.Bounds().Dx() {
			r, g, b, _ := picture.At(x, y).RGBA()
			colours[[3]uint32{r >> 8, g >> 8, b >> 8}] = true
		}
	}
	if !colours[[3]uint32{20, 70, 140}] || len(colours) < 10 {
		t.Errorf("%d colours and no cell that is right throughout", len(colours))
	}
	if err := hearing.WritePicture(filepath.Join(dir, "matrix.pdf"), r); err == nil || !strings.Contains(err.Error(), ".svg or .png") {
		t.Errorf("a name of another ending: %v", err)
	}
	if err := hearing.WritePicture(vector, &hearing.Report{Engines: []hearing.Result{{}}}); err == nil {
		t.Error("a picture without clips is no mistake")
	}
}
