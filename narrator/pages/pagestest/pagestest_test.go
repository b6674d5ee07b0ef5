package pagestest_test

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"stepcaller/narrator/pages/pagestest"
)

func TestViolationsAreFound(t *testing.T) {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/" {
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write([]byte(`<!DOCTYPE html><html lang="en"><title>A page</title><main><h1>A page</h1><img src="data:,"><p style="color: #999">pale</p></main></html>`))
	}))
	t.Cleanup(s.Close)
	page := pagestest.Open(t).Open(s.URL)
	found := strings.Join(page.Violations(), "\n")
	for _, want := range []string{"image-alt", "color-contrast"} {
		if !strings.Contains(found, want) {
			t.Errorf("%s is not among:\n%s", want, found)
		}
	}
}
