package main

import (
	"context"
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/speech/voicetest"
)

func TestAClockTimeOfAJob(t *testing.T) {
	day := func(d, h, m, s int) narrator.Moment {
		return narrator.MomentOf(time.Date(2000, 1, d, h, m, s, 0, time.Local))
	}
	start, end := day(1, 10, 5, 30), day(2, 9, 0, 10)
	for _, c := range []struct {
		text string
		want narrator.Moment
		says string
	}{
		{"10:06", day(1, 10, 6, 0), ""},
		{"23:59:59", day(1, 23, 59, 59), ""},
		{"08:15", day(2, 8, 15, 0), ""},
		{"2000-01-02 08:15", day(2, 8, 15, 0), ""},
		{"2000-01-01T22:00:05", day(1, 22, 0, 5), ""},
		{"10:05", start, ""}, // to the minute: the job's start
		{"9:01", end, ""},
		{"9:30", 0, "no time of the job"},
		{"ten", 0, "write 10:05"},
		{"", 0, "write 10:05"},
	} {
		got, err := clockTime(c.text, start, end)
		if got != c.want || (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: %v, %v; want %v", c.text, got.Time(), err, c.want.Time())
		}
	}
	if _, err := clockTime("12:00", start, day(4, 11, 0, 0)); err == nil || !strings.Contains(err.Error(), "on 3 days of the job") {
		t.Error(err)
	}
}

// Typed at a terminal while no daemon runs, on a job that is finished.
func TestAFinishedJobIsCorrectedAtTheTerminal(t *testing.T) {
	start := narrator.Start{Procedure: "fan-belt.yaml", Text: fanBelt, Technician: "Ines"}
	id, data, _ := scriptedJob(t, start, 150, func(*Config) {}, said{100, "finish job"}, said{104, "yes"})
	at := func(seconds float64) string {
		return sheetOf(t, id, data).StartedAt.Add(time.Duration(seconds * 1e9)).Local().Format("2006-01-02 15:04:05")
	}
	command(t, data, "correct", id, "--from", at(10), "--to", at(40), "--as", "paused", "--reason", "parts", "--why", "forgot to say it", "--technician", "Ines")
	command(t, data, "correct", id, "--from", at(20), "--to", at(30), "--as", "worked", "--why", "looked for a tool", "--technician", "Ines")
	command(t, data, "remark", id, "--step", "1", "the cover sticks", "--technician", "Ines")
	command(t, data, "remark", id, "bay 2 was full", "--technician", "Ines")
	command(t, data, "remark", id, "--withdraw", "2", "--technician", "Ines")
	sheet := sheetOf(t, id, data)
	if sheet.Paused != 20 || sheet.Worked != 80 || sheet.Elapsed != 100 || len(sheet.Corrections) != 2 || sheet.Corrections[0].Why != "forgot to say it" {
		t.Errorf("worked %v paused %v, corrections %+v", sheet.Worked, sheet.Paused, sheet.Corrections)
	}
	if r := sheet.Remarks; len(r) != 2 || r[0].Step != sheet.Steps[0].ID || r[0].Text != "the cover sticks" || r[0].Undone || !r[1].Undone {
		t.Errorf("remarks %+v", r)
	}
	command(t, data, "correct", id, "--withdraw", "1", "--technician", "Ines")
	if sheet := sheetOf(t, id, data); sheet.Worked != 100 || !sheet.Corrections[0].Undone || sheet.Corrections[1].Undone {
		t.Errorf("worked %v, corrections %+v", sheet.Worked, sheet.Corrections)
	}
	for _, wrong := range [][]string{
		{"correct", id, "--from", at(10), "--to", at(40), "--as", "paused", "--reason", "parts", "--why", "x", "--technician", "Tove"},
		{"correct", id, "--from", at(10), "--to", at(40), "--as", "paused", "--reason", "parts", "--technician", "Ines"},
		{"correct", id, "--from", at(10), "--to", at(101), "--as", "worked", "--why", "x", "--technician", "Ines"},
		{"correct", id, "--from", at(10), "--to", at(40), "--as", "idle", "--why", "x", "--technician", "Ines"},
		{"correct", id, "--withdraw", "3", "--technician", "Ines"},
		{"correct", id, "--withdraw", "1", "--technician", "Ines"},
		{"correct", "2000-01-01-9", "--from", "10:00", "--to", "10:01"},
		{"remark", id, "x"},
		{"remark", id, "--technician", "Ines"},
		{"remark", id, "x", "--step", "nowhere", "--technician", "Ines"},
	} {
		if code := run(t.Context(), append(wrong, "--data", data)); code != exitUsage {
			t.Errorf("%q: exit code %d", wrong, code)
		}
	}
	if n := len(sheetOf(t, id, data).Corrections); n != 2 {
		t.Errorf("%d corrections", n)
	}
}

// Typed beside a running session, in the words of the socket.
func TestCorrectionsReachARunningSession(t *testing.T) {
	b := newBench(t, voicetest.ScriptedVoice{}, 20)
	b.begin(t)
	b.upTo(t, 15)
	send := func(in narrator.Typed) error {
		text, err := json.Marshal(orderFor(in))
		if err != nil {
			t.Fatal(err)
		}
		var o order
		if err := json.Unmarshal(text, &o); err != nil || !reflect.DeepEqual(o.typed(), in) {
			t.Fatalf("%s is read as %+v, %v", text, o.typed(), err)
		}
		return b.obey(t.Context(), Order{Inputs: func(ctx context.Context, at narrator.Moment) ([]narrator.Input, error) {
			in, _, err := o.inputs(ctx, b.store, at)
			return in, err
		}})
	}
	job := "2000-01-01-1"
	begun := b.Bay.Jobs[job].Start
	in := narrator.Correct{Job: job, Technician: "Ines", From: begun.Add(narrator.Second), To: begun.Add(6 * narrator.Second), What: narrator.Paused,
		Reason: "phone", Why: "it rang"}
	if err := send(in); err != nil {
		t.Fatal(err)
	}
	if err := send(narrator.Annotate{Job: job, Technician: "Ines", Text: "draughty"}); err != nil {
		t.Fatal(err)
	}
	log, err := b.store.Log(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	stored, err := narrator.NewJob(log)
	if err != nil {
		t.Fatal(err)
	}
	if sheet := labour.Of(stored, b.Now()); sheet.Paused != 5 || len(sheet.Remarks) != 1 || !reflect.DeepEqual(sheet, labour.Of(b.Bay.Jobs[job], b.Now())) {
		t.Errorf("paused %v, remarks %+v", sheet.Paused, sheet.Remarks)
	}
	in.To = b.Now().Add(narrator.Minute)
	if err := send(in); err == nil || !strings.Contains(err.Error(), "known up to") {
		t.Errorf("the future: %v", err)
	}
	if err := send(narrator.Withdraw{Job: job, Technician: "Ines", Seq: b.Bay.Jobs[job].Corrections()[0].Seq}); err != nil {
		t.Fatal(err)
	}
	if sum := narrator.Sum(b.Bay.Jobs[job].Timeline(b.Now())); sum.Paused != 0 {
		t.Errorf("after it was withdrawn: %+v", sum)
	}
}
