package pages_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/pages"
)

// looking serves the tests' day.
func looking(t *testing.T) (url string) {
	store, data := keep(t, day(t)...)
	return serve(t, pages.Config{Store: store, Data: data, Now: func() time.Time { return evening }}).URL
}

func TestAJobsPageShowsWhatItTook(t *testing.T) {
	url := looking(t)
	for page, wants := range map[string][]string{
		"/jobs/2000-01-03-1": {"R 20417", "Torque log", "21.9 to 22.1 mm", "worn", "Mara", "/jobs/2000-01-03-1/memos/2000-01-03-1-1.wav", "parts"},
		"/jobs/2000-01-02-1": {"/jobs/1999-12-20-2", "14 h 00 min"},
		"/jobs/2000-01-03-2": {"not finished", "The program did not run for 25 min"},
		"/jobs/2000-01-03-3": {"/procedures/new?job=2000-01-03-3", "25 N·m"},
	} {
		status, body := get(t, request(t, "GET", url+page))
		for _, want := range wants {
			if status != http.StatusOK || !strings.Contains(body, want) {
				t.Errorf("%s: %d without %q", page, status, want)
			}
		}
	}
}

func TestAnAbsentJobHasAHelpfulPage(t *testing.T) {
	url := looking(t)
	for _, page := range []string{"/jobs/2000-01-03-9", "/jobs/2000-01-03-9/sheet", "/jobs/2000-01-03-9/memos/x.wav", "/jobs/..%2f..", "/jobs/%20"} {
		if status, body := get(t, request(t, "GET", url+page)); status != http.StatusNotFound || !strings.Contains(body, "<h1>") {
			t.Errorf("%s: %d %s", page, status, body)
		}
	}
	empty := serve(t, pages.Config{})
	if status, body := get(t, request(t, "GET", empty.URL+"/jobs/2000-01-03-1")); status != http.StatusNotFound || !strings.Contains(body, "stepcaller start") {
		t.Errorf("%d %s", status, body)
	}
	closed := &journal.Memory{}
	if err := closed.Close(); err != nil {
		t.Fatal(err)
	}
	if status, body := get(t, request(t, "GET", serve(t, pages.Config{Store: closed}).URL+"/jobs/2000-01-03-1")); status != http.StatusInternalServerError ||
		!strings.Contains(body, "the journal is closed") {
		t.Errorf("%d %s", status, body)
	}
}

func TestANoteIsPlayedFromTheDataFolderAlone(t *testing.T) {
	url := looking(t)
	part := request(t, "GET", url+"/jobs/2000-01-03-1/memos/2000-01-03-1-1.wav")
	part.Header.Set("Range", "bytes=0-3")
	if status, body := get(t, part); status != http.StatusPartialContent || body != "RIFF" {
		t.Errorf("%d %q", status, body)
	}
	for _, page := range []string{"/jobs/2000-01-03-1/memos/2000-01-03-3-1.wav", "/jobs/2000-01-03-1/memos/..%2fjournal.db"} {
		if status, _ := get(t, request(t, "GET", url+page)); status != http.StatusNotFound {
			t.Errorf("%s: %d", page, status)
		}
	}
}

// figuresOf opens the cache of finished jobs beside a store, and fills it.
func figuresOf(t *testing.T, data string, store journal.Store) *archive.Archive {
	t.Helper()
	a, err := archive.Open(data, store)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	if err := a.Refresh(t.Context()); err != nil {
		t.Fatal(err)
	}
	return a
}
