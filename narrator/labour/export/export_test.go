package export_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/export"
)

// rotors is an invented job whose words need quotes.
const rotors = `
stepcaller: 2
id: rotors
title: Front rotors
machine: Ostwick Pony
book: [{code: B-10, title: "Rotors, both", hours: 1.0}]
parts: [{name: '2 rotors, "big"', number: OP-77, core: true}]
choices: [{id: hard, ask: Is the hose hard?}]
steps:
  - {id: measure, title: "Measure, twice", say: Measure., minutes: 5, readings: [{name: rotor thickness, unit: mm, min: 22.0, positions: [left, right]}]}
  - {id: fit, say: Fit it., only_if: hard, torque: [{fastener: bolt, count: 2, value: 30 N·m}]}
  - {id: run, say: Run it.}
`

const dawn = narrator.Moment(946_713_600 * narrator.Rate) // 2000-01-01T08:00:00Z

func at(seconds float64) narrator.Moment { return dawn.Add(narrator.Span(seconds * narrator.Rate)) }

// store holds a finished job with something of everything and one that is open since 1 000 s.
func store(t *testing.T) *journal.Memory {
	t.Helper()
	m := new(journal.Memory)
	seq := map[string]int64{}
	then := func(job string, seconds float64, kind narrator.Kind, d narrator.Detail) {
		seq[job]++
		e := narrator.Event{Job: job, Seq: seq[job], Act: seq[job], At: at(seconds), Noted: at(max(seconds, 900)), Kind: kind, Detail: d}
		if err := m.Append(t.Context(), []narrator.Event{e}); err != nil {
			t.Fatal(err)
		}
	}
	job := "2000-01-01-1"
	then(job, 0, narrator.Opened, narrator.Detail{Procedure: "rotors.yaml", Text: rotors, Order: "R 1; \"x\"", Technician: "Ines", Odometer: "88 412 km"})
	then(job, 0, narrator.Arrived, narrator.Detail{Step: "measure"})
	then(job, 5, narrator.Entered, narrator.Detail{Field: "complaint", Value: "squeals,\nwhen \"cold\""})
	then(job, 10, narrator.Measured, narrator.Detail{Step: "measure", Reading: "rotor thickness", Position: "left", Amount: "21.4", Unit: "mm", Judged: "below"})
	then(job, 20, narrator.Found, narrator.Detail{Finding: 1, Step: "measure", Reading: "rotor thickness", Position: "left"})
	then(job, 21, narrator.Asked, narrator.Detail{Finding: 1})
	then(job, 25, narrator.Recorded, narrator.Detail{File: "memos/2000-01-01-1-1.wav", From: at(22), Length: 2 * narrator.Second, Finding: 1})
	then(job, 30, narrator.Decided, narrator.Detail{Choice: "hard", On: true})
	then(job, 60.0005, narrator.Arrived, narrator.Detail{Step: "fit"})
	then(job, 65, narrator.Called, narrator.Detail{Step: "fit", Fastener: "bolt", Value: "30 N·m", NewtonMetres: 30})
	then(job, 66, narrator.Joined, narrator.Detail{Technician: "Marek"})
	then(job, 70, narrator.Tightened, narrator.Detail{Step: "fit", Fastener: "bolt", Number: 1, Stage: 1, Value: "30 N·m", NewtonMetres: 30, Wrench: "long"})
	then(job, 100, narrator.Held, narrator.Detail{Reason: "parts"})
	then(job, 160, narrator.Resumed, narrator.Detail{})
	then(job, 170, narrator.Timed, narrator.Detail{Step: "fit", Timer: "glue", Length: narrator.Minute})
	then(job, 175, narrator.Answered, narrator.Detail{Step: "fit", Caution: "Mind it.", Word: "all clear"})
	then(job, 180, narrator.PutRight, narrator.Detail{Item: "rag", State: "stuffed"})
	then(job, 190, narrator.Hearing, narrator.Detail{Floor: -61.5})
	then(job, 200, narrator.Arrived, narrator.Detail{Step: "run"})
	then(job, 300, narrator.Finished, narrator.Detail{})
	then(job, 130, narrator.Corrected, narrator.Detail{From: at(90), Worked: true, Why: "came at once", Technician: "Ines"})
	then(job, 950, narrator.Remarked, narrator.Detail{Step: "fit", Value: "sticks", Technician: "Marek"})
	job = "2000-01-01-2"
	then(job, 1000, narrator.Opened, narrator.Detail{Procedure: "rotors.yaml", Text: rotors, JobKind: "warranty"})
	then(job, 1000, narrator.Arrived, narrator.Detail{Step: "measure"})
	if err := m.Beat(t.Context(), at(1100)); err != nil {
		t.Fatal(err)
	}
	return m
}

