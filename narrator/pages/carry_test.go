package pages_test

import (
	"archive/zip"
	"encoding/csv"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"testing"

	"stepcaller/narrator/pages"
)

func TestEverythingIsExported(t *testing.T) {
	address := looking(t)
	status, body := get(t, request(t, "GET", address+"/export.json"))
	var whole map[string]any
	if err := json.Unmarshal([]byte(body), &whole); status != http.StatusOK || err != nil || !strings.Contains(body, "2000-01-03-3") {
		t.Errorf("%d %v", status, err)
	}
	status, body = get(t, request(t, "GET", address+"/export.csv.zip"))
	archive, err := zip.NewReader(strings.NewReader(body), int64(len(body)))
	if status != http.StatusOK || err != nil {
		t.Fatalf("%d %v", status, err)
	}
	i := slices.IndexFunc(archive.File, func(f *zip.File) bool { return f.Name == "jobs.csv" })
	if i < 0 {
		t.Fatalf("no jobs.csv among %d tables", len(archive.File))
	}
	f, err := archive.File[i].Open()
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if rows, err := csv.NewReader(f).ReadAll(); err != nil || len(rows) != 5 {
		t.Errorf("%d rows, %v", len(rows), err)
	}
	for _, page := range []string{"/export.json", "/export.csv.zip"} {
		if status, _ := get(t, request(t, "GET", serve(t, pages.Config{}).URL+page)); status != http.StatusNotFound {
			t.Errorf("%s: %d", page, status)
		}
	}
}
