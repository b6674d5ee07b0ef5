package journal_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"stepcaller/narrator/journal"
)

func TestMemosAreNumberedByJob(t *testing.T) {
	dir := t.TempDir()
	m := journal.NewMemos(dir)
	want := []struct{ job, file string }{
		{"2000-01-01-1", "memos/2000-01-01-1-1.wav"},
		{"2000-01-01-1", "memos/2000-01-01-1-2.wav"},
		{"2000-01-01-11", "memos/2000-01-01-11-1.wav"},
		{"2000-01-01", "memos/2000-01-01-1.wav"},
		{"2000-01-01-1", "memos/2000-01-01-1-3.wav"},
	}
	for _, w := range want {
		part, err := m.Begin(w.job)
		if err != nil {
			t.Fatal(err)
		}
		if part != filepath.Join(dir, w.file)+".part" {
			t.Errorf("the part of %s is %s", w.file, part)
		}
		if err := os.WriteFile(part, []byte(w.file), 0o600); err != nil {
			t.Fatal(err)
		}
		file, err := m.Keep(part)
		if err != nil || file != w.file {
			t.Errorf("Keep = %s, %v, want %s", file, err, w.file)
		}
		if sound, err := os.ReadFile(filepath.Join(dir, file)); err != nil || string(sound) != w.file {
			t.Errorf("%s holds %q, %v", file, sound, err)
		}
		if _, err := os.Stat(part); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("the part is still there: %v", err)
		}
	}
	if kept, err := m.Kept(); err != nil || len(kept) != len(want) {
		t.Errorf("Kept = %v, %v", kept, err)
	}
}

func TestPartsAreFoundAgain(t *testing.T) {
	m := journal.NewMemos(t.TempDir())
	if left, err := m.Leftovers(); err != nil || len(left) != 0 {
		t.Errorf("before any note: %v, %v", left, err)
	}
	var parts []string
	for range 2 {
		part, err := m.Begin("2000-01-01-1")
		if err != nil {
			t.Fatal(err)
		}
		parts = append(parts, part)
	}
	if err := m.Discard(parts[0]); err != nil {
		t.Fatal(err)
	}
	left, err := m.Leftovers()
	want := journal.Memo{Path: parts[1], File: "memos/2000-01-01-1-2.wav", Job: "2000-01-01-1"}
	if err != nil || len(left) != 1 || left[0] != want {
		t.Errorf("Leftovers = %v, %v, want %v", left, err, want)
	}
}

func TestAMemoNeverReplacesAnother(t *testing.T) {
	dir := t.TempDir()
	m := journal.NewMemos(dir)
	part, err := m.Begin("2000-01-01-1")
	if err != nil {
		t.Fatal(err)
	}
	final := filepath.Join(dir, "memos", "2000-01-01-1-1.wav")
	if err := os.WriteFile(final, []byte("first"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := m.Keep(part); !errors.Is(err, fs.ErrExist) {
		t.Errorf("Keep: %v", err)
	}
	if sound, err := os.ReadFile(final); err != nil || string(sound) != "first" {
		t.Errorf("the first memo holds %q, %v", sound, err)
	}
}

func TestOnlyPartsAreKeptOrDiscarded(t *testing.T) {
	dir := t.TempDir()
	m := journal.NewMemos(dir)
	outside := filepath.Join(dir, "2000-01-01-1-1.wav.part")
	inside := filepath.Join(dir, "memos", "2000-01-01-1-1.wav")
	if err := os.Mkdir(filepath.Dir(inside), 0o700); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{outside, inside} {
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := m.Keep(path); err == nil {
			t.Errorf("%s was kept", path)
		}
		if err := m.Discard(path); err == nil {
			t.Errorf("%s was discarded", path)
		}
		if _, err := os.Stat(path); err != nil {
			t.Error(err)
		}
	}
	for _, job := range []string{"", "..", "a/b", "../../etc/job", "-", "a\nb"} {
		if part, err := m.Begin(job); err == nil {
			t.Errorf("job %q got the part %s", job, part)
		}
	}
}

func TestAMemoOfAnotherBayIsAwaited(t *testing.T) {
	dir := t.TempDir()
	m := journal.NewMemos(dir)
	const file = "memos/2000-01-01-1.pit-1.wav"
	for range 2 {
		if err := m.Await(file); err != nil {
			t.Fatal(err)
		}
	}
	awaited, err := m.Awaited()
	if err != nil || len(awaited) != 1 || awaited[0].File != file || awaited[0].Job != "2000-01-01-1.pit" {
		t.Fatalf("awaited %+v, %v", awaited, err)
	}
	if kept, _ := m.Kept(); len(kept) != 0 {
		t.Errorf("kept before it came: %+v", kept)
	}
	if left, _ := m.Leftovers(); len(left) != 0 {
		t.Errorf("taken for a part: %+v", left)
	}
	if part, err := m.Begin("2000-01-01-1.pit"); err != nil || part != filepath.Join(dir, "memos/2000-01-01-1.pit-2.wav.part") {
		t.Errorf("its number is given again: %s, %v", part, err)
	}
	if err := os.WriteFile(awaited[0].Path, []byte("sound"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := m.Bring(awaited[0].Path); err != nil {
		t.Fatal(err)
	}
	if err := m.Await(file); err != nil {
		t.Error(err)
	}
	if awaited, _ := m.Awaited(); len(awaited) != 0 {
		t.Errorf("awaited though it came: %+v", awaited)
	}
	if kept, _ := m.Kept(); len(kept) != 1 || kept[0].File != file {
		t.Errorf("kept %+v", kept)
	}
	for _, bad := range []string{"", "memos/../x-1.wav", "memos/x.wav", "/etc/x-1.wav", "memos/1-1.wav.part"} {
		if m.Await(bad) == nil {
			t.Errorf("%q is awaited", bad)
		}
	}
}
