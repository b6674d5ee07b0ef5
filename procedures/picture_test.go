package procedures_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepcaller/procedures"
)

func TestReadFile_pictures(t *testing.T) {
	folder, elsewhere := t.TempDir(), t.TempDir()
	write := func(dir, name, text string) string {
		t.Helper()
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	write(folder, "there.svg", "<svg/>")
	write(folder, "deep/there.png", "png")
	if err := os.MkdirAll(filepath.Join(folder, "folder.png"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(write(elsewhere, "secret.png", "x"), filepath.Join(folder, "link.png")); err != nil {
		t.Fatal(err)
	}
	path := write(folder, "job.yaml", `id: job
title: Job
machine: Car
book: [{code: A1, title: Job, hours: 0.1}]
tools: []
parts: []
cautions: []
steps:
  - {id: good, say: Look., figures: [there.svg, {file: deep/there.png, caption: Deep}]}
  - each: {side: [left, right]}
    steps:
      - id: "bad-{side}"
        say: "Look {side}."
        figures:
          - absent.svg
          - {file: link.png, caption: Elsewhere}
  - {id: odd, say: Look., figures: folder.png}
`)
	p, mistakes, err := procedures.ReadFile(path)
	if err != nil || p == nil {
		t.Fatal(err, mistakes)
	}
	var got []string
	for _, m := range mistakes {
		if m.Severity != procedures.Question {
			t.Errorf("%v is no question", m)
		}
		got = append(got, strings.TrimPrefix(m.String(), path+":"))
	}
	want := []string{
		"15:13: question: there is no picture absent.svg beside the file. Copy it there, or correct its name.",
		"16:20: question: the picture link.png is outside the procedure's folder, or cannot be read. Copy it into the folder itself.",
		"17:36: question: folder.png is no file. Name a picture.",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}
