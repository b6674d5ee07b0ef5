package procedures_test

import (
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

// small is the smallest sound procedure; the tests spoil it.
const small = `id: job
title: A job
machine: Car
book:
  - code: A1
    title: A job
    hours: 0.5
tools: []
parts: []
cautions: []
steps:
  - id: one
    say: Do it.
`

// mistakesIn are the mistakes of a file, one a line.
func mistakesIn(text string) []string {
	_, mistakes := procedures.Load("job.yaml", []byte(text))
	var lines []string
	for _, m := range mistakes {
		lines = append(lines, m.String())
	}
	return lines
}

func TestLoad_small(t *testing.T) {
	p, mistakes := procedures.Load("job.yaml", []byte(small))
	if len(mistakes) > 0 {
		t.Fatal(mistakes)
	}
	if p.Format != procedures.FormatVersion || p.ID != "job" || p.Machine != "Car" || len(p.Steps) != 1 || p.Steps[0].Say != "Do it." || p.BookHours() != 50 {
		t.Errorf("read as %+v", p)
	}
}

func TestLoad_wholeStep(t *testing.T) {
	p, mistakes := procedures.Load("job.yaml", []byte(small+`    title: It
    minutes: 2.5
    tools: spanner
    cautions: [Hot, "Sharp: edges"]
    torque:
      - fastener: cover bolt
        count: 10
        value: 7 ft-lb
        angle: 90
        order: criss-cross
      - {fastener: plug, value: 25 Nm}
  - id: 2
    say: >-
      Do it
      again.
`))
	if procedures.Refused(mistakes) {
		t.Fatal(mistakes)
	}
	s := p.Steps[0]
	if s.Title != "It" || s.Minutes != 2.5 || !slices.Equal(s.Tools, []string{"spanner"}) || !slices.Equal(s.Cautions, []procedures.Caution{{Say: "Hot"}, {Say: "Sharp: edges"}}) {
		t.Errorf("read as %+v", s)
	}
	want := procedures.Tightening{Fastener: "cover bolt", Count: 10, Value: torque(t, "7 lbf·ft"), Angle: 90, Order: procedures.CrissCross}
	if !reflect.DeepEqual(s.Torque[0], want) {
		t.Errorf("torque read as %+v, want %+v", s.Torque[0], want)
	}
	if s.Torque[1].Count != 1 {
		t.Errorf("count left out is read as %d, want 1", s.Torque[1].Count)
	}
	if p.Steps[1].ID != "2" || p.Steps[1].Say != "Do it again." {
		t.Errorf("read as %+v", p.Steps[1])
	}
}

// TestLoad_mistakes spoils one line of the small file at a time.
func TestLoad_mistakes(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"unknown key", "    say:", "    tourque: []\n    say:", "13:5: unknown key `tourque`. Did you mean `torque`?"},
		{"key far from any", "    say:", "    zzzzzzzz: 1\n    say:", "13:5: unknown key `zzzzzzzz`. Known here: id, say, title,"},
		{"key of another place", "tools: []", "say: hello\ntools: []", "8:1: unknown key `say`."},
		{"key twice", "title: A job\nmachine", "title: A job\ntitle: B\nmachine", "3:1: `title` stands here twice. Keep one of them."},
		{"id missing", "id: job\n", "", "1:1: the procedure has no `id`. Add it: short name"},
		{"step id missing", "  - id: one\n    say", "  - say", "12:5: step 1 has no `id`."},
		{"say missing", "    say: Do it.\n", "", "12:5: step 1 has no `say`."},
		{"tools missing", "tools: []\n", "", "1:1: question: the procedure has no `tools`. List them, or write `tools: []` where there are none."},
		{"say empty", "Do it.", `""`, "13:10: `say` is empty."},
		{"say too long", "Do it.", strings.Repeat("word ", 220), "13:11: `say` is longer than 1000 characters."},
		{"say a comment", "Do it.", "#2 bolt", "13:10: `say` is empty. Fill it in; text that begins with # needs double quotes."},
		{"say without sound", "Do it.", `"🔧"`, "13:10: nothing in \"🔧\" can be spoken."},
		{"say a list", "Do it.", "[a, b]", "13:10: `say` should be one text, not a list."},
		{"say a mapping", "Do it.", "{a: b}", "13:11: `say` should be text, not keys with values."},
		{"say true", "Do it.", "true", "13:10: `say` should be text."},
		{"title null", "title: A job\nm", "title:\nm", "2:7: `title` is empty."},
		{"hours text", "0.5", "half", "7:12: `hours` should be a number."},
		{"hours quoted", "0.5", `"0.5"`, "7:12: `hours` should be a number."},
		{"hours negative", "0.5", "-0.5", "7:12: `hours` of -0.5 h is below zero."},
		{"hours in twentieths", "0.5", "0.55", "7:12: question: `hours` of 0.55 h is not in tenths."},
		{"hours too fine", "0.5", "0.555", "7:12: `hours`: finer than a hundredth of an hour."},
		{"hours in hex", "0.5", "0x10", "7:12: `hours`: \"0x10\" is not a number of hours."},
		{"hours endless", "0.5", ".inf", "7:12: `hours` should be a number."},
		{"minutes negative", "    say:", "    minutes: -1\n    say:", "13:14: -1 minutes are below zero."},
		{"minutes endless", "    say:", "    minutes: 99999\n    say:", "13:14: \"99999\" minutes."},
		{"overlap too big", "tools:", "overlap: 0.5\ntools:", "8:10: the overlap of 0.5 h leaves nothing of the 0.5 h under `book`."},
		{"overlap alone", "tools:", "overlap: 0.1\ntools:", "8:10: question: an overlap with only one operation."},
		{"steps empty", "steps:\n  - id: one\n    say: Do it.", "steps: []", "11:8: `steps` should be a list with at least one entry."},
		{"steps text", "steps:\n  - id: one\n    say: Do it.", "steps: none", "11:8: `steps` should be a list with at least one entry."},
		{"step text", "  - id: one\n    say: Do it.", "  - go", "12:5: step 1 should be keys with values. Begin with `id:`."},
		{"book missing", "book:\n  - code: A1\n    title: A job\n    hours: 0.5\n", "", "1:1: the procedure has no `book`."},
		{"id with blanks", "id: job", "id: my job", "1:5: \"my job\" is no id."},
		{"id a path", "id: job", "id: ../job", "1:5: \"../job\" is no id."},
		{"ids twice", "    say: Do it.", "    say: Do it.\n  - id: one\n    say: Again.", "14:9: step id \"one\" is already the id of step 1."},
		{"newer format", "id: job", "stepcaller: 3\nid: job", "1:13: the file is format 3, this program reads up to 2."},
		{"format zero", "id: job", "stepcaller: 0\nid: job", "1:13: format 0."},
		{"count zero", "    say:", "    torque: [{fastener: bolt, count: 0, value: 10 Nm}]\n    say:", "13:38: `count` of 0. Write a whole number from 1 to 1000."},
		{"count negative", "    say:", "    torque: [{fastener: bolt, count: -2, value: 10 Nm}]\n    say:", "13:38: `count` of -2."},
		{"count broken", "    say:", "    torque: [{fastener: bolt, count: 1.5, value: 10 Nm}]\n    say:", "13:38: `count` of 1.5."},
		{"bad unit", "    say:", "    torque: [{fastener: bolt, value: 10 bananas}]\n    say:", "13:38: \"bananas\" is no unit of torque. Use N·m, lbf·ft, lbf·in or kgf·m."},
		{"no unit", "    say:", "    torque: [{fastener: bolt, value: 10}]\n    say:", "13:38: torque \"10\" has no unit."},
		{"no torque", "    say:", "    torque: [{fastener: bolt, value: 0 Nm}]\n    say:", "13:38: a torque of zero."},
		{"torque without value", "    say:", "    torque: [{fastener: bolt}]\n    say:", "13:15: torque entry 1 has no `value`."},
		{"unknown order", "    say:", "    torque: [{fastener: bolt, value: 10 Nm, order: stra}]\n    say:", "13:52: \"stra\" is no tightening order. Did you mean `star`?"},
		{"anchor", "title: A job\nm", "title: &a A job\nm", "2:8: a value that begins with \"&\"."},
		{"alias", "machine: Car", "machine: *a", "3:10: a value that begins with \"*\"."},
		{"tag", "machine: Car", "machine: !!str Car", "3:10: a value that begins with \"!!str\"."},
		{"merge", "machine: Car", "machine: Car\n<<: {a: b}", "4:1: a value that begins with \"<<\"."},
		{"tab", "    say: Do it.", "\tsay: Do it.", "13:1: a tab in the indentation. Indent with spaces."},
		{"not UTF-8", "Car", "C\xe4r", "3:11: byte 0xe4 is not UTF-8 text. Save the file as UTF-8."},
		{"control character", "Car", "C\x00r", "3:11: control character U+0000 in the text."},
		{"colon in text", "Do it.", "Note: hot", "13:"},
		{"open bracket", "tools: []", "tools: [", "8:8: YAML: "},
		{"second document", "id: job", "---\nid: x\n---\nid: job", "4:1: a second document in the file."},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := strings.Replace(small, c.old, c.new, 1)
			if text == small {
				t.Fatalf("%q is not in the file", c.old)
			}
			lines := mistakesIn(text)
			for _, line := range lines {
				if strings.HasPrefix(line, "job.yaml:"+c.want) {
					return
				}
			}
			t.Errorf("mistakes\n\t%s\nwant one beginning\n\t%s", strings.Join(lines, "\n\t"), "job.yaml:"+c.want)
		})
	}
}