func sheets(t *testing.T) []labour.Sheet {
	t.Helper()
	var all []labour.Sheet
	for s, err := range export.From(t.Context(), store(t), at(5000)) {
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, s)
	}
	return all
}

func TestSheetsComeOldestFirstUpToTheLastSignOfLife(t *testing.T) {
	all := sheets(t)
	if len(all) != 2 || all[0].Job != "2000-01-01-1" || all[0].Elapsed != 300 || all[1].State != labour.Open || all[1].Elapsed != 100 {
		t.Fatalf("%+v", all)
	}
}

func TestJSONIsReadBack(t *testing.T) {
	var text bytes.Buffer
	when := time.Date(2000, 1, 2, 3, 4, 5, 6, time.UTC)
	if err := export.JSON(&text, when, true, export.From(t.Context(), store(t), at(5000))); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Schema    int            `json:"schema"`
		WrittenAt time.Time      `json:"written_at"`
		Invented  bool           `json:"invented"`
		Sheets    []labour.Sheet `json:"sheets"`

		Unreadable []string `json:"unreadable"`
	}
	d := json.NewDecoder(&text)
	d.DisallowUnknownFields()
	if err := d.Decode(&got); err != nil {
		t.Fatal(err)
	}
	if got.Schema != export.Schema || !got.Invented || !got.WrittenAt.Equal(when.Truncate(time.Second)) || !reflect.DeepEqual(got.Sheets, sheets(t)) {
		t.Errorf("%+v\nwant %+v", got, sheets(t))
	}
	text.Reset()
	none := func(func(labour.Sheet, error) bool) {}
	if err := export.JSON(&text, when, false, none); err != nil || !json.Valid(text.Bytes()) {
		t.Errorf("no jobs: %v, %s", err, text.String())
	}
}

// rows reads a table back, each row by the names of its columns.
func rows(t *testing.T, text string) []map[string]string {
	t.Helper()
	if strings.Count(text, "\r\n") == 0 {
		t.Errorf("no CRLF in %q", text) // RFC 4180, section 2, rule 1
	}
	all, err := csv.NewReader(strings.NewReader(text)).ReadAll() // refuses rows of another length: rule 4
	if err != nil {
		t.Fatal(err)
	}
	var read []map[string]string
	for _, record := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = record[i]
		}
		if len(row) != len(all[0]) {
			t.Errorf("two columns have one name: %v", all[0])
		}
		read = append(read, row)
	}
	return read
}

