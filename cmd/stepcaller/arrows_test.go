package main_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// imported is one package of the module as `go list -json` tells it.
type imported struct {
	ImportPath                         string
	Imports, TestImports, XTestImports []string
}

// mayImport is the law of the arrows: whether the package from may import to, both of the module and
// written without its name, in the program itself or only in tests.
func mayImport(from, to string, inTest bool) bool {
	area, _, _ := strings.Cut(from, "/")
	target, _, _ := strings.Cut(to, "/")
	helper := strings.HasSuffix(to, "test") // such as speech/voicetest: for tests
	switch {
	case to == from || inTest && target == "testdata":
		return true
	case helper && !inTest && !strings.HasSuffix(from, "test"):
		return false
	case area == "cmd":
		return target != "cmd"
	case area == "speech":
		return target == "speech"
	case to == "narrator/demoshop": // what it invents feeds no statistics
		return inTest && from == "narrator/pages"
	case area == "narrator" && (target == "procedures" || inTest && target == "narrator"):
		return true
	case from == "narrator":
		return false
	case from == "narrator/pages": // shows them all
		return target == "narrator"
	case strings.HasPrefix(from, "narrator/labour/archive"), from == "narrator/labour/export": // keep, or write out, what they read in the journal
		return to == "narrator" || to == "narrator/journal" || within(from, to)
	case to == "narrator/labour/archive", to == "narrator/labour/export":
		return false
	case area == "narrator": // journal, labour: beside each other, unless in a test
		return to == "narrator" || within(from, to)
	}
	return area == target // procedures, testdata
}

// within says whether both lie in the same folder of the narrator, such as narrator/journal.
func within(a, b string) bool {
	return strings.HasPrefix(b+"/", strings.Join(strings.Split(a+"//", "/")[:2], "/")+"/")
}

// wrongArrows names every import that is against the law.
func wrongArrows(packages []imported) []string {
	var wrong []string
	for _, p := range packages {
		check := func(imports []string, inTest bool) {
			for _, path := range imports {
				to, ours := strings.CutPrefix(path, "stepcaller/")
				from := strings.TrimPrefix(p.ImportPath, "stepcaller/")
				if ours && !mayImport(from, to, inTest) {
					wrong = append(wrong, fmt.Sprintf("%s imports %s", from, to))
				}
			}
		}
		check(p.Imports, false)
		check(p.TestImports, true)
		check(p.XTestImports, true)
	}
	return wrong
}

func TestArrowsBetweenThePackages(t *testing.T) {
	packages := listed(t, "./...", "./testdata")
	for _, area := range []string{"procedures", "narrator", "speech", "cmd/stepcaller"} {
		there := func(p imported) bool { return p.ImportPath == "stepcaller/"+area }
		if !slices.ContainsFunc(packages, there) {
			t.Errorf("%s is not among the %d packages looked at", area, len(packages))
		}
	}
	for _, arrow := range wrongArrows(packages) {
		t.Errorf("%s: see the arrows in DEVELOPERS.md", arrow)
	}
}

func TestProgramHoldsNoTestHelper(t *testing.T) {
	for _, p := range listed(t, "-deps", "./cmd/stepcaller") {
		if p.ImportPath == "testing" || strings.HasPrefix(p.ImportPath, "stepcaller/") && strings.HasSuffix(p.ImportPath, "test") {
			t.Errorf("the program is built with %s", p.ImportPath)
		}
	}
}