func TestLoad_wholeFile(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", "job.yaml: the file is empty."},
		{"blanks", " \n\n", "job.yaml: the file is empty."},
		{"comments", "# nothing\n", "job.yaml: the file holds only comments."},
		{"a word", "hello", "job.yaml:1:1: the procedure should be keys with values. Begin with `stepcaller:`."},
		{"a list", "- a\n- b\n", "job.yaml:1:1: the procedure should be keys with values."},
		{"UTF-16", "\xff\xfei\x00d\x00", "job.yaml:1:1: the file is UTF-16 text. Save it as UTF-8."},
		{"too large", strings.Repeat("# x\n", procedures.MaxBytes/4+1), "job.yaml: the file has 2097156 bytes, more than 2097152."},
		{"too many lines", strings.Repeat("#\n", 100_000), "job.yaml: the file has 100001 lines, more than 100000."},
		{"far indented", "a:\n" + strings.Repeat(" ", 101) + "b: 1", "job.yaml:2:101: the line is indented by 101, more than 100."},
		{"long line", "id: " + strings.Repeat("x", 5000), "job.yaml:1:4001: the line has 5004 bytes, more than 4000."},
		{"deep lists", strings.Repeat("[[[[[[[[[[[[\n", 5000), "job.yaml:2:9: brackets more than 20 deep."},
		{"deep mappings", strings.Repeat("{a: {a: {a: {a: {a: {a: \n", 5000), "job.yaml:4:9: brackets more than 20 deep."},
		{"many keys", strings.Repeat("a: b\n", 501), "job.yaml:501:2: more than 500 keys beside each other."},
		{"many keys in an entry", "steps:\n  - id: one\n" + strings.Repeat("    a:\n      - b\n", 500), "job.yaml:1001:6: more than 500 keys beside each other."},
		{"nothing behind hyphens", strings.Repeat("-\n", 201), "job.yaml:201:1: more than 200 empty values in the file."},
		{"nothing behind colons", strings.Repeat("- a:\n  b: c\n", 201), "job.yaml:401:4: more than 200 empty values in the file."},
		{"nothing in brackets", strings.Repeat("- {a: , b}\n", 101), "job.yaml:101:5: more than 200 empty values in the file."},
		{"explicit key", "? a\n: b\n", "job.yaml:1:1: a value that begins with \"?\". Put the text in double quotes."},
	} {
		t.Run(c.name, func(t *testing.T) {
			lines := mistakesIn(c.text)
			if len(lines) == 0 || !strings.HasPrefix(lines[0], c.want) {
				t.Errorf("mistakes %q, want first %q", lines, c.want)
			}
		})
	}
}

