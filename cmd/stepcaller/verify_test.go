package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
	"stepcaller/speech"
)

// recorded makes a data folder of two jobs, one finished with a spoken note, as the program writes it.
func recorded(t *testing.T) string {
	t.Helper()
	data := filepath.Join(t.TempDir(), "data")
	s, err := journal.Open(data, journal.Writer)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	part, err := s.Memos().Begin("2000-01-01-1")
	if err != nil {
		t.Fatal(err)
	}
	w, err := speech.NewWAVWriter(part)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Append(make([]int16, 2*speech.Rate)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	file, err := s.Memos().Keep(part)
	if err != nil {
		t.Fatal(err)
	}
	one := storetest.NewJob("2000-01-01-1", storetest.Dawn).Then(9, narrator.Recorded, narrator.Detail{File: file, From: storetest.Dawn, Length: 2 * narrator.Second}).
		Then(9, narrator.Finished, narrator.Detail{})
	two := storetest.NewJob("2000-01-01-2", storetest.Dawn.Add(narrator.Hour))
	bay := storetest.NewBay(storetest.Dawn).Then(1, narrator.Switched, narrator.Detail{Work: "2000-01-01-2"})
	if err := s.Append(t.Context(), append(append(one.Events, two.Events...), bay.Events...)); err != nil {
		t.Fatal(err)
	}
	return data
}

// commandLine runs a command line as a user would, and returns its exit code and what it printed.
func commandLine(t *testing.T, args ...string) (code int, out string) {
	t.Helper()
	var said bytes.Buffer
	root := newRoot()
	root.SetOut(&said)
	root.SetErr(&said)
	root.SetArgs(args)
	if err := root.ExecuteContext(t.Context()); err != nil {
		return exitCode(err), said.String() + err.Error()
	}
	return exitDone, said.String()
}

// expect runs a command line and holds its exit code and words against what they should be.
func expect(t *testing.T, want int, says string, args ...string) string {
	t.Helper()
	code, out := commandLine(t, args...)
	if code != want || !strings.Contains(out, says) {
		t.Errorf("%v: exit code %d, want %d, with %q in\n%s", args, code, want, says, out)
	}
	return out
}

func TestSomethingBreaksAndIsPutRight(t *testing.T) {
	atHome(t)
	data, stick := recorded(t), t.TempDir()
	expect(t, exitDone, "whole: everything is as it was recorded.\n2 jobs, 7 events, 1 spoken note", "verify", "--data", data)
	out := expect(t, exitDone, "2 jobs, 7 events", "backup", stick, "--data", data)
	backups, _ := filepath.Glob(filepath.Join(stick, "stepcaller-*.tar"))
	if len(backups) != 1 || !strings.Contains(out, backups[0]) {
		t.Fatalf("%v: %s", backups, out)
	}
	expect(t, exitUsage, "something here already", "backup", backups[0], "--data", data)

	spoil(t, data, "Take the cover off.", "Take the cover oft.") // in the procedure's text, which both jobs hold
	for range 2 {
		out = expect(t, exitData, "DAMAGED", "verify", "--data", data)
	}
	if !strings.Contains(out, "Safe, 1 of 2 jobs: ") || !strings.Contains(out, "Can be saved: 6 events of 1 job") || !strings.Contains(out, "What to do") {
		t.Error(out)
	}
	expect(t, exitData, "stepcaller verify", "backup", filepath.Join(stick, "bad.tar"), "--data", data)

	saved := filepath.Join(t.TempDir(), "saved")
	expect(t, exitDone, "Saved to "+saved, "verify", "--data", data, "--save", saved)
	expect(t, exitDone, "whole", "verify", "--data", saved)

	expect(t, exitUsage, "--beside", "restore", backups[0], "--data", data)
	out = expect(t, exitDone, "What was there before is now "+data+".before-", "restore", backups[0], "--data", data, "--beside")
	expect(t, exitDone, "whole", "verify", "--data", data)
	_, before, _ := strings.Cut(out, "is now ")
	expect(t, exitData, "DAMAGED", "verify", "--data", strings.TrimSuffix(strings.TrimSpace(before), "."))

	var v verdictOf
	if err := json.Unmarshal([]byte(expect(t, exitDone, "", "verify", "--data", data, "--json")), &v); err != nil || !v.Whole || v.Events != 7 || len(v.Safe) != 2 {
		t.Errorf("%+v, %v", v, err)
	}
}

// spoil changes a letter in the first place of a text in the database, as a failing disk does.
func spoil(t *testing.T, data, from, to string) {
	t.Helper()
	path := filepath.Join(data, "journal.db")
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(content, []byte(from))
	if at < 0 || len(from) != len(to) {
		t.Fatalf("%q is not in the database", from)
	}
	copy(content[at:], to)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestVerifyListensToSpokenNotes(t *testing.T) {
	atHome(t)
	data := recorded(t)
	memo := filepath.Join(data, "memos", "2000-01-01-1-1.wav")
	if err := os.Truncate(memo, 30_000); err != nil {
		t.Fatal(err)
	}
	expect(t, exitData, "job 2000-01-01-1: a memo cannot be read", "verify", "--data", data)
	if err := os.Remove(memo); err != nil {
		t.Fatal(err)
	}
	out := expect(t, exitData, "job 2000-01-01-1: a memo is missing", "verify", "--data", data)
	if !strings.Contains(out, "Safe, 1 of 2 jobs: 2000-01-01-2.") {
		t.Error(out)
	}
	part := filepath.Join(data, "memos", "2000-01-01-2-1.wav.part")
	if err := os.WriteFile(part, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	expect(t, exitData, "note   job 2000-01-01-2: the recording", "verify", "--data", data)
}

func TestWhatCannotBeVerifiedBackedUpOrRestored(t *testing.T) {
	home := atHome(t)
	empty, text := t.TempDir(), filepath.Join(home, "letter.tar")
	if err := os.WriteFile(text, []byte(strings.Repeat("Dear customer, ", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	expect(t, exitUsage, "nothing was ever recorded", "verify", "--data", empty)
	expect(t, exitUsage, "nothing was ever recorded", "backup", filepath.Join(home, "b.tar"), "--data", empty)
	expect(t, exitUsage, "no journal", "verify", "--save", filepath.Join(home, "saved"), "--data", empty)
	expect(t, exitUsage, "check the spelling", "restore", filepath.Join(home, "absent.tar"), "--data", empty)
	expect(t, exitData, "the backup is damaged", "restore", text, "--data", empty)
	data := recorded(t)
	expect(t, exitUsage, "in the data folder itself", "backup", data, "--data", data)
	s, err := journal.Open(data, journal.Writer)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	expect(t, exitDone, "whole", "verify", "--data", data)
	expect(t, exitData, "in use", "verify", "--data", data, "--save", filepath.Join(home, "saved"))
}
