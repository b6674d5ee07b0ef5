package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

const reviewedBelt = `
id: fan-belt
title: Renew the fan belt
machine: Ostwick Pony
tools: []
parts: []
cautions: []
book: [{code: "0410", title: Fan belt, hours: 0.6}]
steps:
  - {id: cover, title: Cover off, say: Take the cover off., minutes: 5}
  - {id: belt, title: Belt swapped, say: Swap the belt.}
`

// worked adds a job of two steps, of so many minutes, to a journal. The second step has a pause of ten more.
func worked(t *testing.T, store journal.Store, id string, start time.Time, d narrator.Detail, cover, belt float64) {
	t.Helper()
	d.Procedure, d.Text = "fan-belt.yaml", reviewedBelt
	var log []narrator.Event
	now := narrator.MomentOf(start)
	then := func(minutes float64, kind narrator.Kind, d narrator.Detail) {
		now = now.Add(narrator.Minutes(minutes))
		seq := int64(len(log)) + 1
		log = append(log, narrator.Event{Job: id, Seq: seq, Act: seq, At: now, Noted: now, Kind: kind, Detail: d})
	}
	then(0, narrator.Opened, d)
	then(0, narrator.Arrived, narrator.Detail{Step: "cover"})
	then(cover, narrator.Arrived, narrator.Detail{Step: "belt"})
	then(0, narrator.Held, narrator.Detail{Reason: "parts"})
	then(10, narrator.Resumed, narrator.Detail{})
	then(belt, narrator.Finished, narrator.Detail{})
	if err := store.Append(t.Context(), log); err != nil {
		t.Fatal(err)
	}
}

// beltShop is a data folder of eleven jobs on 31 January 2000 and the days before, the last of them a long one, and a comeback of it.
func beltShop(t *testing.T) string {
	t.Helper()
	t.Setenv("LC_ALL", "C.UTF-8")
	t.Setenv("NO_COLOR", "")
	dir := t.TempDir()
	store, err := journal.Open(dir, journal.Writer)
	if err != nil {
		t.Fatal(err)
	}
	day := func(n int) time.Time { return time.Date(2000, 1, n, 8, 0, 0, 0, time.Local) }
	for n := 20; n < 30; n++ {
		worked(t, store, fmt.Sprintf("2000-01-%d-1", n), day(n), narrator.Detail{Technician: "Ines", Order: fmt.Sprint("R", n)}, 5, 20+float64(n%5))
	}
	worked(t, store, "2000-01-31-1", day(31), narrator.Detail{Technician: "Marek", Order: "R 31"}, 6, 48)
	worked(t, store, "2000-01-31-2", day(31).Add(5*time.Hour), narrator.Detail{Technician: "Ines", JobKind: "comeback", Earlier: "2000-01-31-1"}, 3, 3)
	if err := store.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}

func reviewed(t *testing.T, dir string, args ...string) (string, error) {
	t.Helper()
	root := newRoot()
	var out bytes.Buffer
	root.SetOut(&out)
	root.SetArgs(append([]string{"review", "--data", dir}, args...))
	err := root.ExecuteContext(t.Context())
	return out.String(), err
}

func TestReview(t *testing.T) {
	dir := beltShop(t)
	for _, c := range []struct {
		args []string
		want []string
	}{
		{[]string{"--day", "2000-01-31", "--attended", "2"}, []string{
			"  2000-01-31-1   Renew the fan belt  Marek          0.9    0.6    67  ███████████│████",
			"came back as 2000-01-31-2, 0.1 h more", "comeback of 2000-01-31-1",
			// 54 and 6 minutes worked, 36 paid by the book, as a comeback is not; 20 paused.
			"Together 1.0 h worked against 0.6 h in the book, efficiency 60 %, 0.3 h paused.", "Productivity 50 %: 1.0 h worked by everybody of 2.0 h attended.",
			"2000-01-31-1, step 2, Belt swapped: 48:00, 24:00 beyond the usual", "6:00 paused 10:00, parts",
		}},
		{[]string{"--day", "2000-02-01"}, []string{"No job was finished."}},
		{[]string{"2000-01-31-1"}, []string{
			"Job 2000-01-31-1, finished: Renew the fan belt", "Worked 0.9 h (54:00) against 0.6 h in the book, efficiency 67 %.",
			"Usually 0.42 h to 0.48 h, 8 times of 10, by 10 other jobs.", "The job ran long, 25:00 beyond that.", "It came back: 6:00 more.",
			"  2  Belt swapped             48:00   22:00 learnt    20:00-24:00  ███████│████████", "LONG by 24:00",
		}},
		{[]string{"2000-01-31-2"}, []string{"Nothing is learnt from it: comeback."}},
		{[]string{"--procedure", "fan-belt"}, []string{
			"12 jobs finished, 11 of them to learn from; 1 comeback.", "Book 0.6 h. Half of the jobs take less than 0.45 h",
			"1 of 11 jobs came back", "2000-01-31-1   step 2, Belt swapped            48:00, 24:00 beyond  paused",
			"Learning is shown for one technician: --technician NAME", "Where the time goes",
		}},
		{[]string{"--procedure", "fan-belt", "--technician", "Ines"}, []string{"Learning of Ines, 10 runs: "}},
		{[]string{"--procedure", "fan-belt", "--technician", "Marek"}, []string{"Learning of Marek, 1 run: 3 runs are needed"}},
		{[]string{"--history", "--text", "marek pony"}, []string{"  2000-01-31-1   Renew", "Together 0.9 h worked against 0.6 h in the book"}},
		{[]string{"--history", "--limit", "2"}, []string{"2 of 12 jobs; --offset and --limit show others."}},
		{[]string{"--history", "--kind", "warranty"}, []string{"No finished job is like that."}},
		{[]string{"--history", "--technician", "Marek", "--from", "2000-01-01", "--to", "2000-02-01"}, []string{"Together 0.9 h worked"}},
	} {
		got, err := reviewed(t, dir, c.args...)
		if err != nil {
			t.Errorf("%q: %v", c.args, err)
		}
		for _, want := range c.want {
			if !strings.Contains(got, want) {
				t.Errorf("%q lacks %q:\n%s", c.args, want, got)
			}
		}
	}
}