func TestLoad_everyMistakeAtOnce(t *testing.T) {
	got := mistakesIn(`id: a job
titel: A job
machine: Car
book:
  - code: A1
    title: A job
    hours: 0.55
tools: []
parts: []
steps:
  - id: one
    say: ""
    torque:
      - fastener: bolt
        count: 0
        value: 10 lbs
  - id: one
    say: Again.
    of: cover
`)
	want := []string{
		"job.yaml:1:1: the procedure has no `title`. Add it: what the job is called on the repair order.",
		"job.yaml:1:1: question: the procedure has no `cautions`. List them, or write `cautions: []` where there are none.",
		"job.yaml:1:5: \"a job\" is no id. Use up to 64 letters, digits, dots, hyphens and underscores.",
		"job.yaml:2:1: unknown key `titel`. Did you mean `title`?",
		"job.yaml:7:12: question: `hours` of 0.55 h is not in tenths. Check it against the labour time guide.",
		"job.yaml:12:10: `say` is empty. Fill it in; text that begins with # needs double quotes.",
		"job.yaml:15:16: `count` of 0. Write a whole number from 1 to 1000.",
		"job.yaml:16:16: \"lbs\" is no unit of torque. Use N·m, lbf·ft, lbf·in or kgf·m.",
		"job.yaml:17:9: step id \"one\" is already the id of step 1. Give every step an id of its own.",
		"job.yaml:19:5: unknown key `of`. Did you mean `off`?",
	}
	if !slices.Equal(got, want) {
		t.Errorf("mistakes\n\t%s\nwant\n\t%s", strings.Join(got, "\n\t"), strings.Join(want, "\n\t"))
	}
}

