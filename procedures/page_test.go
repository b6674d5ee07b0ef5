package procedures_test

import (
	"bytes"
	"os"
	"regexp"
	"strings"
	"testing"

	"stepcaller/procedures"
)

const pageFile = "FORMAT.md"

func TestFormatPage(t *testing.T) {
	want := procedures.FormatPage()
	if *update {
		if err := os.WriteFile(pageFile, want, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(pageFile)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s is stale; run go generate ./procedures", pageFile)
	}
}

// pageExamples are the files on the published page.
func pageExamples(t *testing.T) (files []string) {
	t.Helper()
	data, err := os.ReadFile(pageFile)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile("(?s)```yaml\n(.*?)```").FindAllStringSubmatch(string(data), -1) {
		files = append(files, m[1])
	}
	return files
}

func TestFormatPage_examples(t *testing.T) {
	files := pageExamples(t)
	if len(files) != 2 {
		t.Fatalf("%d examples on the page, want 2", len(files))
	}
	for _, text := range files {
		if lines := mistakesIn(text); len(lines) > 0 {
			t.Errorf("mistakes %q", lines)
		}
	}
	if n := strings.Count(files[0], "say:"); n != 3 {
		t.Errorf("the simple job has %d steps, want 3", n)
	}
}

// The second example shows every key that the page lists.
func TestFormatPage_showsEveryKey(t *testing.T) {
	page := string(procedures.FormatPage())
	whole := pageExamples(t)[1]
	keys := regexp.MustCompile("(?m)^\\| `([a-z_]+)` \\|").FindAllStringSubmatch(page, -1)
	if len(keys) < 80 {
		t.Fatalf("%d keys on the page", len(keys))
	}
	elsewhere := map[string]bool{"draft": true, "wait": true} // the checker asks about a draft; a wait belongs to airbags
	for _, c := range procedures.StandardCautions() {
		elsewhere[c.Name] = true
	}
	for _, m := range keys {
		if key := m[1]; !elsewhere[key] && !regexp.MustCompile(`(?:^|[\s{])`+key+`:`).MatchString(whole) {
			t.Errorf("no `%s` in the example", key)
		}
	}
}
