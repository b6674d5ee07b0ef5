package tongue_test

import (
	"strings"
	"testing"

	"stepcaller/procedures/tongue"
)

func load(t *testing.T, text string) *tongue.Tongue {
	t.Helper()
	got, err := tongue.Load("test.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func TestATextComesInTheLanguageOrInEnglish(t *testing.T) {
	de := load(t, `
language: de
texts:
  "Step %d of %d": Schritt %d von %d
  "%s, %d of them": "%[2]d mal %[1]s"
  "%d jobs": {one: "%d Auftrag", other: "%d Aufträge"}
`)
	var english *tongue.Tongue
	for _, c := range []struct{ got, want string }{
		{de.F("Step %d of %d", 2, 9), "Schritt 2 von 9"},
		{de.F("%s, %d of them", "Bolzen", 4), "4 mal Bolzen"},
		{de.F("Not there %d", 3), "Not there 3"},
		{de.F("100 %"), "100 %"},
		{de.N(1, "%d job", "%d jobs"), "1 Auftrag"},
		{de.N(3, "%d job", "%d jobs"), "3 Aufträge"},
		{de.N(1, "%d bolt", "%d bolts"), "1 bolt"},
		{english.F("Step %d of %d", 2, 9), "Step 2 of 9"},
		{english.N(1, "%d job", "%d jobs"), "1 job"},
		{english.N(0, "%d job", "%d jobs"), "0 jobs"},
		{english.Tag(), "en"},
		{de.Tag(), "de"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// Polish has one, few and many (Unicode CLDR, plural rules).
func TestALanguageMayHaveMorePluralForms(t *testing.T) {
	pl := load(t, `
language: pl
texts:
  "%d bolts": {one: "%d śruba", few: "%d śruby", many: "%d śrub", other: "%d śruby"}
`)
	for n, want := range map[int]string{1: "1 śruba", 2: "2 śruby", 5: "5 śrub", 22: "22 śruby"} {
		if got := pl.N(n, "%d bolt", "%d bolts"); got != want {
			t.Errorf("%d: got %q, want %q", n, got, want)
		}
	}
}

// The marks are those of Unicode CLDR.
func TestFiguresHaveTheLanguagesDecimalMark(t *testing.T) {
	var english *tongue.Tongue
	if got := english.Figures("12.5 N·m"); got != "12.5 N·m" {
		t.Errorf("English: %q", got)
	}
	for tag, want := range map[string]string{"de": "12,5 N·m", "de-CH": "12.5 N·m", "fr": "12,5 N·m", "pl": "12,5 N·m", "ja": "12.5 N·m"} {
		if got := load(t, "language: "+tag+"\ntexts: {}\n").Figures("12.5 N·m"); got != want {
			t.Errorf("%s: %q, want %q", tag, got, want)
		}
	}
}

func TestAWrongLanguageFileSaysWhere(t *testing.T) {
	for text, part := range map[string]string{
		"language: de\ntexts: {\"Step %d\": Schritt}\n":    "Step %d",
		"language: de\ntexts: {\"%s of %d\": \"%s %s\"}\n": "%s of %d",
		"language: 1\n":              "language tag",
		"language: de\ntextes: {}\n": "[2:1]",
		"language: de\ntexts: {\"%d a\": {several: \"%d b\"}}": "several",
	} {
		if _, err := tongue.Load("x.yaml", []byte(text)); err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("%q: %v", text, err)
		}
	}
	if _, err := tongue.Named("xx"); err == nil || !strings.Contains(err.Error(), "de") {
		t.Errorf("%v", err)
	}
}

func TestTheBundledLanguagesLoad(t *testing.T) {
	for _, name := range tongue.Bundled() {
		if _, err := tongue.Named(name); err != nil {
			t.Error(err)
		}
	}
}
