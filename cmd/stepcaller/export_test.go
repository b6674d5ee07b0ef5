package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/export"
)

func TestEverythingIsExported(t *testing.T) {
	start := narrator.Start{Procedure: "fan-belt.yaml", Text: fanBelt, Technician: "Ines"}
	id, data, _ := scriptedJob(t, start, 150, func(*Config) {}, said{20, "next"}, said{100, "finish job"}, said{104, "yes"})
	out := t.TempDir()
	file, folder := filepath.Join(out, "jobs.json"), filepath.Join(out, "jobs")
	command(t, data, "export", "--json", file)
	command(t, data, "export", "--csv", folder)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var all struct {
		Invented bool
		Sheets   []labour.Sheet
	}
	if err := json.Unmarshal(text, &all); err != nil || all.Invented || len(all.Sheets) != 1 || !reflect.DeepEqual(all.Sheets[0], sheetOf(t, id, data)) {
		t.Errorf("%v: %s", err, text)
	}
	files, err := filepath.Glob(filepath.Join(folder, "*.csv"))
	if err != nil || len(files) != len(export.Tables()) {
		t.Errorf("%d files of %d tables, %v", len(files), len(export.Tables()), err)
	}
	steps, err := os.ReadFile(filepath.Join(folder, "steps.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if rows, err := csv.NewReader(strings.NewReader(string(steps))).ReadAll(); err != nil || len(rows) != 1+len(all.Sheets[0].Steps) || rows[1][0] != id {
		t.Errorf("%v: %s", err, steps)
	}
	for _, wrong := range [][]string{{"--json", file}, {"--csv", folder}, {}, {"--json", "-", "--csv", folder}, {"--json", filepath.Join(out, "no", "jobs.json")}} {
		if code := run(t.Context(), append([]string{"export", "--data", data}, wrong...)); code != exitUsage {
			t.Errorf("%q: exit code %d", wrong, code)
		}
	}
	lost := errors.New("disk is gone")
	broken := func(yield func(labour.Sheet, error) bool) { yield(labour.Sheet{}, lost) }
	if err := exportTables(filepath.Join(out, "half"), broken); !errors.Is(err, lost) {
		t.Error(err)
	}
	if left, err := os.ReadDir(filepath.Join(out, "half")); err != nil || len(left) > 0 {
		t.Errorf("half an export leaves %v, %v", left, err)
	}
	if code := run(t.Context(), []string{"export", "--json", "-", "--data", filepath.Join(out, "nothing")}); code != exitUsage {
		t.Errorf("no journal: exit code %d", code)
	}
}
