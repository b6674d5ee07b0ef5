package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/storetest"
)

func TestCommandsOfABayWithoutAShop(t *testing.T) {
	atHome(t)
	data := filepath.Join(t.TempDir(), "data")
	for _, args := range [][]string{{"sent"}, {"handover", "2000-01-01-1"}, {"handover"}, {"handover", "x", "--to", "Lift 3"}, {"takeover"}, {"takeover", "x", "--force"},
		{"shop", "leave"}, {"shop", "join"}, {"shop", "nonsense"}} {
		if code := run(t.Context(), append(args, "--data", data)); code != exitUsage {
			t.Errorf("%q: exit code %d", args, code)
		}
	}
	if _, err := os.Stat(data); err == nil {
		t.Error("a data folder was made")
	}
}

func TestWhatIsNotSentIsCounted(t *testing.T) {
	atHome(t)
	data := t.TempDir()
	if _, err := courier.Join(data, "postgres://lift-2@127.0.0.1:1/shop"); err != nil {
		t.Fatal(err)
	}
	store, err := journal.Open(data, journal.Writer)
	if err != nil {
		t.Fatal(err)
	}
	if err := store.Append(t.Context(), storetest.NewJob("2000-01-01-1", storetest.Dawn).Events); err != nil {
		t.Fatal(err)
	}
	s, err := lookAtSending(t.Context(), data)
	if err != nil || s.AllSent || s.Known || s.Last != nil {
		t.Errorf("%+v, %v", s, err)
	}
	if err := store.Close(); err != nil {
		t.Fatal(err)
	}
	if code := run(t.Context(), []string{"sent", "--data", data}); code != exitFailed {
		t.Errorf("exit code %d while something is not sent", code)
	}
	last := time.Date(2000, 1, 31, 14, 10, 0, 0, time.Local)
	for _, c := range []struct {
		sendState
		want string
	}{
		{sendState{AllSent: true, Known: true, Last: &last}, "Everything is sent. The shop was last reached on 2000-01-31 at 14:10.\n"},
		{sendState{Events: 12, Jobs: 2, Notes: 1, Last: &last}, "Not sent yet: 12 events of 2 jobs, 1 note. The shop was last reached on 2000-01-31 at 14:10.\n"},
		{sendState{Events: 1, Jobs: 1}, "Not sent yet: 1 event of 1 job, 0 notes. The shop was not reached yet.\n"},
	} {
		var out strings.Builder
		if err := c.write(&out); err != nil || out.String() != c.want {
			t.Errorf("%v: %q, want %q", err, &out, c.want)
		}
	}
	text, err := json.Marshal(s)
	if want := `"last_reached":null`; err != nil || !strings.Contains(string(text), want) {
		t.Errorf("%s, %v", text, err)
	}
}

// A job is handed over while no daemon runs; the shop cannot be reached, and hears of it later.
func TestAJobIsHandedOverWithoutADaemon(t *testing.T) {
	atHome(t)
	data := t.TempDir()
	if _, err := courier.Join(data, "postgres://lift-2@127.0.0.1:1/shop"); err != nil {
		t.Fatal(err)
	}
	store, err := journal.Open(data, journal.Writer)
	if err != nil {
		t.Fatal(err)
	}
	if err := store.Append(t.Context(), storetest.NewJob("2000-01-01-1", storetest.Dawn).Events); err != nil {
		t.Fatal(err)
	}
	if err := store.Close(); err != nil {
		t.Fatal(err)
	}
	command(t, data, "handover", "2000-01-01-1", "--to", "lift-3")
	if out := command(t, data, "jobs"); !strings.Contains(out, "with bay lift-3") {
		t.Errorf("listed %q", out)
	}
	for _, args := range [][]string{{"handover", "2000-01-01-1"}, {"handover", "1999-01-01-1"}, {"enter", "2000-01-01-1", "cause", "x"}, {"resume", "2000-01-01-1"}} {
		if code := run(t.Context(), append(args, "--data", data)); code != exitUsage {
			t.Errorf("%q: exit code %d", args, code)
		}
	}
	again, err := journal.Open(data, journal.Reader)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	log, err := again.Log(t.Context(), "2000-01-01-1")
	if last := log[len(log)-1]; err != nil || last.Kind != narrator.Handed || last.To != "lift-3" {
		t.Errorf("%v: ends with %+v", err, last)
	}
	if found := journal.Verify(t.Context(), again); len(found) != 0 {
		t.Errorf("found %v", found)
	}
}
