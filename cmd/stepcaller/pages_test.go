package main

import (
	"bytes"
	"io"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"stepcaller/narrator/pages"
	"stepcaller/speech/voicetest"
)

func TestThePagesAreForThisMachineAlone(t *testing.T) {
	for address, says := range map[string]string{
		"127.0.0.1:7390":     "",
		"[::1]:80":           "",
		"localhost:0":        "",
		"off":                "",
		"0.0.0.0:7390":       "other machines",
		":7390":              "other machines",
		"192.168.0.4:7390":   "other machines",
		"bay.example:7390":   "other machines",
		"127.0.0.1":          "with its port",
		"http://127.0.0.1:1": "with its port",
	} {
		if err := checkPages(address); (err == nil) != (says == "") || err != nil && !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", address, err)
		}
	}
	if code := run(t.Context(), []string{"jobs", "--data", t.TempDir(), "--pages", "0.0.0.0:7390"}); code != exitUsage {
		t.Errorf("exit code %d", code)
	}
}

// fetch gets a page of the address that was said.
func fetch(t *testing.T, said string) string {
	t.Helper()
	address := regexp.MustCompile(`http://\S+`).FindString(said)
	if address == "" {
		t.Fatalf("no address in %q", said)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(body)
}

func TestASessionIsOnThePages(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 20, said{10, "next"}, said{15, "hold the job"})
	hub := pages.NewHub()
	b.Screen = newScreen(hub, b.Words)
	b.begin(t)
	config := Config{Data: t.TempDir(), Pages: "127.0.0.1:0"}
	var out bytes.Buffer
	stop, err := servePages(t.Context(), config, hub, nil, &out)
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	b.upTo(t, 12)
	if body := fetch(t, out.String()); !strings.Contains(body, "<b>2</b>") || !strings.Contains(body, "<b>next</b> <span>100 %</span>") {
		t.Error(body)
	}
	if g := hub.Last(); g.Mic.Level != 0 || !g.Clock.Runs || g.Clock.Worked.Seconds() < 11 { // the source is silent; the clock goes on by the second
		t.Errorf("%+v", g)
	}
	b.upTo(t, 18)
	if body := fetch(t, out.String()); !strings.Contains(body, "What for?") || !strings.Contains(body, "<li>parts</li>") {
		t.Error(body)
	}

	config.Pages = regexp.MustCompile(`127\.0\.0\.1:\d+`).FindString(out.String())
	if _, err := servePages(t.Context(), config, nil, nil, io.Discard); err == nil || !strings.Contains(err.Error(), "is taken") {
		t.Errorf("the same address again: %v", err)
	}
	var said bytes.Buffer
	showPages(t.Context(), config, hub, nil, &said)()
	if !strings.Contains(said.String(), "goes on without") {
		t.Errorf("%q", said.String())
	}
	config.Pages = pagesOff
	if stop, err := servePages(t.Context(), config, nil, nil, io.Discard); err != nil {
		t.Error(err)
	} else {
		stop()
	}
}

func TestPagesWithoutAJournal(t *testing.T) {
	var out bytes.Buffer
	stop, err := servePages(t.Context(), Config{Data: filepath.Join(t.TempDir(), "none"), Pages: "127.0.0.1:0", Language: "de"}, nil, nil, &out)
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	if body := fetch(t, out.String()); !strings.Contains(body, "Kein Arbeitsplatz läuft.") {
		t.Error(body)
	}
}
