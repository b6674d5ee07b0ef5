package main

import (
	"bytes"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stepcaller/procedures"
	"stepcaller/speech"
)

// stranger is a technician whom the ears hear badly: a German synthetic voice that reads English.
var stranger = technician{command: speech.DefaultCommand, voice: "de", pace: 150}

// replies is a track of answers to prompts, 1.2 s apart, each round of takes at another pace.
func (p technician) replies(t testing.TB, prompts []string, say map[string]string) []int16 {
	t.Helper()
	const gap = 1.2
	at := gap
	pcm := p.track(t, gap+3*float64(len(prompts)))
	for i, w := range prompts {
		who := p
		who.pace += []int{-12, 0, 12, 25, -25}[i*5/max(5, len(prompts))]
		if other, ok := say[w]; ok {
			w = other
		}
		sound := who.speak(t, w)
		for j, v := range sound {
			pcm[int(at*speech.Rate)+j] += v
		}
		at += float64(len(sound))/speech.Rate + gap
	}
	return pcm[:int(at*speech.Rate)]
}

// command runs a command line on a data folder and returns what it printed.
func command(t testing.TB, data string, args ...string) string {
	t.Helper()
	root := newRoot()
	var out bytes.Buffer
	root.SetOut(&out)
	root.SetErr(&out)
	root.SetArgs(append(args, "--data", data, "--config", emptyConfig(t)))
	if err := root.ExecuteContext(t.Context()); err != nil {
		t.Fatalf("%q: %v\n%s", args, err, out.String())
	}
	return out.String()
}

