package main

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stepcaller/speech"
	"stepcaller/speech/soundtest"
)

// A sitting through PortAudio: it is killed in the middle, no finished take is lost, and it goes on with what is still to be said.
func TestASittingAtTheMicrophone(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	atHome(t)
	server := soundtest.Start(t)
	data, who := filepath.Join(t.TempDir(), "data"), technicians[0]
	start := func() *process {
		return startProgram(t, "voice", "teach", "Ines", "--words", "next,repeat", "--data", data)
	}
	takes := func() int {
		t.Helper()
		found, err := filepath.Glob(filepath.Join(voicesFolder(data), "ines", "001", "*.wav"))
		if err != nil {
			t.Fatal(err)
		}
		return len(found)
	}
	// answer says the word that the latest line asks for until another line comes, as a person would.
	answer := func(p *process) {
		t.Helper()
		_, word, _ := strings.Cut(p.seen[len(p.seen)-1], "Say: ")
		sound := append(make([]int16, speech.Rate), append(who.speak(t, strings.TrimSuffix(word, ".")), make([]int16, speech.Rate)...)...)
		for range 4 {
			server.SayInto(sound)
			if p.within(4*time.Second, "says") {
				return
			}
			t.Logf("%q has to be said again", word)
		}
		t.Fatalf("%q was never taken:\n%s", word, strings.Join(p.seen, "\n"))
	}
	p := start()
	p.until("says", "Say: ")
	for takes() < 2 {
		answer(p)
	}
	if err := p.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = p.rest() // killed
	had := takes()
	if had < 2 {
		t.Errorf("%d takes after the kill", had)
	}
	p = start()
	p.until("says", "Say: ")
	for !strings.Contains(p.seen[len(p.seen)-1], "Thank you.") {
		answer(p)
	}
	if err := p.restWithin(2 * time.Minute); err != nil {
		t.Errorf("ended with %v:\n%s", err, strings.Join(p.seen, "\n"))
	}
	if n := takes(); n != 2*takesOfTrained {
		t.Errorf("%d takes in all:\n%s", n, strings.Join(p.seen, "\n"))
	}
	if out := strings.Join(p.seen, "\n"); !strings.Contains(out, "Kept.") && !strings.Contains(out, "Nothing changes: ") {
		t.Errorf("no result was told:\n%s", out)
	}
}
