package pages_test

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/pages"
	"stepcaller/procedures"
)

func TestThePictureOfAStepIsShownWithIt(t *testing.T) {
	bay := narrator.NewBay(narrator.DefaultSettings())
	p, _, err := procedures.Find("timing-belt")
	if err != nil {
		t.Fatal(err)
	}
	shown := -1
	for i, step := range p.Steps {
		if len(step.Figures) > 0 && len(step.Torque) == 0 && shown < 0 {
			shown = i
		}
	}
	if shown < 0 {
		t.Fatal("no step of the timing belt has a picture and no torque")
	}
	start := narrator.Start{At: dawn, Job: "2026-01-05-1", Procedure: "timing-belt.yaml", Text: p.Text(), Technician: "Ines"}
	if err := bay.Apply(narrator.Decide(bay, start)); err != nil {
		t.Fatal(err)
	}
	bay.Job().Step = shown
	words, err := procedures.NewWords(nil)
	if err != nil {
		t.Fatal(err)
	}
	hub := pages.NewHub()
	glance := pages.GlanceAt(bay, dawn, words)
	glance.Asks, glance.Answers = "", nil
	hub.Publish(glance)
	s := serve(t, pages.Config{Hub: hub})
	_, body := get(t, request(t, "GET", s.URL))
	if glance.Figure == nil || !strings.Contains(body, `src="`+glance.Figure.Path+`"`) || !strings.Contains(body, glance.Figure.Caption) {
		t.Errorf("%+v is not on the page", glance.Figure)
	}
	if status, svg := get(t, request(t, "GET", s.URL+glance.Figure.Path)); status != http.StatusOK || !strings.Contains(svg, "<svg") {
		t.Errorf("%d %.80s", status, svg)
	}
	if status, _ := get(t, request(t, "GET", s.URL+"/procedures/timing-belt/figure/figures/cover-bolts.svg")); status != http.StatusNotFound {
		t.Errorf("a picture that no step names: %d", status)
	}
}

func TestAShopsOwnPictureStaysInItsFolder(t *testing.T) {
	shop := t.TempDir()
	outside := filepath.Join(shop, "secret.svg")
	folder := filepath.Join(shop, "procedures")
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	file := `stepcaller: 1
id: fan
title: Fan
machine: Ostwick Pony
book: [{code: "1", title: Fan, hours: 1}]
tools: []
parts: []
cautions: []
steps:
  - {id: a, say: Look., figures: [fan.svg, leads-out.svg]}
`
	for path, text := range map[string]string{filepath.Join(folder, "fan.yaml"): file, filepath.Join(folder, "fan.svg"): "<svg/>", outside: "secret"} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink(outside, filepath.Join(folder, "leads-out.svg")); err != nil {
		t.Fatal(err)
	}
	s := serve(t, pages.Config{Procedures: folder})
	if status, body := get(t, request(t, "GET", s.URL+"/procedures/fan/figure/fan.svg")); status != http.StatusOK || body != "<svg/>" {
		t.Errorf("%d %s", status, body)
	}
	if status, body := get(t, request(t, "GET", s.URL+"/procedures/fan/figure/leads-out.svg")); status != http.StatusNotFound || strings.Contains(body, "secret") {
		t.Errorf("%d %s", status, body)
	}
}
