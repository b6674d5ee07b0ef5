package pages_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"stepcaller/narrator/pages"
	"stepcaller/procedures/tongue"
)

func serve(t *testing.T, c pages.Config) *httptest.Server {
	t.Helper()
	h, err := pages.New(c)
	if err != nil {
		t.Fatal(err)
	}
	s := httptest.NewServer(h)
	t.Cleanup(func() {
		s.CloseClientConnections() // streams do not end by themselves
		s.Close()
	})
	return s
}

func get(t *testing.T, r *http.Request) (status int, body string) {
	t.Helper()
	return getBy(t, http.DefaultClient, r)
}

func getBy(t *testing.T, client *http.Client, r *http.Request) (status int, body string) {
	t.Helper()
	got, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer got.Body.Close()
	data, err := io.ReadAll(got.Body)
	if err != nil {
		t.Fatal(err)
	}
	return got.StatusCode, string(data)
}

func request(t *testing.T, method, url string) *http.Request {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestPagesAreForThisMachineAlone(t *testing.T) {
	s := serve(t, pages.Config{})
	if status, body := get(t, request(t, "GET", s.URL)); status != http.StatusOK || !strings.Contains(body, "No bay is running.") {
		t.Errorf("%d %s", status, body)
	}
	rebound := request(t, "GET", s.URL)
	rebound.Host = "shop.example"
	if status, body := get(t, rebound); status != http.StatusForbidden || !strings.Contains(body, "localhost") {
		t.Errorf("%d %s", status, body)
	}
	foreign := request(t, "POST", s.URL+"/anything")
	foreign.Header.Set("Origin", "http://shop.example")
	foreign.Header.Set("Sec-Fetch-Site", "cross-site")
	if status, _ := get(t, foreign); status != http.StatusForbidden {
		t.Errorf("%d", status)
	}
}

func TestAWrongAddressHasAHelpfulPage(t *testing.T) {
	s := serve(t, pages.Config{})
	if status, body := get(t, request(t, "GET", s.URL+"/nowhere")); status != http.StatusNotFound || !strings.Contains(body, "/nowhere") || !strings.Contains(body, `href="/"`) {
		t.Errorf("%d %s", status, body)
	}
}

func TestPagesSpeakTheShopsLanguage(t *testing.T) {
	de, err := tongue.Named("de")
	if err != nil {
		t.Fatal(err)
	}
	s := serve(t, pages.Config{Tongue: de, Invented: true})
	for _, want := range []string{`lang="de"`, "Kein Arbeitsplatz läuft.", "Erfundene Daten"} {
		if _, body := get(t, request(t, "GET", s.URL)); !strings.Contains(body, want) {
			t.Errorf("%s without %s", body, want)
		}
	}
}