func TestReviewIsPlainWhereItMust(t *testing.T) {
	dir := beltShop(t)
	t.Setenv("NO_COLOR", "1")
	for _, args := range [][]string{{"2000-01-31-1"}, {"--procedure", "fan-belt"}, {"--day", "2000-01-31"}} {
		got, err := reviewed(t, dir, args...)
		if err != nil || strings.ContainsFunc(got, func(r rune) bool { return r > '~' }) || !strings.Contains(got, "#") {
			t.Errorf("%q: %v\n%s", args, err, got)
		}
	}
	for env, want := range map[string]bool{"": true, "LANG=de_DE.UTF-8": false, "LANG=C": true, "LC_ALL=C LANG=de_DE.UTF-8": true, "LC_CTYPE=en_GB.utf8": false, "NO_COLOR=1 LANG=de_DE.UTF-8": true} {
		values := map[string]string{}
		for _, pair := range strings.Fields(env) {
			name, value, _ := strings.Cut(pair, "=")
			values[name] = value
		}
		if got := plainText(func(name string) string { return values[name] }); got != want {
			t.Errorf("%q: plain %v", env, got)
		}
	}
}

func TestReviewAsJSON(t *testing.T) {
	dir := beltShop(t)
	for field, args := range map[string][]string{
		"totals": {"--day", "2000-01-31"}, "sheet": {"2000-01-31-1"}, "steps": {"--procedure", "fan-belt"}, "jobs": {"--history"},
	} {
		text, err := reviewed(t, dir, append(args, "--json")...)
		var fields map[string]any
		if err = errors.Join(err, json.Unmarshal([]byte(text), &fields)); err != nil || fields[field] == nil {
			t.Errorf("%q: %v\n%s", args, err, text)
		}
	}
}

func TestReviewRefuses(t *testing.T) {
	dir := beltShop(t)
	for hint, args := range map[string][]string{
		"`stepcaller jobs` lists them":     {"1999-01-01-1"},
		"there are jobs by fan-belt":       {"--procedure", "clutch"},
		"choose one":                       {"2000-01-31-1", "--history"},
		"--text is for --history":          {"--text", "belt"},
		"--day is for a day's review":      {"--day", "2000-01-31", "--history"},
		"--day \"31.1.2000\" is no day":    {"--day", "31.1.2000"},
		"--from \"January\" is no day":     {"--history", "--from", "January"},
		"--limit, --offset and --attended": {"--history", "--limit", "-1"},
	} {
		out, err := reviewed(t, dir, args...)
		var u *usageError
		if !errors.As(err, &u) || !strings.Contains(err.Error(), hint) {
			t.Errorf("%q: %v\n%s", args, err, out)
		}
	}
	if out, err := reviewed(t, t.TempDir()); err != nil || !strings.Contains(out, "No jobs yet") {
		t.Errorf("an empty folder: %s, %v", out, err)
	}
}

// The bars of a review are to an eighth of a letter, and never leave out what there is.
func TestBars(t *testing.T) {
	p, plain := &paper{}, &paper{plain: true}
	for _, c := range []struct {
		value       float64
		want, ascii string
	}{{0, "", ""}, {0.01, "▏", "#"}, {5, "█████", "#####"}, {2.5, "██▌", "###"}, {10, "██████████", "##########"}, {99, "██████████", "##########"}} {
		if got, ascii := p.bar(c.value, 10, 10), plain.bar(c.value, 10, 10); got != c.want || ascii != c.ascii {
			t.Errorf("%v of 10 is %q, %q", c.value, got, ascii)
		}
	}
	if got := p.spread(2, 5, 8, 10, 10); got != "  ───●───" {
		t.Errorf("spread %q", got)
	}
}
