package labour_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator/labour"
)

// The files under testdata are the contract with whoever reads a sheet. They are written anew by this flag after a
// deliberate change; read the difference before committing it.
var update = flag.Bool("update", false, "write the expected files anew")

func TestWrittenForms(t *testing.T) {
	writers := map[string]func(io.Writer, labour.Sheet) error{
		".txt": labour.WriteTable, ".json": labour.WriteJSON, ".csv": labour.WriteCSV,
	}
	sheets := map[string]labour.Sheet{
		"whole":     labour.Of(wholeJob().job(t), 0),
		"corrected": labour.Of(correctedJob().job(t), 0),
		"record":    labour.Of(recordedJob().job(t), 0),
		"begun":     labour.Of(opened(pump, "Ines").job(t), dawn),
		"silent":    labour.Of(opened(pump, "").arrived(61.5, "belt").job(t), at(9000)),
	}
	for name, sheet := range sheets {
		for ext, write := range writers {
			var got bytes.Buffer
			if err := write(&got, sheet); err != nil {
				t.Fatal(err)
			}
			text := strings.ReplaceAll(got.String(), dawn.Time().Local().Format("2 January 2006 15:04"), "1 January 2000 08:00")
			path := filepath.Join("testdata", name+ext)
			if *update {
				if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil || text != string(want) {
				t.Errorf("%s differs: %v\n%s", path, err, text)
			}
		}
	}
}

// An unbroken sheet goes through JSON and back.
func TestJSONReadsBack(t *testing.T) {
	want := labour.Of(wholeJob().job(t), 0)
	var text bytes.Buffer
	if err := labour.WriteJSON(&text, want); err != nil {
		t.Fatal(err)
	}
	var got labour.Sheet
	if err := json.Unmarshal(text.Bytes(), &got); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%v\n%+v\nwant %+v", err, got, want)
	}
}

func TestNoListIsNull(t *testing.T) {
	var text bytes.Buffer
	if err := labour.WriteJSON(&text, labour.Of(opened(pump, "").job(t), dawn)); err != nil {
		t.Fatal(err)
	}
	var fields map[string]any
	if err := json.Unmarshal(text.Bytes(), &fields); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"steps", "torques", "pauses", "memos", "technicians", "operations", "pauses_by_reason", "longest_over", "timeline", "hearing",
		"facts", "tightenings", "readings", "findings", "timers", "choices", "answers", "put_right", "left", "dictated",
		"corrections", "remarks", "parts"} {
		if _, ok := fields[name].([]any); !ok {
			t.Errorf("%s is %v", name, fields[name])
		}
	}
}

// RFC 4180, section 2, rules 1 (CRLF), 5, 6 and 7 (quotes around commas, quotes and line breaks; quotes doubled).
func TestCSVIsQuoted(t *testing.T) {
	text := strings.Replace(pump, `title: Drain the coolant`, `title: "say \"ah\",\nthen go"`, 1)
	var got strings.Builder
	if err := labour.WriteCSV(&got, labour.Of(opened(text, "").job(t), at(60))); err != nil {
		t.Fatal(err)
	}
	want := "2000-01-01-1,1,drain,\"say \"\"ah\"\",\r\nthen go\",0.000,60.000,60.000,0.000,0.000,0.000,1,300.000,file,-240.000\r\n"
	if _, row, _ := strings.Cut(got.String(), "\r\n"); row != want {
		t.Errorf("the row is %q, want %q", row, want)
	}
}

func TestAFullDiskIsReported(t *testing.T) {
	full := errors.New("no room")
	for _, write := range []func(io.Writer, labour.Sheet) error{labour.WriteTable, labour.WriteJSON, labour.WriteCSV} {
		if err := write(refusing{full}, labour.Of(wholeJob().job(t), 0)); !errors.Is(err, full) {
			t.Errorf("the error is %v", err)
		}
	}
}

type refusing struct{ err error }

func (w refusing) Write([]byte) (int, error) { return 0, w.err }

func TestStartedAtIsRoundedDown(t *testing.T) {
	s := opened(pump, "")
	for i := range s.log {
		s.log[i].At += 24 // 1.5 ms
	}
	want := dawn.Time().Add(time.Millisecond)
	if got := labour.Of(s.job(t), at(10)).StartedAt; !got.Equal(want) || got.Location() != time.UTC {
		t.Errorf("started at %v, want %v", got, want)
	}
}
