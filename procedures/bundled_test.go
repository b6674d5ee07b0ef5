package procedures_test

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stepcaller/procedures"
)

func TestBundled(t *testing.T) {
	all := procedures.Bundled()
	var ids []string
	for _, p := range all {
		ids = append(ids, p.ID)
	}
	if want := []string{"bottom-bracket", "clutch", "compressor-service", "front-brakes", "oil-service", "spark-plugs", "thermostat",
		"timing-belt", "valve-clearance", "valve-cover", "water-pump", "wheel-bearing"}; !slices.Equal(ids, want) {
		t.Fatalf("bundled are %q, want %q", ids, want)
	}
	for _, p := range all {
		t.Run(p.ID, func(t *testing.T) { sound(t, p) })
	}
}

// sound checks what a procedure for the ear should be: no mistake or question,
// short sentences that can be spoken, minutes that fit the book.
func sound(t *testing.T, p *procedures.Procedure) {
	if _, mistakes, err := procedures.ReadFile("library/" + p.ID + ".yaml"); err != nil || len(mistakes) > 0 {
		t.Errorf("mistakes %v, error %v", mistakes, err)
	}
	if !strings.Contains(fmt.Sprint(p.Cautions), "Follow the maker's service data.") {
		t.Error("no caution points to the maker's service data")
	}
	short := func(what, text string) {
		if words := strings.Fields(procedures.Speakable(text)); len(words) == 0 || len(words) > 25 {
			t.Errorf("%s says %d words: %q", what, len(words), words)
		}
	}
	for _, c := range p.Cautions {
		short("the procedure", c.Say)
	}
	for _, c := range p.Choices {
		short("choice "+c.ID, c.Ask)
	}
	expected := 0.0
	for i, s := range p.Steps {
		short("step "+s.ID, s.Say)
		texts := slices.Concat(s.Tools, []string{s.Title})
		for _, c := range s.Cautions {
			short("a caution of step "+s.ID, c.Say)
		}
		for _, timer := range s.Timers {
			short("timer "+timer.Name, timer.Say)
		}
		for _, part := range s.Parts {
			texts = append(texts, part.Name)
		}
		for _, text := range texts {
			if procedures.Speakable(text) == "" {
				t.Errorf("step %s: %q has no sound", s.ID, text)
			}
		}
		minutes, _ := p.ExpectedMinutes(i)
		expected += minutes
	}
	if book := p.BookHours().Duration().Minutes(); expected > book || expected < book*0.8 {
		t.Errorf("the steps take %v min, the book allows %v", expected, book)
	}
}

func TestFind(t *testing.T) {
	folder := t.TempDir()
	write := func(name, text string) string {
		t.Helper()
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	path := write("mine.yaml", small)
	write("own-pump.yml", strings.Replace(small, "id: job", "id: water-pump", 1))
	write("broken.yaml", "id: [\n")
	write("notes.txt", "not a procedure")
	missing := filepath.Join(folder, "nowhere")

	for _, c := range []struct{ name, ref, id, title string }{
		{"bundled", "valve-cover", "valve-cover", "Renew the valve cover gasket"},
		{"id in a folder", "job", "job", "A job"},
		{"file name in a folder", "mine", "job", "A job"},
		{"own before bundled", "water-pump", "water-pump", "A job"},
		{"path", path, "job", "A job"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, mistakes, err := procedures.Find(c.ref, missing, folder)
			if err != nil || len(mistakes) > 0 || p.ID != c.id || p.Title != c.title {
				t.Errorf("found %+v, mistakes %v, error %v", p, mistakes, err)
			}
		})
	}
	t.Run("mistakes", func(t *testing.T) {
		p, mistakes, err := procedures.Find("broken", folder)
		if p != nil || err != nil || !procedures.Refused(mistakes) {
			t.Errorf("found %v, mistakes %v, error %v", p, mistakes, err)
		}
	})
	for _, c := range []struct{ name, ref, want string }{
		{"misspelt id", "valve-covr", `no such procedure: "valve-covr"; did you mean "valve-cover"?`},
		{"unknown id", "gearbox-overhaul", `no such procedure: "gearbox-overhaul"; give one of job, `},
		{"missing file", filepath.Join(folder, "x.yaml"), "no such procedure: " + filepath.Join(folder, "x.yaml") + "; check the path"},
		{"a folder", folder + "/", "reading procedure "},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, _, err := procedures.Find(c.ref, folder)
			if p != nil || err == nil || !strings.HasPrefix(err.Error(), c.want) {
				t.Errorf("found %v, error %v, want %s", p, err, c.want)
			}
		})
	}
	if _, _, err := procedures.Find("nothing"); !errors.Is(err, procedures.ErrNotFound) {
		t.Errorf("error %v is not ErrNotFound", err)
	}
}

func TestList(t *testing.T) {
	folder := t.TempDir()
	for name, text := range map[string]string{"a.yaml": strings.Replace(small, "id: job", "id: valve-cover", 1), "b.yaml": "id: [\n"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	all, mistakes, err := procedures.List(folder)
	if err != nil || len(mistakes) != 1 {
		t.Errorf("mistakes %v, error %v", mistakes, err)
	}
	var ids []string
	for _, p := range all {
		ids = append(ids, p.ID)
	}
	if len(ids) != len(procedures.Bundled()) || !slices.Equal(ids[:3], []string{"valve-cover", "bottom-bracket", "clutch"}) || all[0].Title != "A job" {
		t.Errorf("listed are %q, the first %q", ids, all[0].Title)
	}
}

// A device or pipe under the name of a procedure must not be waited for.
func TestReadFile_notRegular(t *testing.T) {
	if _, err := os.Stat(os.DevNull); errors.Is(err, fs.ErrNotExist) {
		t.Skip("no null device")
	}
	if _, _, err := procedures.ReadFile(os.DevNull); err == nil || !strings.Contains(err.Error(), "not a regular file") {
		t.Errorf("error %v", err)
	}
}
