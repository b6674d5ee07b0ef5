package speech_test

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/speech"
)

// hum is a take of a tone.
func hum(label string, ms int) speech.Take {
	margin := speech.SamplesIn(speech.TakeMargin)
	t := speech.Take{Label: label, PCM: make([]int16, 2*margin+speech.Samples(16*ms)), From: margin, To: margin + speech.Samples(16*ms)}
	for i := t.From; i < t.To; i++ {
		t.PCM[i] = int16(8000 * math.Sin(float64(i)/9))
	}
	return t
}

func openAlbum(t testing.TB, dir, name string) *speech.Album {
	t.Helper()
	a, err := speech.OpenAlbum(dir, name)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func keep(t testing.TB, a *speech.Album, words map[string]string, takes ...speech.Take) *speech.Sitting {
	t.Helper()
	s, err := a.Sit(words)
	if err != nil {
		t.Fatal(err)
	}
	for _, take := range takes {
		if err := s.Keep(take); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func TestTakesAreKeptAsTheyWere(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(rt *rapid.T) {
		name := rapid.StringMatching(`[A-Za-zäöé.' /-]{0,8}[a-z]`).Draw(rt, "name")
		label := rapid.StringMatching(`[a-zäöü' .-]{0,10}[a-z]`).Draw(rt, "label")
		want := hum(label, rapid.IntRange(1, 400).Draw(rt, "ms"))
		a, err := speech.OpenAlbum(dir, name)
		if err != nil {
			rt.Fatal(err)
		}
		s, err := a.Sit(map[string]string{label: "next"})
		if err != nil {
			rt.Fatal(err)
		}
		if err := s.Keep(want); err != nil {
			rt.Fatal(err)
		}
		takes, words, err := openAlbum(t, dir, name).Takes([]int{s.Number})
		if err != nil {
			rt.Fatal(err)
		}
		if !slices.ContainsFunc(takes, func(got speech.Take) bool {
			return got.Label == label && slices.Equal(got.PCM, want.PCM) && got.From == want.From && got.To == want.To
		}) || words[label] != "next" {
			rt.Errorf("album %q: %d takes, words %v", name, len(takes), words)
		}
	})
}

func TestASittingThatWasCutOffGoesOn(t *testing.T) {
	dir := t.TempDir()
	first := keep(t, openAlbum(t, dir, "Ines"), nil, hum("next", 300), hum("next", 310))
	again := openAlbum(t, dir, "ines")
	second := keep(t, again, nil, hum("repeat", 200))
	if first.Number != second.Number {
		t.Errorf("sitting %d, then %d", first.Number, second.Number)
	}
	if other := keep(t, again, map[string]string{"weiter": "next"}); other.Number == first.Number {
		t.Error("a sitting for an own word goes on with one for commands")
	}
	if err := again.Refused([]int{first.Number}); err != nil {
		t.Fatal(err)
	}
	if third := keep(t, again, nil); third.Number == first.Number {
		t.Error("a sitting that ended goes on")
	}
	takes, err := second.Takes()
	if err != nil || len(takes) != 3 {
		t.Errorf("%d takes, %v", len(takes), err)
	}
}

func TestForgettingGoesBackOneLesson(t *testing.T) {
	dir := t.TempDir()
	a := openAlbum(t, dir, "Ines")
	var numbers []int
	for i := range 2 {
		s := keep(t, a, nil, hum("next", 300))
		numbers = append(numbers, s.Number)
		if err := a.Learnt(speech.State{Network: speech.NetworkID(), Sittings: slices.Clone(numbers), Result: fmt.Sprint("lesson ", i)}); err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []struct {
		forgot bool
		result string
		left   []int
	}{{true, "lesson 0", numbers[:1]}, {true, "", nil}, {false, "", nil}} {
		a = openAlbum(t, dir, "Ines")
		forgot, err := a.Forget(false)
		if err != nil {
			t.Fatal(err)
		}
		left, err := openAlbum(t, dir, "Ines").Sittings()
		if err != nil || forgot != want.forgot || a.State().Result != want.result || !slices.Equal(left, want.left) {
			t.Errorf("forgot %v, state %q, sittings %v (%v); want %+v", forgot, a.State().Result, left, err, want)
		}
	}
	if takes := files(t, dir, "*/*/*.wav"); len(takes) != 2 {
		t.Errorf("takes %q", takes)
	}
	if s := keep(t, a, nil, hum("next", 300)); slices.Contains(numbers, s.Number) {
		t.Errorf("sitting %d is used again", s.Number)
	}
	if _, err := a.Forget(true); err != nil {
		t.Fatal(err)
	}
	if takes := files(t, dir, "*/*/*.wav"); len(takes) != 0 {
		t.Errorf("takes %q", takes)
	}
}

func files(t testing.TB, dir, pattern string) []string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(dir, pattern))
	if err != nil {
		t.Fatal(err)
	}
	return found
}

func TestADamagedVoiceIsRefusedAndItsTakesStay(t *testing.T) {
	dir := t.TempDir()
	a := openAlbum(t, dir, "Ines")
	s := keep(t, a, nil, hum("next", 300))
	if err := a.Learnt(speech.State{Network: speech.NetworkID(), Sittings: []int{s.Number}, Result: "kept"}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "ines.voice")
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	refuses := func(rt interface{ Errorf(string, ...any) }, data []byte, want string) {
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := speech.OpenAlbum(dir, "Ines")
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), "teach again") {
			rt.Errorf("error %v, want %q", err, want)
		}
	}
	rapid.Check(t, func(rt *rapid.T) {
		data := slices.Clone(whole)
		i := rapid.IntRange(0, len(data)-1).Draw(rt, "byte")
		data[i] ^= 1 << rapid.IntRange(0, 7).Draw(rt, "bit")
		refuses(rt, data, "")
	})
	for i := range len(whole) {
		refuses(t, whole[:i], "")
	}
	refuses(t, bytes.Replace(whole, []byte("VOICE 1 "), []byte("VOICE 2 "), 1), "newer version")
	refuses(t, []byte("hello"), "no file of a technician's voice")
	refuses(t, bytes.Replace(whole, []byte("kept"), []byte("left"), 1), "damaged")
	if takes, err := s.Takes(); err != nil || len(takes) != 1 {
		t.Errorf("%d takes, %v", len(takes), err)
	}
	if err := os.WriteFile(path, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	if got := openAlbum(t, dir, "Ines").State().Result; got != "kept" {
		t.Errorf("result %q", got)
	}
}

