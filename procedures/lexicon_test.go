package procedures_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

func TestLoadLexicon(t *testing.T) {
	l, mistakes := procedures.LoadLexicon("shop.yaml", []byte(`# how we say it here
ABS: anti-lock brakes
16V: 16 valve
1/4-20: quarter 20
M8: M eight
approx.: roughly
UJ: universal joint
l/h: "left-hand"
`))
	if len(mistakes) > 0 {
		t.Fatal(mistakes)
	}
	for written, want := range map[string]string{
		"ABS ring":             "anti-lock brakes ring",
		"the 16V engine":       "the 16 valve engine",
		"1/4-20 UNC":           "quarter 20 U N C",
		"4 M8 bolts":           "4 M eight bolts",
		"M8×1.25":              "M eight times 1 point 2 5",
		"Approx. 5 mm":         "roughly 5 millimetres",
		"both UJs, one UJ.":    "both UJs, one universal joint.",
		"L/H side":             "left-hand side",
		"ECU":                  "E C U", // the default is still there
		"16 V":                 "16 volts",
		"absolutely flat, abs": "absolutely flat, abs",
	} {
		if got := l.Speakable(written); got != want {
			t.Errorf("%q is said %q, want %q", written, got, want)
		}
	}
}

func TestLoadLexicon_empty(t *testing.T) {
	for _, text := range []string{"", "\n", "# nothing yet\n", "\ufeff# nothing yet"} {
		l, mistakes := procedures.LoadLexicon("shop.yaml", []byte(text))
		if len(mistakes) > 0 || l.Speakable("TDC") != procedures.Speakable("TDC") {
			t.Errorf("%q: %v", text, mistakes)
		}
	}
}

func TestLoadLexicon_mistakes(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"ABS: A B S\n- UJ\n", "shop.yaml:2:"},
		{"- ABS\n", "shop.yaml:1:1: the lexicon should be written words"},
		{"ABS: A B S\nUJ:\n", "shop.yaml:2:5: `UJ` is empty"},
		{"UJ: [a, b]\n", "shop.yaml:1:5: `UJ` should be one text"},
		{"ABS: A B S\nABS: abs\n", `shop.yaml:2:1: "ABS" stands here twice`},
		{"thread locker: glue\n", `shop.yaml:1:1: "thread locker" is no word`},
		{"42: forty-two\n", `shop.yaml:1:1: "42" is no word`},
		{"é: e\n", `shop.yaml:1:1: "é" is no word`},
		{"UJ: '***'\n", `shop.yaml:1:5: nothing in "***" can be spoken`},
		{"left: left left\n", `shop.yaml:1:7: "left" is to be said "left left"`},
		{"near: off\noff: near\n", `shop.yaml:1:7: "near" is to be said "off"`},
		{"UJ: " + strings.Repeat("ab ", 80) + "ab\n", `shop.yaml:1:5: "UJ" is said in more than 200 letters`},
		{strings.Repeat("# words\n", 9000), "shop.yaml: the lexicon has 72000 bytes"},
		{"UJ: \xff\n", "shop.yaml:1:5: byte 0xff is not UTF-8"},
	} {
		l, mistakes := procedures.LoadLexicon("shop.yaml", []byte(c.text))
		if l != nil || len(mistakes) == 0 || !strings.HasPrefix(mistakes[0].String(), c.want) {
			t.Errorf("%.40q: %v, want %q", c.text, mistakes, c.want)
		}
	}
}

// Whatever a shop writes, no text comes out that cannot be spoken, and none that
// changes when it is said again.
func TestLoadLexicon_stable(t *testing.T) {
	word := rapid.StringMatching(`[A-Za-z0-9]{1,4}([./-][A-Za-z0-9]{1,3})?`)
	rapid.Check(t, func(t *rapid.T) {
		var file strings.Builder
		words := rapid.SliceOfN(word, 1, 5).Draw(t, "words")
		for _, w := range words {
			file.WriteString("\"" + w + "\": \"" + strings.Join(rapid.SliceOfN(rapid.OneOf(word, rapid.SampledFrom(words)), 1, 3).Draw(t, "said"), " ") + "\"\n")
		}
		l, _ := procedures.LoadLexicon("shop.yaml", []byte(file.String()))
		if l == nil {
			return
		}
		written := strings.Join(rapid.SliceOfN(rapid.SampledFrom(words), 1, 6).Draw(t, "written"), " ")
		once := l.Speakable(written)
		if twice := l.Speakable(once); twice != once || !sayable.MatchString(once) {
			t.Fatalf("with %s%q is said %q, and that again %q", &file, written, once, twice)
		}
	})
}