func TestLoad_lineEndings(t *testing.T) {
	text := "\ufeff" + strings.ReplaceAll(small, "\n", "\r\n")
	if lines := mistakesIn(text); len(lines) > 0 {
		t.Errorf("mistakes %q", lines)
	}
	text = strings.Replace(text, "say:", "sya:", 1)
	if lines := mistakesIn(text); !slices.Contains(lines, "job.yaml:13:5: unknown key `sya`. Did you mean `say`?") {
		t.Errorf("mistakes %q", lines)
	}
}

// FuzzLoad gives Load any bytes: it must return, and agree with itself.
func FuzzLoad(f *testing.F) {
	files, err := filepath.Glob("library/*.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(small))
	f.Add([]byte("a: &a [*a, *a]\nb: {<<: *a}"))
	f.Add([]byte("? - ? - ?\n: |\n  x\n...\n%YAML 1.2\n---"))
	f.Add([]byte("steps: [{id: x, say: y, torque: [{value: 1 Nm}]}]"))
	f.Fuzz(func(t *testing.T, data []byte) { loads(t, data) })
}

// loads checks what Load promises for any bytes.
func loads(t interface{ Fatalf(string, ...any) }, data []byte) {
	p, mistakes := procedures.Load("x.yaml", data)
	if (p == nil) != procedures.Refused(mistakes) {
		t.Fatalf("%q gives procedure %v with mistakes %v", data, p, mistakes)
	}
	promises(t, data, p)
	for _, m := range mistakes {
		if m.What == "" || m.Mend == "" || m.Line < 0 || m.Line > 0 && m.Column < 1 {
			t.Fatalf("%q gives the mistake %+v", data, m)
		}
	}
}

// promises checks what a loaded procedure promises to those who follow it.
func promises(t interface{ Fatalf(string, ...any) }, data []byte, p *procedures.Procedure) {
	if p == nil {
		return
	}
	if p.Text() != string(data) || len(p.Steps) < 1 || len(p.Steps) > 5000 {
		t.Fatalf("%q gives %d steps of the text %q", data, len(p.Steps), p.Text())
	}
	for i, s := range p.Steps {
		if at, ok := p.Index(s.ID); !ok || at != i {
			t.Fatalf("%q: step %d is found by its id %q at %d", data, i, s.ID, at)
		}
		for _, premise := range s.OnlyIf {
			if _, ok := p.Choice(premise.Choice); !ok {
				t.Fatalf("%q: step %s hangs on %q, which nobody asks", data, s.ID, premise.Choice)
			}
		}
		for _, tightening := range s.Torque {
			if tightening.Count < 1 || len(tightening.Rounds()) < 1 || tightening.Value == (procedures.Torque{}) {
				t.Fatalf("%q: step %s has the torque %+v", data, s.ID, tightening)
			}
		}
		for _, caution := range s.Cautions {
			if caution.Say == "" {
				t.Fatalf("%q: step %s has a caution without words", data, s.ID)
			}
		}
	}
}

// TestLoad_damaged cuts, doubles and overwrites pieces of a bundled file.
func TestLoad_damaged(t *testing.T) {
	good, err := os.ReadFile("library/valve-cover.yaml")
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		data := slices.Clone(good)
		for range rapid.IntRange(1, 4).Draw(t, "damages") {
			from := rapid.IntRange(0, len(data)).Draw(t, "from")
			to := min(len(data), from+rapid.IntRange(0, 200).Draw(t, "length"))
			piece := rapid.OneOf(rapid.SliceOfN(rapid.Byte(), 0, 20), rapid.Just(data[from:to])).Draw(t, "piece")
			data = slices.Concat(data[:from], piece, piece, data[to:])
		}
		loads(t, data)
	})
}

// YAML knows numbers that are none. No value may be one.
func TestLoad_noNumber(t *testing.T) {
	for _, bad := range []string{".nan", ".inf", "-.inf", "1e400"} {
		for _, line := range []string{
			"torque: [{fastener: bolt, value: 10 N·m, new: true, angle: " + bad + "}]",
			"torque: [{fastener: bolt, value: 10 N·m, count: " + bad + "}]",
			"torque: [{fastener: bolt, value: 10 N·m, stages: [" + bad + "°]}]",
			"torque: [{fastener: bolt, value: " + bad + " N·m}]",
			"minutes: " + bad,
			"timers: [{name: x, minutes: " + bad + "}]",
			"readings: [{name: x, unit: mm, max: " + bad + "}]",
		} {
			if p, _ := procedures.Load("job.yaml", []byte(small+"    "+line+"\n")); p != nil {
				t.Errorf("%s is taken: %+v", line, p.Steps[0])
			}
		}
	}
}
