package procedures_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

// importTexts are the files to import, without their endings.
func importTexts(t testing.TB) []string {
	t.Helper()
	var names []string
	for _, ending := range []string{"md", "txt"} {
		found, err := filepath.Glob("testdata/import/*." + ending)
		if err != nil {
			t.Fatal(err)
		}
		names = append(names, found...)
	}
	if len(names) < 12 {
		t.Fatalf("only %d texts in testdata/import", len(names))
	}
	return names
}

func TestImport(t *testing.T) {
	for _, name := range importTexts(t) {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		draft, err := procedures.Import(name, text)
		if err != nil {
			t.Error(err)
			continue
		}
		got := draft.YAML()
		golden := strings.TrimSuffix(name, filepath.Ext(name)) + ".yaml"
		if *update {
			if err := os.WriteFile(golden, got, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s gives another draft than %s; compare them with -update", name, golden)
		}
		soundImport(t, text, draft)
	}
}

// soundImport fails the test unless the draft loads and all its numbers stand in the
// text.
func soundImport(t testing.TB, text []byte, draft procedures.Draft) {
	t.Helper()
	yaml := draft.YAML()
	if _, mistakes := procedures.Load("draft.yaml", yaml); procedures.Refused(mistakes) {
		t.Fatalf("the draft does not load: %v\n%s\nmade of\n%s", mistakes, yaml, text)
	}
	if made := madeUp(string(text), draft); len(made) > 0 {
		t.Fatalf("%q do not stand in the text\n%s\nbut in the draft\n%s", made, text, yaml)
	}
}

var anyNumber = regexp.MustCompile(`\d+(?:\.\d+)?`)

// numberWords are the numbers that a text may give in words.
var numberWords = map[string]string{"one": "1", "two": "2", "both": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7",
	"eight": "8", "nine": "9", "ten": "10", "eleven": "11", "twelve": "12"}

// madeUp lists the numbers of the draft that the text does not have. A wait may
// have been brought from hours or seconds to minutes.
func madeUp(text string, draft procedures.Draft) (made []string) {
	has := map[string]bool{}
	enter := func(number string) {
		whole, decimals, _ := strings.Cut(number, ".")
		has[plainNumber(number)] = true
		has[plainNumber(whole)], has[plainNumber(decimals)] = true, true
	}
	for _, n := range anyNumber.FindAllString(text, -1) {
		enter(n)
	}
	visible := strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Cf, r) {
			return -1
		}
		return r
	}, text)
	for _, w := range regexp.MustCompile(`[A-Za-z]+`).FindAllString(visible, -1) {
		if n := numberWords[strings.ToLower(w)]; n != "" {
			has[n] = true
		}
	}
	check := func(value string) {
		for _, n := range anyNumber.FindAllString(value, -1) {
			if !has[plainNumber(n)] {
				made = append(made, value)
			}
		}
	}
	for _, s := range draft.Steps {
		for _, list := range [][]string{s.Tools, s.Off, s.Disconnect, s.Loosen, s.ByHand, s.Open, s.Plug, s.Stuff, s.Drain, s.Support,
			s.Back, s.Connect, s.Tight, s.Shut, s.Out, s.Fill, s.Clear, s.Level, {s.Say}} {
			for _, text := range list {
				check(text)
			}
		}
		for _, c := range s.Cautions {
			check(c.Say)
		}
		for _, p := range s.Parts {
			check(p.Name)
		}
		for _, q := range s.Torque {
			check(q.Fastener)
			check(q.Value.String())
			if q.Count > 1 {
				check(fmt.Sprint(q.Count))
			}
			for _, stage := range q.Stages {
				check(stage.Name)
			}
			if len(q.Stages) == 0 && q.Angle > 0 {
				check(fmt.Sprint(q.Angle))
			}
		}
		for _, q := range s.Timers {
			if m := q.Minutes; !has[plain(m)] && !has[plain(m*60)] && !has[plain(m/60)] {
				made = append(made, fmt.Sprint(m, " minutes"))
			}
		}
		for _, q := range s.Readings {
			for _, limit := range []fmt.Stringer{q.Min, q.Max, q.Wear} {
				if text := fmt.Sprint(limit); text != "<nil>" {
					check(text)
				}
			}
		}
	}
	return made
}

// plainNumber is a number without zeros that do not count.
func plainNumber(text string) string {
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	if text = strings.TrimLeft(text, "0"); text == "" || text[0] == '.' {
		text = "0" + text
	}
	return text
}

func plain(x float64) string { return plainNumber(fmt.Sprintf("%.9f", x)) }

