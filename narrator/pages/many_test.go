package pages_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/pages"
)

// shop serves a shop's history of 60 jobs, and the tests' day.
func shop(t *testing.T) (address string) {
	store, data := keep(t, append(months(60)(t), day(t)...)...)
	return serve(t, pages.Config{Store: store, Data: data, Archive: figuresOf(t, data, store), Procedures: t.TempDir(), Change: writing(store),
		Now: func() time.Time { return evening }}).URL
}

func TestManyJobsSideBySide(t *testing.T) {
	address := shop(t)
	check := func(page string, wants ...string) {
		t.Helper()
		status, body := get(t, request(t, "GET", address+page))
		for _, want := range wants {
			if status != http.StatusOK || !strings.Contains(body, want) {
				t.Errorf("%s: %d without %q", page, status, want)
			}
		}
	}
	check("/jobs", "63 finished jobs", "1 to 50 of 63", `rel="next"`, "2000-01-03-2")
	check("/jobs?offset=50", "51 to 63 of 63", `rel="prev"`)
	check("/jobs?text=drover", "No finished job fits")
	check("/jobs?text=heater", "1 finished job<")
	check("/jobs?technician=Ines&from=2000-01-03&to=2000-01-03", "2 finished jobs")
	check("/jobs?kind=comeback", "5 finished jobs")
	check("/jobs?from=soon&offset=-4", "is no date", "63 finished jobs")
	check("/jobs?offset=1000", "63 finished jobs")
	check("/procedures", "Renew the valve cover gasket", "/procedures/clutch")
	check("/procedures/valve-cover", "What to quote next time", "median of 56 jobs", "jobs came back", `id="figures"`)
	check("/procedures/valve-cover?technician=Ines", "With every doubling")
	check("/procedures/valve-cover?technician=Nobody", "nobody")
	check("/procedures/clutch", "nothing to measure", "/procedures/clutch/edit")
	check("/today", "4 jobs", "approval", "18 min", "2.1 h</b><span>in the book for 3 finished jobs") // nothing is paid for the comeback
	check("/today?day=2000-01-02", "Sunday 2 January 2000", "The day after", "1 job<")
	check("/today?day=1990-01-01", "Nothing was worked on that day")
	check("/jobs/2000-01-02-1", "Ran long:", "pale band")
}

func TestEmptyPagesSayWhatToDo(t *testing.T) {
	store, data := keep(t)
	for name, c := range map[string]pages.Config{"nothing": {}, "empty": {Store: store, Data: data, Archive: figuresOf(t, data, store)}} {
		c.Now = func() time.Time { return evening }
		address := serve(t, c).URL
		for page, want := range map[string]string{"/today": "worked on yet today", "/jobs": "stepcaller start", "/procedures": "stepcaller start", "/procedures/valve-cover": "nothing to measure"} {
			_, body := get(t, request(t, "GET", address+page))
			if name == "nothing" && page == "/today" {
				want = "stepcaller start"
			}
			if !strings.Contains(body, want) {
				t.Errorf("%s %s without %q: %s", name, page, want, body)
			}
		}
	}
	address := looking(t)
	if status, body := get(t, request(t, "GET", address+"/today?day=monday")); status != http.StatusBadRequest || !strings.Contains(body, "2000-01-31") {
		t.Errorf("%d %s", status, body)
	}
}

// Where jobs of several bays are looked back on, each is told with its bay, and can be chosen by it; the shop's name stands over all.
func TestSeveralBaysAreToldApart(t *testing.T) {
	store := &journal.Memory{}
	for i, id := range []string{"2000-01-03-1.lift-1", "2000-01-03-1.lift-2", "2000-01-03-2.lift-2"} {
		s := begun(t, id, morning.Add(time.Duration(i)*time.Hour), "valve-cover", narrator.Detail{Technician: "Ines"})
		s.then(0, narrator.Arrived, narrator.Detail{Step: s.p.Steps[0].ID}).then(30, narrator.Finished, narrator.Detail{})
		if err := store.Append(t.Context(), s.log); err != nil {
			t.Fatal(err)
		}
	}
	data := t.TempDir()
	address := serve(t, pages.Config{Store: store, Data: data, Archive: figuresOf(t, data, store), Shop: "Weir & Daughters", Now: func() time.Time { return evening }}).URL
	for page, want := range map[string][]string{
		"/jobs":              {"3 finished jobs", `<option>lift-1</option>`, "· lift-2</span>", "Weir &amp; Daughters", "Times stay in this shop"},
		"/jobs?bay=lift-2":   {"2 finished jobs", `<option selected>lift-2</option>`},
		"/jobs?bay=attic":    {"No finished job fits"},
		"/today":             {"worked, on 3 jobs", "lift-1 · Ines"},
		"/today?bay=lift-1":  {"worked, on 1 job<", "&amp;bay=lift-1"},
		"/today?offset=7000": {"worked, on 3 jobs"},
	} {
		status, body := get(t, request(t, "GET", address+page))
		for _, part := range want {
			if status != http.StatusOK || !strings.Contains(body, part) {
				t.Errorf("%s: %d without %q", page, status, part)
			}
		}
	}
	if _, body := get(t, request(t, "GET", shop(t)+"/jobs")); strings.Contains(body, `name="bay"`) {
		t.Error("a bay by itself is asked which bay")
	}
}