func TestWrongArrowsAreFound(t *testing.T) {
	arrow := func(from, to string, good, goodInTest bool) {
		t.Helper()
		path := "stepcaller/" + to
		for _, planted := range []struct {
			imported
			good bool
		}{
			{imported{ImportPath: "stepcaller/" + from, Imports: []string{"fmt", path}}, good},
			{imported{ImportPath: "stepcaller/" + from, TestImports: []string{path}}, goodInTest},
			{imported{ImportPath: "stepcaller/" + from, XTestImports: []string{path}}, goodInTest},
		} {
			if wrong := wrongArrows([]imported{planted.imported}); (len(wrong) == 0) != planted.good {
				t.Errorf("%+v: %q", planted, wrong)
			}
		}
	}
	arrow("procedures", "narrator", false, false)
	arrow("procedures", "speech", false, false)
	arrow("procedures", "cmd/stepcaller", false, false)
	arrow("narrator", "procedures", true, true)
	arrow("narrator", "speech", false, false)
	arrow("narrator", "narrator/journal", false, true)
	arrow("narrator/journal", "narrator", true, true)
	arrow("narrator/journal", "procedures", true, true)
	arrow("narrator/journal", "narrator/journal/migrations", true, true)
	arrow("narrator/journal/migrations", "narrator/journal", true, true)
	arrow("narrator/journal/postgres", "narrator/journal/courier", true, true)
	arrow("narrator/journal/postgres", "narrator/journal/postgres/pgtest", false, true)
	arrow("narrator/journal/postgres", "narrator/pages", false, true)
	arrow("narrator/labour", "narrator/journal", false, true)
	arrow("narrator/labour", "speech", false, false)
	arrow("narrator/labour/export", "narrator/journal", true, true)
	arrow("narrator/labour", "narrator/labour/export", false, true)
	arrow("narrator/labour/study", "narrator/demoshop", false, false)
	arrow("narrator/labour/archive", "narrator/demoshop", false, false)
	arrow("narrator/pages", "narrator/demoshop", false, true)
	arrow("narrator/demoshop", "narrator", true, true)
	arrow("narrator/demoshop", "narrator/journal", false, true)
	arrow("cmd/stepcaller", "narrator/demoshop", true, true)
	arrow("narrator/labour", "cmd/stepcaller", false, false)
	arrow("narrator/labour/figures", "narrator/labour/study", true, true)
	arrow("narrator/labour/figures", "narrator/labour/archive", false, true)
	arrow("narrator/labour/figures", "narrator/journal", false, true)
	arrow("narrator/labour/archive", "narrator/labour/figures", true, true)
	arrow("narrator/labour/archive", "narrator/journal", true, true)
	arrow("narrator/labour/archive", "narrator/pages", false, true)
	arrow("narrator/pages", "narrator/labour/archive", true, true)
	arrow("narrator/pages", "narrator/journal", true, true)
	arrow("narrator/pages", "procedures/tongue", true, true)
	arrow("narrator/pages", "speech", false, false)
	arrow("procedures/tongue", "narrator", false, false)
	arrow("narrator/journal", "narrator/journal/storetest", false, true)
	arrow("narrator/journal/courier", "narrator/journal", true, true)
	arrow("narrator/journal/courier", "procedures", true, true)
	arrow("narrator/journal/courier", "speech", false, false)
	arrow("narrator/journal/courier", "narrator/journal/courier/couriertest", false, true)
	arrow("narrator/journal/courier/couriertest", "narrator/journal/storetest", true, true)
	arrow("narrator", "narrator/journal/courier", false, true)
	arrow("speech", "procedures", false, false)
	arrow("speech", "narrator", false, false)
	arrow("speech", "speech/voicetest", false, true)
	arrow("speech/voicetest", "speech", true, true)
	arrow("speech/voicetest", "narrator", false, false)
	arrow("testdata", "speech", false, false)
	arrow("narrator", "testdata", false, true)
	arrow("cmd/stepcaller", "speech", true, true)
	arrow("cmd/stepcaller", "testdata", true, true)
	arrow("cmd/stepcaller", "speech/soundtest", false, true)
	arrow("cmd/stepcaller", "cmd/other", false, false)
}

// listed asks the go command about packages, named from the top of the module.
func listed(t *testing.T, args ...string) []imported {
	t.Helper()
	list := exec.Command("go", append([]string{"list", "-json=ImportPath,Imports,TestImports,XTestImports"}, args...)...)
	list.Dir = "../.."
	var complaint bytes.Buffer
	list.Stderr = &complaint
	out, err := list.Output()
	if err != nil {
		t.Fatalf("go list: %v: %s", err, complaint.String())
	}
	var packages []imported
	for decoder := json.NewDecoder(bytes.NewReader(out)); ; {
		var p imported
		if err := decoder.Decode(&p); errors.Is(err, io.EOF) {
			return packages
		} else if err != nil {
			t.Fatal(err)
		}
		packages = append(packages, p)
	}
}
