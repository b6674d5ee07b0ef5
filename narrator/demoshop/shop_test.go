package demoshop_test

import (
	"cmp"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/demoshop"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
	"stepcaller/procedures"
)

// until is a Wednesday afternoon.
var until = time.Date(2031, 11, 26, 15, 40, 0, 0, time.UTC)

// small is two months of the shop.
func small(until time.Time) demoshop.Config {
	c := demoshop.DefaultConfig(until)
	c.Months, c.Jobs = 2, 60
	return c
}

func invent(t testing.TB, c demoshop.Config) *demoshop.Shop {
	t.Helper()
	shop, err := demoshop.Invent(c)
	if err != nil {
		t.Fatal(err)
	}
	return shop
}

// jobs folds a shop's logs.
func jobs(t testing.TB, shop *demoshop.Shop) []*narrator.Job {
	t.Helper()
	var ids []string
	logs, known := map[string][]narrator.Event{}, map[string]*procedures.Procedure{}
	for _, e := range shop.Events {
		if e.Kind == narrator.Opened {
			ids = append(ids, e.Job)
		}
		if e.Job != "" {
			logs[e.Job] = append(logs[e.Job], e)
		}
	}
	var all []*narrator.Job
	for _, id := range ids {
		text := logs[id][0].Text
		if known[text] == nil {
			known[text], _ = procedures.Load(logs[id][0].Procedure, []byte(text))
		}
		j, err := narrator.JobOf(known[text], logs[id])
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, j)
	}
	return all
}

func TestTheShopHasSomethingOfEverything(t *testing.T) {
	shop := invent(t, demoshop.DefaultConfig(until))
	seen := map[string]int{}
	count := func(what string, there bool) {
		if there {
			seen[what]++
		}
	}
	all := jobs(t, shop)
	for _, j := range all {
		s := labour.Of(j, narrator.MomentOf(until))
		for _, what := range []string{string(s.State), "kind " + s.Kind, "procedure " + s.Procedure, "by " + s.Technicians[0].Name} {
			count(what, true)
		}
		count("held", j.Held() != nil)
		count("helped", len(s.Technicians) > 1)
		count("unsure", s.Unsure > 0)
		count("gap", s.Gap > 0)
		count("dictated", len(s.Dictated) > 0)
		count("memos", len(s.Memos) > 0)
		count("tightenings", len(s.Tightenings) > 0)
		count("corrections", len(s.Corrections) > 0)
		count("remarks", len(s.Remarks) > 0)
		count("facts", len(s.Facts) > 0)
		count("over", len(s.LongestOver) > 0)
		for _, p := range s.PausesByReason {
			count("pause "+p.Reason, true)
		}
		for _, r := range s.Readings {
			count("reading "+cmp.Or(r.Judged, "unjudged"), true)
		}
		for _, f := range s.Findings {
			count("finding "+f.State, true)
		}
		for _, step := range s.Steps {
			count("gone back", step.Visits > 1)
		}
	}
	wanted := []string{"finished", "open", "held", "helped", "unsure", "gap", "dictated", "memos", "tightenings", "corrections", "remarks", "facts", "over",
		"gone back", "kind comeback", "kind warranty", "kind internal", "kind goodwill", "by Ines", "by Marek", "by Tove", "by Jory", "reading inside",
		"reading below", "reading above", "reading worn", "finding approved", "finding declined", "finding noted", "pause parts", "pause phone", "pause customer",
		"pause break", "pause approval", "pause end of shift", "pause lift busy", "pause tool busy", "pause helping", "pause road test"}
	for _, p := range procedures.Bundled() {
		wanted = append(wanted, "procedure "+p.ID)
	}
	for _, what := range wanted {
		if seen[what] == 0 {
			t.Errorf("no job with %s", what)
		}
	}
	if seen["open"] != 2 || seen["held"] != 1 || len(all) != shop.Started || len(all) < 250 || len(all) > 350 || len(shop.Memos) < 10 {
		t.Errorf("%d jobs, %d open, %d held, %d memos", len(all), seen["open"], seen["held"], len(shop.Memos))
	}
	t.Logf("%d jobs, %d events, %d memos: %v", len(all), len(shop.Events), len(shop.Memos), seen)
}

func TestAShopIsASoundJournal(t *testing.T) {
	shop := invent(t, small(until))
	store := new(journal.Memory)
	if err := store.Append(t.Context(), shop.Events); err != nil {
		t.Fatal(err)
	}
	for _, f := range journal.Verify(t.Context(), store) {
		t.Error(f)
	}
	end, sounds := narrator.MomentOf(until), map[string]int{}
	for _, m := range shop.Memos {
		sounds[m.File] = len(m.PCM)
	}
	for _, e := range shop.Events {
		if e.Noted > end || e.Kind == narrator.Recorded && int(e.Length) != sounds[e.File] {
			t.Errorf("event %+v of a shop until %v", e, end.Time())
		}
		if e.Kind == narrator.Opened && !strings.HasPrefix(e.Order, demoshop.OrderPrefix) {
			t.Errorf("job %s has order %q", e.Job, e.Order)
		}
	}
}

// The same seed gives the same shop on another day, but for its dates; another seed gives another.
func TestAShopIsMadeAgain(t *testing.T) {
	said := func(c demoshop.Config) []string {
		var all []string
		for _, e := range invent(t, c).Events {
			all = append(all, fmt.Sprint(e.Kind, e.Detail.Word, e.Order, e.Technician, e.Step, e.Reason, e.Amount, e.Value, e.On))
		}
		return all
	}
	first := said(small(until))
	if !reflect.DeepEqual(first, said(small(until.AddDate(0, 0, 1)))) {
		t.Error("a day later it is another shop")
	}
	other := small(until)
	other.Seed++
	if reflect.DeepEqual(first, said(other)) {
		t.Error("another seed gives the same shop")
	}
}

func TestNothingCannotBeInvented(t *testing.T) {
	if _, err := demoshop.Invent(demoshop.Config{Until: until}); err == nil || !strings.Contains(err.Error(), "at least 1") {
		t.Error(err)
	}
}

func BenchmarkInvent(b *testing.B) {
	for b.Loop() {
		invent(b, demoshop.DefaultConfig(until))
	}
}
