package demoshop_test

import (
	"cmp"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/demoshop"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
)

// until is a Wednesday afternoon.
var until = time.Date(2031, 11, 26, 15, 40, 0, 0, time.UTC)

// jobs gathers a shop's logs.
func jobs(t *testing.T, shop *demoshop.Shop) map[string]*narrator.Job {
	t.Helper()
	logs, all := map[string][]narrator.Event{}, map[string]*narrator.Job{}
	for _, e := range shop.Events {
		if e.Job != "" {
			logs[e.Job] = append(logs[e.Job], e)
		}
	}
	for id, log := range logs {
		j, err := narrator.NewJob(log)
		if err != nil {
			t.Fatal(err)
		}
		all[id] = j
	}
	return all
}

func TestTheShopHasSomethingOfEverything(t *testing.T) {
	begun := time.Now()
	shop, err := demoshop.Invent(demoshop.DefaultConfig(until))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("invented in %v: %d jobs, %d events, %d memos", time.Since(begun), shop.Started, len(shop.Events), len(shop.Memos))
	store := new(journal.Memory)
	if err := store.Append(t.Context(), shop.Events); err != nil {
		t.Fatal(err)
	}
	for _, f := range journal.Verify(t.Context(), store) {
		t.Error(f)
	}
	end := narrator.MomentOf(until)
	seen := map[string]int{}
	var worked, book float64
	for _, j := range jobs(t, shop) {
		s := labour.Of(j, end)
		if !strings.HasPrefix(j.Order, demoshop.OrderPrefix) || j.Last() > end || s.Worked < 0 {
			t.Errorf("job %s has order %q, ends %v", j.ID, j.Order, j.Last().Time())
		}
		if s.State == labour.Finished {
			worked, book = worked+float64(s.Worked)/3600, book+s.BookHours
		}
		count := func(what string, n int) { seen[what] += min(1, n) }
		count(string(s.State), 1)
		count("kind "+s.Kind, 1)
		count("procedure "+s.Procedure, 1)
		count("held", map[bool]int{true: 1}[j.Held() != nil])
		count("helped", len(s.Technicians)-1)
		count("by "+s.Technicians[0].Name, 1)
		count("unsure", int(s.Unsure))
		count("gap", int(s.Gap))
		count("dictated", len(s.Dictated))
		count("findings", len(s.Findings))
		count("memos", len(s.Memos))
		count("tightenings", len(s.Tightenings))
		count("corrections", len(s.Corrections))
		count("remarks", len(s.Remarks))
		count("facts", len(s.Facts))
		count("hearing", len(s.Hearing))
		for _, p := range s.PausesByReason {
			count("pause "+p.Reason, 1)
		}
		for _, r := range s.Readings {
			count("reading "+cmp.Or(r.Judged, "unjudged"), 1)
		}
		for _, f := range s.Findings {
			count("finding "+f.State, 1)
		}
		for _, step := range s.Steps {
			count("back", step.Visits-1)
		}
	}
	t.Logf("worked %.0f h, book %.0f h", worked, book)
	t.Logf("%v", seen)
}
