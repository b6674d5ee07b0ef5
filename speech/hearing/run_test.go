package hearing_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"stepcaller/speech"
	"stepcaller/speech/hearing"
)

func writeWAV(t testing.TB, dir, name string, pcm []int16) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	w, err := speech.NewWAVWriter(path)
	if err == nil {
		err = errors.Join(w.Append(pcm), w.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
	return path
}

func measure(t testing.TB, test hearing.Test) *hearing.Report {
	t.Helper()
	r, err := test.Run(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// answer is what the planned engine makes of a sound.
type answer struct {
	heard   []speech.Heard // times count from the end of the lead-in
	nearest string
}

// plan is an engine with planned answers: by the milliseconds of a sound without
// what it is set in, the first time that it is heard, the second time, and so on.
type plan map[int][]answer

func (plan) Name() string { return "planned" }

func (p plan) Listen([]string) (hearing.Listener, error) {
	return &plannedListener{plan: p}, nil
}

type plannedListener struct {
	plan    plan
	last    int // the sound heard last
	times   int // that it was
	nearest string
}

func (l *plannedListener) Hear(source speech.Source) (heard []speech.Heard, err error) {
	n := speech.Samples(0)
	for {
		if _, err := source.Read(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, err
		}
		n += speech.Frame
	}
	lead := speech.SamplesIn(hearing.LeadIn)
	sound := int((n - lead - speech.SamplesIn(hearing.Tail)).Duration().Milliseconds())
	if _, clip := l.plan[sound]; !clip { // a recording: nothing lies before it
		sound, lead = int((n - speech.SamplesIn(hearing.Tail)).Duration().Milliseconds()), 0
	}
	if sound != l.last {
		l.last, l.times = sound, 0
	}
	answers := l.plan[sound]
	if answers == nil {
		return nil, fmt.Errorf("a sound of %d ms was not planned", sound)
	}
	a := answers[min(l.times, len(answers)-1)]
	l.times++
	l.nearest = a.nearest
	for _, h := range a.heard {
		h.From, h.To, h.At = h.From+lead, h.To+lead, h.At+lead
		heard = append(heard, h)
	}
	return heard, nil
}

func (l *plannedListener) Nearest(from, to speech.Samples) string { return l.nearest }
func (l *plannedListener) Close() error                           { return nil }

// decided is an utterance from a to b ms, decided at c ms.
func decided(label string, sure bool, a, b, c int) speech.Heard {
	return speech.Heard{Label: label, Nearest: label, Sure: sure, Score: 0.5, From: speech.Samples(16 * a), To: speech.Samples(16 * b), At: speech.Samples(16 * c)}
}

var plannedLive = []string{"next", "stop", "hold the job"}

// planned has answers for plannedClips: clean, then noisy.
var planned = plan{
	410:  {{heard: []speech.Heard{decided("next", true, 10, 410, 610)}}, {heard: []speech.Heard{decided("next", false, 0, 410, 610)}}},
	420:  {{heard: []speech.Heard{decided("next", true, -20, 420, 640)}}, {heard: []speech.Heard{decided("stop", true, 0, 420, 640)}}},
	430:  {{heard: []speech.Heard{decided("stop", true, 0, 430, 650), decided("next", true, 700, 720, 900)}}, {nearest: "stop"}},
	440:  {{heard: []speech.Heard{decided("hold the job", true, 0, 440, 680), decided("hold the job", true, 690, 700, 900)}}, {heard: []speech.Heard{decided("next", false, 0, 440, 640)}}},
	450:  {{heard: []speech.Heard{decided("stop", true, 0, 450, 650)}}, {nearest: "next"}}, // a word to ignore
	460:  {{heard: []speech.Heard{decided("next", false, 0, 460, 660)}}, {}},               // another
	2000: {{heard: []speech.Heard{decided("next", true, 500, 900, 1100), decided("stop", false, 1500, 1700, 1900), decided("", false, 1800, 1900, 2000)}}},
	3000: {{}}, 9000: {{heard: []speech.Heard{decided("stop", true, 500, 900, 1100)}}},
}

func plannedClips(t testing.TB) []hearing.Clip {
	dir := t.TempDir()
	for name, long := range map[string]int{"next/1.wav": 410, "Next/2.wav": 420, "STOP/1.wav": 430, "hold_the-job/a/1.wav": 440, "bird/1.wav": 450, "bird/2.wav": 460} {
		writeWAV(t, dir, name, tone(0, long, 0, -20))
	}
	clips, skipped, err := hearing.FindClips(dir, plannedLive)
	if err != nil || len(skipped) > 0 {
		t.Fatal(err, skipped)
	}
	return clips
}

func TestFiguresOfAPlannedEngine(t *testing.T) {
	talk := writeWAV(t, t.TempDir(), "talk.wav", tone(0, 2000, 0, -30))
	calls := 0
	r := measure(t, hearing.Test{
		Engines: []hearing.Engine{planned, planned}, Live: plannedLive, Clips: plannedClips(t), Noise: noises(t), Talk: []string{talk}, SNRs: []float64{10},
		Progress: func(done, all int) {
			if calls++; done != calls || all != 9 {
				t.Errorf("progress %d of %d at call %d", done, all, calls)
			}
		},
	})
	if calls != 9 || len(r.Engines) != 2 || !reflect.DeepEqual(withoutLoad(r.Engines[0]), withoutLoad(r.Engines[1])) {
		t.Fatalf("%d pieces; two engines that are one differ: %+v", calls, r.Engines)
	}
	e := r.Engines[0]
	clean, noisy := e.Conditions[0], e.Conditions[1]
	if clean.SNR != nil || clean.N != 4 || clean.Forced != 1 || clean.AcceptedRight != 0.75 || clean.AcceptedWrong != 0.25 || clean.Missed != 0 || clean.Asked != 0 {
		t.Errorf("clean: %+v", clean)
	}
	if want := (hearing.WordErrors{Said: 4, Correct: 4, Insert: 2}); clean.Words != want {
		t.Errorf("clean: %+v, want %+v", clean.Words, want)
	}
	if *noisy.SNR != 10 || noisy.N != 4 || noisy.Forced != 0.5 || noisy.AcceptedRight != 0 || noisy.AcceptedWrong != 0.25 || noisy.Missed != 0.75 || noisy.Asked != 0.25 || noisy.Counts.AskedWrong != 1 {
		t.Errorf("10 dB: %+v", noisy)
	}
	if want := (hearing.WordErrors{Said: 4, Substitute: 1, Delete: 3}); noisy.Words != want {
		t.Errorf("10 dB: %+v, want %+v", noisy.Words, want)
	}
	if clean.Limits.AcceptedRight != hearing.Wilson(3, 4) || noisy.Limits.Missed != hearing.Wilson(3, 4) {
		t.Errorf("limits: %v, %v", clean.Limits, noisy.Limits)
	}
	if i := e.Ignored; i.N != 2 || i.Accepted != 1 || i.Share != 0.5 || i.Asked != 1 || len(i.By) != 2 || i.By[1].N != 2 || i.By[1].Accepted != 0 {
		t.Errorf("ignored: %+v", i)
	}
	hours := 2.0 / 3600
	if s := e.Talk; math.Abs(s.Hours-hours) > 1e-9 || s.FalseAccepts != 1 || s.Asked != 1 || math.Abs(*s.PerHour-1800) > 1e-6 || math.Abs(s.Limits[1]-5.572/hours) > 1 ||
		s.Accepted[0].Phrase != "next" || s.Accepted[0].AtS != 0.5 || s.Accepted[0].File != talk {
		t.Errorf("talk: %+v", s)
	}
	if s := e.Noise; math.Abs(s.Hours-12.0/3600) > 1e-9 || s.FalseAccepts != 1 || s.Asked != 0 {
		t.Errorf("noise: %+v", s)
	}
	// Decided 200, 220 and 240 ms after the words' ends; their times are off by 10, 20 and 0 ms.
	near := func(got *float64, want float64) bool { return got != nil && math.Abs(*got-want) <= 5 }
	if !near(e.Latency.P50, 220) || !near(e.Latency.P95, 240) || e.Latency.N != 3 || !near(e.StartError.P50, 10) || !near(e.StartError.P95, 20) {
		t.Errorf("latency %v, start error %v", e.Latency, e.StartError)
	}
	want := []hearing.Confusion{{"bird", "stop", 0, 1}, {"hold the job", "hold the job", 1, 2}, {"hold the job", "next", 1, 0}, {"next", "next", 3, 2}, {"next", "stop", 1, 1},
		{"stop", "next", 0, 1}, {"stop", "stop", 2, 1}}
	if !slices.Equal(e.Confusion, want) {
		t.Errorf("confusions %v, want %v", e.Confusion, want)
	}
	if p := e.Phrases; len(p) != 3 || p[1] != (hearing.Phrase{Phrase: "next", N: 4, Forced: 3, AcceptedRight: 2, AcceptedWrong: 1}) {
		t.Errorf("phrases %+v", p)
	}
	var table strings.Builder
	if err := hearing.WriteTable(&table, r); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{`clean  planned  4      100.0 % (51.0–100.0)  75.0 % (30.1–95.4)`, `planned obeyed "next" (0.50) at 0.5 s of ` + talk, "3 phrases live; 4 clips of them, 2 clips of other words"} {
		if !strings.Contains(table.String(), line) {
			t.Errorf("the table lacks %q:\n%s", line, table.String())
		}
	}
	if strings.Contains(table.String(), "%!") {
		t.Errorf("the table has a broken format:\n%s", table.String())
	}
}

// withoutLoad is e without the one figure that differs from run to run.
func withoutLoad(e hearing.Result) hearing.Result {
	e.RealTimeFactor = 0
	return e
}

// The names of the fields are a contract with whoever reads the document.
func TestReportInJSON(t *testing.T) {
	for name, test := range map[string]hearing.Test{
		"everything":   {Clips: plannedClips(t), Noise: noises(t), SNRs: []float64{10}},
		"clips alone":  {Clips: plannedClips(t)},
		"noise, clean": {Noise: noises(t)},
	} {
		test.Engines, test.Live = []hearing.Engine{planned}, plannedLive
		text, err := json.Marshal(measure(t, test))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		var r struct {
			Engines []struct {
				Name       *string
				Conditions []map[string]any
				Ignored    map[string]any
				Talk       map[string]any
				Noise      map[string]any
				LatencyMS  map[string]any `json:"latency_ms"`
				Load       *float64       `json:"real_time_factor"`
			}
		}
		if err := json.Unmarshal(text, &r); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		e := r.Engines[0]
		numbers := func(where string, m map[string]any, fields ...string) {
			for _, f := range fields {
				if _, ok := m[f].(float64); !ok {
					t.Errorf("%s: %s.%s is %v", name, where, f, m[f])
				}
			}
		}
		if e.Name == nil || e.Load == nil || len(e.Conditions) != 1+len(test.SNRs) {
			t.Fatalf("%s: %s", name, text)
		}
		for i, c := range e.Conditions {
			snr, there := c["snr_db"]
			if !there || i == 0 && snr != nil || i == 1 && snr != 10.0 {
				t.Errorf("%s: condition %d has snr_db %v", name, i, snr)
			}
			numbers("conditions", c, "n", "forced", "accepted_right", "accepted_wrong", "missed")
			if sum := c["accepted_right"].(float64) + c["accepted_wrong"].(float64) + c["missed"].(float64); c["n"] != 0.0 && math.Abs(sum-1) > 1e-12 {
				t.Errorf("%s: right, wrong and missed add up to %v", name, sum)
			}
		}
		numbers("ignored", e.Ignored, "n", "accepted")
		numbers("talk", e.Talk, "hours", "false_accepts")
		numbers("noise", e.Noise, "hours", "false_accepts")
		if len(test.Clips) > 0 {
			numbers("latency_ms", e.LatencyMS, "p50", "p95")
		} else if p50, there := e.LatencyMS["p50"]; !there || p50 != nil {
			t.Errorf("%s: latency %v", name, e.LatencyMS)
		}
	}
}

func TestFilesThatCannotBeUsedAreNamed(t *testing.T) {
	dir := t.TempDir()
	good := writeWAV(t, dir, "next/1.wav", tone(0, 410, 0, -20))
	writeWAV(t, dir, "next/silent.wav", make([]int16, 8000))
	writeWAV(t, dir, "next/no samples.wav", nil)
	for name, text := range map[string]string{"next/broken.flac": "fLaC and no more", "next/empty.wav": "", "next/notes.txt": "not sound", "next/other.mp3": "", ".hidden/1.wav": ""} {
		path := filepath.Join(dir, name)
		_ = os.MkdirAll(filepath.Dir(path), 0o777)
		if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	clips, unread, err := hearing.FindClips(dir, plannedLive)
	if err != nil {
		t.Fatal(err)
	}
	if len(unread) != 1 || filepath.Base(unread[0].File) != "other.mp3" || unread[0].Why == "" {
		t.Errorf("not read: %v", unread)
	}
	noise := append(noises(t), filepath.Join(dir, "next/empty.wav"))
	r := measure(t, hearing.Test{Engines: []hearing.Engine{planned}, Live: plannedLive, Clips: clips, Noise: noise, Talk: []string{filepath.Join(dir, "absent.wav")}})
	var names []string
	for _, s := range r.Skipped {
		names = append(names, filepath.Base(s.File))
		if s.Why == "" {
			t.Errorf("%s was left out without a reason", s.File)
		}
	}
	slices.Sort(names)
	if want := []string{"absent.wav", "broken.flac", "empty.wav", "empty.wav", "no samples.wav", "silent.wav"}; !slices.Equal(names, want) {
		t.Errorf("left out: %v, want %v", names, want)
	}
	if n := r.Engines[0].Conditions[0].N; n != 1 {
		t.Errorf("%d clips were heard, want the one in %s", n, good)
	}
	if _, err := (hearing.Test{Engines: []hearing.Engine{planned}, Noise: []string{"absent.wav"}}).Run(t.Context()); err == nil || !strings.Contains(err.Error(), "absent.wav") {
		t.Errorf("without any noise that can be read: %v", err)
	}
}

func TestClipsAreNamedByFolderOrFile(t *testing.T) {
	dir := t.TempDir()
	live := []string{"what's left", "hold the job", "next", "seven"}
	for name, want := range map[string]string{
		"whats_left/1.wav": "what's left", "What's Left/2.WAV": "what's left", "what_s-left/3.wav": "what's left", "hold_the_job_3.wav": "hold the job", "HOLD THE JOB.wav": "hold the job",
		"next_ines_2.wav": "next", "7_speaker2_0.wav": "seven", "7/1.wav": "seven", "next step/1.wav": "", "8_speaker2_0.wav": "", "holding/1.wav": "",
	} {
		writeWAV(t, filepath.Join(dir, fmt.Sprint(len(name), want != "")), name, tone(0, 100, 0, -20))
		clips, _, err := hearing.FindClips(filepath.Join(dir, fmt.Sprint(len(name), want != "")), live)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(clips, func(c hearing.Clip) bool { return c.Name == name })
		if i < 0 || clips[i].Live != (want != "") || want != "" && clips[i].Word != want {
			t.Errorf("%s: %+v, want the phrase %q", name, clips, want)
		}
	}
	if _, _, err := hearing.FindClips(t.TempDir(), live); err == nil {
		t.Error("an empty folder is no mistake")
	}
	if _, _, err := hearing.FindClips(filepath.Join(dir, "absent"), live); err == nil {
		t.Error("an absent folder is no mistake")
	}
	writeWAV(t, dir, "next/1.wav", tone(0, 100, 0, -20))
	if _, _, err := hearing.FindClips(filepath.Join(dir, "next"), live); err == nil || !strings.Contains(err.Error(), "the folder above") {
		t.Errorf("the folder of one word: %v", err)
	}
}

// failing is an engine that fails at work, or before it.
type failing struct{ plan }

var errBroken = errors.New("broken")

func (f failing) Listen(live []string) (hearing.Listener, error) {
	if f.plan == nil {
		return nil, errBroken
	}
	return &plannedListener{plan: f.plan}, nil
}

func TestAnEngineThatFailsIsNamed(t *testing.T) {
	for name, e := range map[string]failing{"at once": {}, "at work": {plan{1: nil}}} {
		_, err := hearing.Test{Engines: []hearing.Engine{e}, Live: plannedLive, Clips: plannedClips(t)}.Run(t.Context())
		if err == nil || !strings.HasPrefix(err.Error(), "planned: ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