func emptyConfig(t testing.TB) string {
	path := filepath.Join(t.TempDir(), "config.yaml")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// hears is what the ears of a data folder decide on words said by a technician at paces that were not taught.
func (p technician) hears(t testing.TB, data, name string, words []string, say map[string]string) (heard []speech.Heard, troubles []error, news []string) {
	t.Helper()
	c := defaultConfig()
	c.Technician = name
	config, err := c.ears()
	if err != nil {
		t.Fatal(err)
	}
	ears, err := speech.NewEars(config)
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{}
	live := attune(t.Context(), ears, procedures.DefaultWords(), c, data, &troubleWatch{bench: b})
	var phrases []string
	for _, m := range procedures.Meanings() {
		if m.Group != procedures.Numbers {
			phrases = append(phrases, live.Phrases(m.Command)...)
		}
	}
	if unknown := ears.Live(phrases); len(unknown) > 0 {
		t.Fatalf("the ears do not know %q", unknown)
	}
	for i, w := range words {
		who := p
		who.pace += 5*(i%5) - 10
		if other, ok := say[w]; ok {
			w = other
		}
		pcm := who.track(t, 3, said{1.2, w})
		ears.Reset()
		for at := 0; at+speech.Frame <= len(pcm); at += speech.Frame {
			heard = append(heard, ears.Hear(speech.Block{At: speech.Samples(at), PCM: pcm[at : at+speech.Frame]}, nil)...)
		}
	}
	return heard, b.troubles, b.news
}

// obeyed counts decisions by whether one of words was obeyed, or something else.
func obeyed(heard []speech.Heard, words []string) (right, wrong int) {
	for _, h := range heard {
		switch {
		case h.Sure && slices.Contains(words, h.Label):
			right++
		case h.Sure && h.Label != "":
			wrong++
		}
	}
	return right, wrong
}

// A voice is taught from a track, through the real voice and the real ears, is used, is learnt again with a new network, and is forgotten.
func TestAVoiceIsTaughtFromATrack(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	data := t.TempDir()
	words := []string{"next", "repeat", "torque", "help", "hold the job", "where am i"}
	before, _, _ := stranger.hears(t, data, "Ines", words, nil)
	track := writeTrack(t, stranger.replies(t, promptsFor(words, takesOfTrained, nil, 1), nil))
	out := command(t, data, "voice", "teach", "Ines", "--words", strings.Join(words, ","), "--hear", track, "--say", filepath.Join(t.TempDir(), "asked.wav"))
	for _, w := range words {
		if n := strings.Count(out, "Say: "+w+"."); n < takesOfTrained {
			t.Errorf("%q was asked for %d times:\n%s", w, n, out)
		}
	}
	takes, err := filepath.Glob(filepath.Join(voicesFolder(data), "ines", "001", "*.wav"))
	if err != nil || len(takes) != len(words)*takesOfTrained {
		t.Errorf("%d takes on the disk, %v:\n%s", len(takes), err, out)
	}
	if !strings.Contains(out, "Kept. Of ") && !strings.Contains(out, "Nothing changes: ") {
		t.Errorf("no result was told:\n%s", out)
	}
	after, troubles, _ := stranger.hears(t, data, "Ines", words, nil)
	if len(troubles) > 0 {
		t.Errorf("troubles %v", troubles)
	}
	hadRight, hadWrong := obeyed(before, words)
	right, wrong := obeyed(after, words)
	t.Logf("obeyed %d, wrongly %d; taught %d, wrongly %d, of %d", hadRight, hadWrong, right, wrong, len(words))
	if right < hadRight-1 || wrong > hadWrong+1 {
		t.Errorf("taught words are obeyed %d times and wrongly %d, before %d and %d", right, wrong, hadRight, hadWrong)
	}
	if list := command(t, data, "voice", "list"); !strings.Contains(list, "Ines") || !strings.Contains(list, "18 takes") {
		t.Errorf("list: %s", list)
	}

	album, err := speech.OpenAlbum(voicesFolder(data), "Ines")
	if err != nil {
		t.Fatal(err)
	}
	if old := album.State(); old.Tuning != nil {
		old.Network, old.Tuning = "older", nil
		if err := album.Again(old); err != nil {
			t.Fatal(err)
		}
		again, troubles, news := stranger.hears(t, data, "Ines", words, nil)
		if !slices.Equal(again, after) {
			t.Errorf("learnt again, the ears decide %v, at first %v", again, after)
		}
		if len(troubles) > 0 || len(news) != 1 || !strings.Contains(news[0], "The ears are new") {
			t.Errorf("news %q, troubles %v", news, troubles)
		}
	}

	command(t, data, "voice", "forget", "Ines")
	if forgot, _, _ := stranger.hears(t, data, "Ines", words, nil); !slices.Equal(forgot, before) {
		t.Errorf("after forgetting, the ears decide %v, at first %v", forgot, before)
	}
	if takes, _ := filepath.Glob(filepath.Join(voicesFolder(data), "ines", "001", "*.wav")); len(takes) == 0 {
		t.Error("forgetting deleted takes")
	}
}

// Five examples of a word that was never trained give a command: it is learnt, and then ends steps of a job.
func TestAWordOfTheShopIsTaughtFromATrack(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	data, who := t.TempDir(), stranger
	const word = "vorwärts" // the guide's example
	track := writeTrack(t, who.replies(t, promptsFor([]string{word}, takesOfOwn, nil, 1), nil))
	out := command(t, data, "voice", "teach", "Jo", "--word", word, "--command", "next", "--hear", track)
	if n := strings.Count(out, "Your word for: next."); n < takesOfOwn {
		t.Errorf("asked for %d times:\n%s", n, out)
	}
	album, err := speech.OpenAlbum(voicesFolder(data), "jo")
	if err != nil {
		t.Fatal(err)
	}
	takes, means, err := album.Takes([]int{1})
	if err != nil || len(takes) != takesOfOwn || means[word] != "next" {
		t.Errorf("%d takes, %v, %v", len(takes), means, err)
	}
	if state := album.State(); state.Tuning == nil || !slices.Equal(state.Tuning.Words(), []string{word}) || !strings.Contains(out, "Kept.") {
		t.Fatalf("not kept:\n%s", out)
	}
	spoken := []said{{12, word}, {24, word}, {36, word}}
	job := writeTrack(t, who.track(t, 45, spoken...))
	untaught, _ := rehearseCommand(t, writeProcedure(t, fanBelt), job)
	taught, _ := rehearseCommand(t, writeProcedure(t, fanBelt), job, "--data", data, "--technician", "Jo")
	if n := stepsEnded(untaught, spoken); n > 0 {
		t.Errorf("untaught ears obeyed it %d times: %s", n, words(untaught))
	}
	if n := stepsEnded(taught, spoken); n < 2 {
		t.Errorf("it ended %d steps; heard %s: %+v", n, words(taught), taught.Heard)
	}
}

// stepsEnded counts the steps that end where one of the words begins, within 0.1 s.
func stepsEnded(r Rehearsal, spoken []said) (n int) {
	for _, step := range r.Steps {
		if slices.ContainsFunc(spoken, func(s said) bool { return math.Abs(float64(step.Ended)-s.at) < 0.1 }) {
			n++
		}
	}
	return n
}

// A word that was refused, here one that sounds like a command, does not stand in the way of what is taught later.
func TestARefusedWordSpoilsNoLaterLesson(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	words := []string{"next", "repeat", "torque"}
	teach := func(data string, sitting uint64) string {
		track := writeTrack(t, stranger.replies(t, promptsFor(words, takesOfTrained, nil, sitting), nil))
		return command(t, data, "voice", "teach", "Ines", "--words", strings.Join(words, ","), "--hear", track)
	}
	if alone := teach(t.TempDir(), 1); !strings.Contains(alone, "Kept.") {
		t.Skipf("nothing is learnt of these words: %s", alone)
	}
	data := t.TempDir()
	track := writeTrack(t, technicians[0].replies(t, promptsFor([]string{"bolzen"}, takesOfOwn, nil, 1), map[string]string{"bolzen": "next"}))
	if out := command(t, data, "voice", "teach", "Ines", "--word", "bolzen", "--command", "repeat", "--hear", track); !strings.Contains(out, "Nothing changes: ") {
		t.Fatalf("a word that sounds like next is learnt: %s", out)
	}
	if out := teach(data, 2); !strings.Contains(out, "Kept.") {
		t.Errorf("after a word that was refused: %s", out)
	}
	if list := command(t, data, "voice", "list"); strings.Contains(list, "bolzen") {
		t.Errorf("list: %s", list)
	}
}

func TestOneAtATimeTeachesAVoice(t *testing.T) {
	data := t.TempDir()
	album, err := speech.OpenAlbum(voicesFolder(data), "Ines")
	if err != nil {
		t.Fatal(err)
	}
	lock, err := album.Lock()
	if err != nil {
		t.Fatal(err)
	}
	forget := func() error {
		root := newRoot()
		root.SetOut(io.Discard)
		root.SetArgs([]string{"voice", "forget", "ines", "--data", data, "--config", emptyConfig(t)})
		return root.ExecuteContext(t.Context())
	}
	if err := forget(); !errors.Is(err, speech.ErrVoiceInUse) || exitCode(err) != exitData {
		t.Errorf("beside a sitting: %v", err)
	}
	if err := lock.Close(); err != nil {
		t.Fatal(err)
	}
	if err := forget(); err != nil {
		t.Errorf("after the sitting: %v", err)
	}
	if list := command(t, data, "voice", "list"); !strings.Contains(list, "No voice was taught yet") {
		t.Errorf("forgetting nobody made somebody: %s", list)
	}
}

func TestVoiceCommandsSayWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"teach"}, "stepcaller voice teach Ines"},
		{[]string{"teach", "Ines", "--word", "weiter"}, "Give a command with --command"},
		{[]string{"teach", "Ines", "--command", "next"}, "Give it with --word"},
		{[]string{"teach", "Ines", "--word", "weiter", "--command", "nxt"}, `did you mean "next"`},
		{[]string{"teach", "Ines", "--word", "down", "--command", "next"}, "said too often"},
		{[]string{"teach", "Ines", "--word", "repeat", "--command", "next"}, `gives "repeat" already`},
		{[]string{"teach", "Ines", "--words", "abracadabra"}, "do not know"},
		{[]string{"teach", "Ines", "--hear", "/nowhere.wav"}, "no such file"},
		{[]string{"teach", " "}, "Give the technician's name"},
	} {
		root := newRoot()
		root.SetArgs(append(append([]string{"voice"}, c.args...), "--data", t.TempDir(), "--config", emptyConfig(t)))
		if err := root.ExecuteContext(t.Context()); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want %q", c.args, err, c.want)
		}
	}
}