func TestTakesOfABrokenFileAreLeftOutAndTold(t *testing.T) {
	dir := t.TempDir()
	a := openAlbum(t, dir, "Ines")
	s := keep(t, a, nil, hum("next", 300), hum("next", 300))
	if err := os.WriteFile(files(t, dir, "*/*/*.wav")[0], []byte("no sound"), 0o600); err != nil {
		t.Fatal(err)
	}
	takes, err := s.Takes()
	if len(takes) != 1 || err == nil {
		t.Errorf("%d takes, %v", len(takes), err)
	}
}

func TestAnotherNetworksVoiceIsNotCurrent(t *testing.T) {
	a := openAlbum(t, t.TempDir(), "Ines")
	if !a.Current() {
		t.Error("an empty album is to be learnt again")
	}
	s := keep(t, a, nil, hum("next", 300))
	if err := a.Learnt(speech.State{Network: "another", Sittings: []int{s.Number}}); err != nil {
		t.Fatal(err)
	}
	if a.Current() {
		t.Error("another network's state counts")
	}
	if err := a.Again(speech.State{Network: speech.NetworkID(), Sittings: []int{s.Number}}); err != nil {
		t.Fatal(err)
	}
	if !a.Current() {
		t.Error("it is not current when learnt again")
	}
}

// A process that keeps takes is killed; every take that it reported is there.
func TestNoFinishedTakeIsLostToAKill(t *testing.T) {
	if dir := os.Getenv("STEPCALLER_TEST_KEEPS_TAKES"); dir != "" {
		s := keep(t, openAlbum(t, dir, "Ines"), nil)
		for i := 0; ; i++ {
			if err := s.Keep(hum("next", 300)); err != nil {
				t.Fatal(err)
			}
			fmt.Println("kept", i)
		}
	}
	dir := t.TempDir()
	cmd := exec.Command(os.Args[0], "-test.run", "^TestNoFinishedTakeIsLostToAKill$", "-test.timeout", "30s")
	cmd.Env = append(os.Environ(), "STEPCALLER_TEST_KEEPS_TAKES="+dir)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	reported := 0
	for lines := bufio.NewScanner(out); reported < 7 && lines.Scan(); {
		if strings.HasPrefix(lines.Text(), "kept") {
			reported++
		}
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait() // killed
	takes, err := keep(t, openAlbum(t, dir, "Ines"), nil).Takes()
	if err != nil || len(takes) < reported || reported < 7 {
		t.Errorf("%d takes of %d that were reported, %v", len(takes), reported, err)
	}
}
