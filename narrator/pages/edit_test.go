package pages_test

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator/pages"
	"stepcaller/procedures"
)

// lamp is a procedure with nothing to ask about.
const lamp = `stepcaller: 2
id: lamp
title: Renew a lamp
machine: Ostwick Pony
book: [{code: L-1, title: Lamp, hours: 0.2}]
tools: []
parts: [Lamp]
cautions: []
steps:
  - {id: swap, say: Swap the lamp., minutes: 5}
`

var versionField = regexp.MustCompile(`name="version" value="([0-9a-f]*)"`)

// editing serves pages with a shop's folder that holds the lamp.
func editing(t *testing.T) (address, folder string) {
	t.Helper()
	folder = filepath.Join(t.TempDir(), "procedures")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, "lamp.yaml"), []byte(lamp), 0o600); err != nil {
		t.Fatal(err)
	}
	store, data := keep(t, day(t)...)
	return serve(t, pages.Config{Store: store, Data: data, Procedures: folder, Now: func() time.Time { return evening }}).URL, folder
}

func versionOn(t *testing.T, address string) string {
	t.Helper()
	status, body := get(t, request(t, "GET", address))
	found := versionField.FindStringSubmatch(body)
	if status != http.StatusOK || found == nil {
		t.Fatalf("%s: %d %s", address, status, body)
	}
	return found[1]
}

func TestAProcedureIsCheckedWithoutBeingSaved(t *testing.T) {
	address, folder := editing(t)
	wrong := strings.Replace(lamp, "minutes: 5", "minuts: 5", 1)
	status, body := post(t, address+"/procedures/lamp/edit", url.Values{"do": {"check"}, "text": {wrong}, "version": {versionOn(t, address+"/procedures/lamp/edit")}})
	for _, want := range []string{`data-line="10"`, "minuts", "Mistake"} {
		if status != http.StatusOK || !strings.Contains(body, want) {
			t.Errorf("%d without %q", status, want)
		}
	}
	if data, err := os.ReadFile(filepath.Join(folder, "lamp.yaml")); err != nil || string(data) != lamp {
		t.Errorf("checking wrote %q %v", data, err)
	}
}

func TestAProcedureIsSavedWholeAndNeverOverANewerFile(t *testing.T) {
	address, folder := editing(t)
	page, file := address+"/procedures/lamp/edit", filepath.Join(folder, "lamp.yaml")
	opened := versionOn(t, page)
	mine, theirs := strings.Replace(lamp, "minutes: 5", "minutes: 7", 1), strings.Replace(lamp, "minutes: 5", "minutes: 9", 1)
	if status, body := post(t, page, url.Values{"do": {"save"}, "text": {strings.ReplaceAll(mine, "\n", "\r\n")}, "version": {opened}}); status != http.StatusOK || !strings.Contains(body, "Saved to") {
		t.Fatalf("%d %s", status, body)
	}
	if data, err := os.ReadFile(file); err != nil || string(data) != mine {
		t.Fatalf("%q %v", data, err)
	}
	// The page that was opened first knows nothing of what was saved since.
	if status, body := post(t, page, url.Values{"do": {"save"}, "text": {theirs}, "version": {opened}}); status != http.StatusConflict || !strings.Contains(body, "minutes: 9") {
		t.Errorf("%d %s", status, body)
	}
	// A file that is gone is not written anew either: somebody took it away.
	again := versionOn(t, page)
	if err := os.Remove(file); err != nil {
		t.Fatal(err)
	}
	if status, _ := post(t, page, url.Values{"do": {"save"}, "text": {theirs}, "version": {again}}); status != http.StatusNotFound {
		t.Errorf("%d", status)
	}
	// What has a mistake is not saved, and nothing is left lying about.
	if status, _ := post(t, address+"/procedures/valve-cover/edit", url.Values{"do": {"save"}, "text": {"id: ["}, "version": {""}}); status != http.StatusUnprocessableEntity {
		t.Errorf("%d", status)
	}
	left, err := os.ReadDir(folder)
	if err != nil || len(left) != 0 {
		t.Errorf("%v %v", left, err)
	}
}

func TestABundledProcedureIsSavedAsTheShopsOwn(t *testing.T) {
	address, folder := editing(t)
	page := address + "/procedures/valve-cover/edit"
	p, _, err := procedures.Find("valve-cover")
	if err != nil {
		t.Fatal(err)
	}
	fields := url.Values{"do": {"save"}, "text": {p.Text()}, "version": {versionOn(t, page)}}
	if status, body := post(t, page, fields); status != http.StatusOK || !strings.Contains(body, "Saved to") {
		t.Fatalf("%d %s", status, body)
	}
	if _, err := os.Stat(filepath.Join(folder, "valve-cover.yaml")); err != nil {
		t.Error(err)
	}
	if status, _ := post(t, page, fields); status != http.StatusConflict {
		t.Errorf("%d: a copy was written over", status)
	}
}

func TestADraftIsTypedUp(t *testing.T) {
	address, folder := editing(t)
	status, body := get(t, request(t, "GET", address+"/procedures/new?job=2000-01-03-3"))
	for _, want := range []string{"Spoken while job 2000-01-03-3", "/jobs/2000-01-03-3/memos/2000-01-03-3-1.wav", "recording 1"} {
		if status != http.StatusOK || !strings.Contains(body, want) {
			t.Errorf("%d without %q", status, want)
		}
	}
	typed := strings.Replace(lamp, "id: lamp", "id: heater-tap", 1)
	if status, body := post(t, address+"/procedures/new", url.Values{"do": {"save"}, "text": {typed}, "job": {"2000-01-03-3"}}); status != http.StatusOK || !strings.Contains(body, "Saved to") {
		t.Errorf("%d %s", status, body)
	}
	if _, err := os.Stat(filepath.Join(folder, "heater-tap.yaml")); err != nil {
		t.Error(err)
	}
	if status, _ := post(t, address+"/procedures/new", url.Values{"do": {"save"}, "text": {lamp}}); status != http.StatusConflict {
		t.Errorf("%d: a new procedure was written over another", status)
	}
	for _, page := range []string{"/procedures/new?job=2000-01-03-1", "/procedures/new?job=2000-01-03-9", "/procedures/none", "/procedures/none/edit",
		"/procedures/..%2flamp.yaml/edit", "/procedures/lamp.yaml"} {
		if status, body := get(t, request(t, "GET", address+page)); status != http.StatusNotFound || !strings.Contains(body, "<h1>") {
			t.Errorf("%s: %d", page, status)
		}
	}
}

func TestWithoutAFolderNothingIsSaved(t *testing.T) {
	address := looking(t)
	if status, body := post(t, address+"/procedures/new", url.Values{"do": {"save"}, "text": {lamp}}); status != http.StatusForbidden || !strings.Contains(body, "no folder") {
		t.Errorf("%d %s", status, body)
	}
}