// The values of one sentence, for each of the forms that the importer knows.
func TestImport_values(t *testing.T) {
	for _, c := range []struct{ say, want string }{
		{"Tighten the 4 M8×25 bolts to 25 N·m.", "M8×25 bolt ×4 25 N·m"},
		{"Torque the cover bolts (6) to 89 in-lb.", "cover bolt ×6 89 lbf·in"},
		{"Tighten the nut to 2.5 kgf·m.", "nut ×1 2.5 kgf·m"},
		{"Tighten both cap bolts to 30 Nm + 60°.", "cap bolt ×2 30 N·m +60°"},
		{"Tighten the pulley bolt to 50 N·m, then turn it a further 90 degrees.", "pulley bolt ×1 50 N·m +90°"},
		{"Tighten the 10 head bolts to 20 N·m, then 40 N·m, then 90° and finally 90°.", "head bolt ×10 40 N·m [20 N·m full 90° 90°]"},
		{"Stage 1: the 8 bolts to 10 N·m. Stage 2: 25 N·m.", "bolt ×8 25 N·m [10 N·m full]"},
		{"Tighten the M6 bolt to 10 N·m and the M8 bolt to 25 N·m.", "M6 bolt ×1 10 N·m; M8 bolt ×1 25 N·m"},
		{"Tighten the drain plug to 25 N·m (18 lbf·ft).", "drain plug ×1 25 N·m drain plug"},
		{"Tighten the 5 wheel nuts to 80-90 lb-ft.", "wheel nut ×5 80 lbf·ft ?"},
		{"Tighten the nut to 25 N·m (18 lbf·in).", "nut ×1 25 N·m ?"},
		{"Tighten the nut to 24,5 N·m.", "?"},
		{"Tighten the nut to 15 lb in the end.", "?"},
		{"Tighten the nut to 20.", "?"},
		{"Tighten the nut to the specified torque.", "?"},
		{"Turn the bolt a further 90°.", "?"},
		{"Tighten to 25 N·m.", "fastener ×1 25 N·m ?"},
		{"Fit a new split pin and tighten the 2 new oiled bolts crosswise to 12 N·m.", "oiled bolt ×2 12 N·m criss-cross oiled new"},
		{"Wait 10 minutes.", "wait 10 min from begin"},
		{"Apply sealant and let it skin for 90 s.", "sealant 1.5 min"},
		{"Leave for 2 h.", "wait 120 min from begin"},
		{"Wait 5 to 10 minutes.", "?"},
		{"Fit the cover within 5 min of applying the sealant.", "?"},
		{"The gap must be 0.7 to 0.8 mm.", "gap 0.7..0.8 mm"},
		{"Check that the battery voltage is at least 12.4 V.", "battery voltage 12.4.. V"},
		{"Measure the disc thickness: between 22 and 24 mm, wear limit 21.4 mm.", "disc thickness 22..24 mm wear 21.4"},
		{"Measure the run-out. It must not exceed 0.1 mm.", "run-out ..0.1 mm"},
		{"Measure the free play: 0.25 ± 0.02 mm.", "free play .. mm ?"},
		{"The pressure must be 9 to 8 bar.", "pressure .. bar ?"},
		{"Check that the temperature rise is 30 to 40 °F.", "temperature rise 30..40 °F difference"},
	} {
		draft, err := procedures.Import("list.md", []byte("1. "+c.say))
		if err != nil {
			t.Fatal(err)
		}
		if got := values(draft.Steps[0]); got != c.want {
			t.Errorf("%q gives %q, want %q; doubts %q", c.say, got, c.want, draft.Steps[0].Doubts)
		}
	}
}

// values is what was found in a step, in short; a question mark stands for doubts.
func values(s procedures.DraftStep) string {
	var all []string
	for _, q := range s.Torque {
		text := fmt.Sprintf("%s ×%d %s", q.Fastener, q.Count, q.Value)
		switch {
		case len(q.Stages) > 0:
			var names []string
			for _, stage := range q.Stages {
				names = append(names, stage.Name)
			}
			text += fmt.Sprint(" ", names)
		case q.Angle > 0:
			text += fmt.Sprintf(" +%d°", q.Angle)
		}
		for _, more := range []string{string(q.Order), string(q.Condition), string(q.Low), map[bool]string{true: "new"}[q.New]} {
			text = strings.TrimSpace(text + " " + more)
		}
		all = append(all, text)
	}
	for _, q := range s.Timers {
		text := fmt.Sprintf("%s %v min", q.Name, q.Minutes)
		if q.From != procedures.AtEnd {
			text += " from " + string(q.From)
		}
		all = append(all, text)
	}
	for _, q := range s.Readings {
		text := q.Name + " "
		if q.Min != nil {
			text += q.Min.String()
		}
		text += ".."
		if q.Max != nil {
			text += q.Max.String()
		}
		text += " " + q.Unit
		if q.Wear != nil {
			text += " wear " + q.Wear.String()
		}
		if q.Difference {
			text += " difference"
		}
		all = append(all, text)
	}
	text := strings.Join(all, "; ")
	for _, doubt := range s.Doubts {
		if !strings.Contains(doubt, "no step before") && !strings.Contains(doubt, "sentences") {
			return strings.TrimSpace(text + " ?")
		}
	}
	return text
}