// Every list of the sheets is a table with as many rows, and figures, quotes and line breaks come back as they were.
func TestCSVIsReadBack(t *testing.T) {
	files := map[string]*bytes.Buffer{}
	err := export.AllCSV(func(table string) (io.Writer, error) {
		files[table] = new(bytes.Buffer)
		return files[table], nil
	}, export.From(t.Context(), store(t), at(5000)))
	if err != nil {
		t.Fatal(err)
	}
	all := sheets(t)
	lists := map[string]string{"Timeline": "stretches", "Open": "left", "PutRight": "put_right"}
	for _, s := range all[:1] {
		for _, v := range []reflect.Value{reflect.ValueOf(s), reflect.ValueOf(s.Record)} {
			for i := range v.NumField() {
				field := v.Type().Field(i)
				if field.Type.Kind() != reflect.Slice || field.Name == "PausesByReason" || field.Name == "LongestOver" { // worked out from others
					continue
				}
				table := lists[field.Name]
				if table == "" {
					table = strings.ToLower(field.Name)
				}
				if files[table] == nil {
					t.Errorf("%s has no table", field.Name)
					continue
				}
				got := slices.DeleteFunc(rows(t, files[table].String()), func(r map[string]string) bool { return r["job"] != s.Job })
				if len(got) != v.Field(i).Len() || len(got) == 0 && table != "dictated" && table != "left" && table != "bays" {
					t.Errorf("%s has %d rows, %s %d", table, len(got), field.Name, v.Field(i).Len())
				}
			}
		}
	}
	cell := func(table string, row int, column, want string) {
		t.Helper()
		if got, ok := rows(t, files[table].String())[row][column]; got != want || !ok {
			t.Errorf("%s, row %d, %s: %q, want %q", table, row, column, got, want)
		}
	}
	cell("jobs", 0, "order", `R 1; "x"`)
	cell("jobs", 0, "worked_s", "270.000")
	cell("jobs", 0, "paused_s", "30.000")
	cell("jobs", 0, "book_h", "1")
	cell("jobs", 0, "started_at_utc", "2000-01-01T08:00:00Z")
	cell("jobs", 0, "tools_counted_s", "")
	cell("jobs", 1, "kind", "warranty")
	cell("jobs", 1, "state", "open")
	cell("jobs", 1, "elapsed_s", "100.000")
	cell("facts", 0, "value", "squeals,\nwhen \"cold\"")
	cell("steps", 0, "title", "Measure, twice")
	cell("steps", 0, "ended_s", "60.001")
	cell("steps", 1, "expected_from", "book")
	cell("parts", 0, "part", `2 rotors, "big"`)
	cell("parts", 0, "core", "true")
	cell("readings", 0, "amount", "21.4")
	cell("readings", 0, "min", "22")
	cell("readings", 0, "max", "")
	cell("findings", 0, "ruled_s", "")
	cell("findings", 0, "asked_s", "21.000")
	cell("tightenings", 0, "torque_nm", "30")
	cell("hearing", 0, "speech_dbfs", "")
	cell("hearing", 0, "floor_dbfs", "-61.5")
	cell("corrections", 0, "made_at_utc", "2000-01-01T08:15:00Z")
	cell("corrected", 1, "was", "paused")
	cell("remarks", 0, "text", "sticks")
	for _, table := range export.Tables() {
		var one bytes.Buffer
		if err := export.CSV(&one, table, export.From(t.Context(), store(t), at(5000))); err != nil || one.String() != files[table].String() {
			t.Errorf("%s alone differs: %v", table, err)
		}
		sum := 0.0
		for _, row := range rows(t, one.String()) {
			for name, text := range row {
				if !strings.HasSuffix(name, "_s") || text == "" {
					continue
				}
				v, err := strconv.ParseFloat(text, 64)
				if err != nil {
					t.Errorf("%s.%s: %v", table, name, err)
				}
				sum += v
			}
		}
		if table == "steps" && sum == 0 {
			t.Error("no times in the steps")
		}
	}
}

func TestWhatGoesWrongIsTold(t *testing.T) {
	lost := errors.New("disk is gone")
	broken := func(yield func(labour.Sheet, error) bool) { yield(labour.Sheet{}, lost) }
	full := errors.New("no room")
	from := export.From(t.Context(), store(t), at(5000))
	for name, err := range map[string]error{
		"read JSON":  export.JSON(io.Discard, dawn.Time(), false, broken),
		"read CSV":   export.CSV(io.Discard, "steps", broken),
		"write JSON": export.JSON(refusing{full}, dawn.Time(), false, from),
		"write CSV":  export.CSV(refusing{full}, "steps", from),
		"create":     export.AllCSV(func(string) (io.Writer, error) { return nil, full }, from),
		"table":      export.CSV(io.Discard, "stpes", from),
	} {
		if want := map[bool]error{true: lost, false: full}[strings.HasPrefix(name, "read")]; name != "table" && !errors.Is(err, want) ||
			name == "table" && (err == nil || !strings.Contains(err.Error(), "choose one of jobs, technicians")) {
			t.Errorf("%s: %v", name, err)
		}
	}
	m := store(t)
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	if err := export.CSV(io.Discard, "steps", export.From(t.Context(), m, at(5000))); err == nil || !strings.Contains(err.Error(), "closed") {
		t.Errorf("from a closed journal: %v", err)
	}
}

type refusing struct{ err error }

func (w refusing) Write([]byte) (int, error) { return 0, w.err }