func TestAnUntaughtVoiceChangesNothing(t *testing.T) {
	data := t.TempDir()
	if out := command(t, data, "voice", "list"); !strings.Contains(out, "No voice was taught yet") {
		t.Errorf("list: %s", out)
	}
	if out := command(t, data, "voice", "forget", "Ines"); !strings.Contains(out, "Nothing was learnt of Ines") {
		t.Errorf("forget: %s", out)
	}
}

func TestADamagedVoiceIsToldAndTheJobGoesOn(t *testing.T) {
	data := t.TempDir()
	if err := os.MkdirAll(voicesFolder(data), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(voicesFolder(data), "ines.voice"), []byte("spilt oil"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, troubles, _ := stranger.hears(t, data, "Ines", nil, nil)
	if len(troubles) != 1 || !strings.Contains(troubles[0].Error(), "heard as trained") || !strings.Contains(troubles[0].Error(), "ines.voice") {
		t.Errorf("troubles %v", troubles)
	}
	var list strings.Builder
	if err := writeVoices(&list, voicesFolder(data)); exitCode(err) != exitData || !strings.Contains(list.String(), "ines  ") {
		t.Errorf("list %q, %v", list.String(), err)
	}
}

func TestARehearsalMayUseVoicesThatAreThere(t *testing.T) {
	dir := t.TempDir()
	if err := os.MkdirAll(voicesFolder(dir), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := emptyFolder(dir); err != nil {
		t.Errorf("voices are in the way: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, "journal.db"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := emptyFolder(dir); err == nil {
		t.Error("another journal is not in the way")
	}
}