func TestImport_refuses(t *testing.T) {
	for want, text := range map[string]string{
		"list.md holds no list of steps; number them": "Just a few words.\n\nAnd more.",
		"is UTF-16 text":                    "\xff\xfe1\x00.\x00",
		"is not UTF-8 text":                 "1. Remove the cover\xff.",
		"more than 262144; import it":       strings.Repeat("1. Remove the cover.\n", 15000),
		"more than 500 steps; import it in": strings.Repeat("1. Remove the cover.\n", 501),
	} {
		if _, err := procedures.Import("list.md", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.30q: %v, want %q", text, err, want)
		}
	}
}

// Whatever is put together from the trade's sentences: the draft loads, and no
// number in it is made up.
func TestImport_neverInvents(t *testing.T) {
	var lines []string
	for _, name := range importTexts(t) {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, strings.Split(string(text), "\n")...)
	}
	number := rapid.OneOf(rapid.Map(rapid.IntRange(0, 2000), func(n int) string { return fmt.Sprint(n) }), rapid.StringMatching(`[0-9]{1,3}[.,][0-9]{1,3}`))
	phrase := rapid.Custom(func(t *rapid.T) string {
		form := rapid.SampledFrom([]string{"tighten the # bolts to # N·m", "to # Nm + #°", "then # lb-ft", "# to # N·m", "wait # minutes", "leave # - # h",
			"it must be # to # mm", "at least # V", "wear limit # mm", "remove the # cover bolts", "refit # bolts", "(# off)", "a further #°", "# ± # bar",
			"start the # nuts by hand", "stuff # rags in", "take out the rags", "M#×#", "in. lbs", ",", "and", ". Then", "# kgf·m", "two", "both", "the cover"}).Draw(t, "form")
		for strings.Contains(form, "#") {
			form = strings.Replace(form, "#", number.Draw(t, "number"), 1)
		}
		return form
	})
	line := rapid.OneOf(rapid.SampledFrom(lines), rapid.Map(rapid.SliceOfN(phrase, 1, 6), func(p []string) string { return "1. " + strings.Join(p, " ") }),
		rapid.StringMatching(`[-*1-9. ]{0,4}[ -~°·×–]{0,60}`))
	rapid.Check(t, func(t *rapid.T) {
		text := []byte(strings.Join(rapid.SliceOfN(line, 1, 20).Draw(t, "lines"), "\n"))
		draft, err := procedures.Import("list.md", text)
		if err != nil {
			return
		}
		soundImportIn(t, text, draft)
	})
}

func soundImportIn(t *rapid.T, text []byte, draft procedures.Draft) {
	yaml := draft.YAML()
	if _, mistakes := procedures.Load("draft.yaml", yaml); procedures.Refused(mistakes) {
		t.Fatalf("the draft does not load: %v\n%s", mistakes, yaml)
	}
	if made := madeUp(string(text), draft); len(made) > 0 {
		t.Fatalf("%q do not stand in the text but in\n%s", made, yaml)
	}
}

func FuzzImport(f *testing.F) {
	for _, name := range importTexts(f) {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		draft, err := procedures.Import("list.md", text)
		if err != nil {
			return
		}
		soundImport(t, text, draft)
	})
}

func TestImport_aLineOfToolsOrParts(t *testing.T) {
	draft, err := procedures.Import("job.md", []byte("# Hub\nTools: 30 mm socket; puller, torque wrench.\n\nParts needed: hub nut\n1. Take the wheel off.\n2. Fit the wheel.\n"))
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(draft.Tools, "|"); got != "30 mm socket|puller|torque wrench" || len(draft.Parts) != 1 || draft.Parts[0].Name != "hub nut" {
		t.Errorf("tools %q, parts %+v", got, draft.Parts)
	}
}
