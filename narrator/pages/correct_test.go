package pages_test

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/pages"
)

// writing writes what is typed into a store, as the daemon would.
func writing(store journal.Store) func(context.Context, narrator.Typed) error {
	return func(ctx context.Context, in narrator.Typed) error {
		bay := narrator.NewBay(narrator.DefaultSettings())
		log, err := store.Log(ctx, in.About())
		if err != nil {
			return err
		}
		if bay.Jobs[in.About()], err = narrator.NewJob(log); err != nil {
			return err
		}
		at := narrator.MomentOf(evening)
		switch typed := in.(type) {
		case narrator.Correct:
			typed.At = at
			in = typed
		case narrator.Annotate:
			typed.At = at
			in = typed
		case narrator.Withdraw:
			typed.At = at
			in = typed
		case narrator.Enter:
			typed.At = at
			in = typed
		}
		if err := in.Check(bay); err != nil {
			return err
		}
		return store.Append(ctx, narrator.Decide(bay, in).Events)
	}
}

// post sends a form, and follows where it leads.
func post(t *testing.T, address string, fields url.Values) (status int, body string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, address, strings.NewReader(fields.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return get(t, r)
}

func TestPeopleCorrectTheirOwnTime(t *testing.T) {
	store, data := keep(t, day(t)...)
	job := serve(t, pages.Config{Store: store, Data: data, Now: func() time.Time { return evening }, Change: writing(store)}).URL + "/jobs/2000-01-03-1"
	for _, c := range []struct {
		what   string
		fields url.Values
		status int
		want   string
	}{
		{"/correct", url.Values{"technician": {"Ines"}, "from": {"2000-01-03T08:10:00"}, "to": {"2000-01-03T08:20"}, "what": {"paused"}, "reason": {"phone"},
			"why": {"forgot to say it"}}, http.StatusOK, "forgot to say it"},
		{"/correct", url.Values{"technician": {"Ines"}, "from": {"soon"}, "to": {"2000-01-03T08:20"}, "what": {"worked"}}, http.StatusUnprocessableEntity, `role="alert"`},
		{"/correct", url.Values{"technician": {"Mara"}, "from": {"2000-01-03T08:10:00"}, "to": {"2000-01-03T08:20"}, "what": {"worked"}, "why": {"mine is kept"}},
			http.StatusUnprocessableEntity, "mine is kept"},
		{"/remark", url.Values{"technician": {"Tomas"}, "step": {"left-hang"}, "text": {"hook <too> short"}}, http.StatusOK, "hook &lt;too&gt; short"},
		{"/remark", url.Values{"technician": {"Tomas"}, "text": {" "}}, http.StatusUnprocessableEntity, `role="alert"`},
		{"/enter", url.Values{"field": {"cause"}, "value": {"worn through"}}, http.StatusOK, "worn through"},
		{"/enter", url.Values{"field": {"shoe size"}, "value": {"43"}}, http.StatusUnprocessableEntity, "shoe size"},
		{"/withdraw", url.Values{"technician": {"Ines"}, "event": {"1"}}, http.StatusUnprocessableEntity, `role="alert"`},
		{"/withdraw", url.Values{"technician": {"Ines"}, "event": {"x"}}, http.StatusUnprocessableEntity, `role="alert"`},
		{"/enter", url.Values{"field": {"cause"}, "value": {strings.Repeat("x", 70_000)}}, http.StatusBadRequest, "Write less"},
	} {
		if status, body := post(t, job+c.what, c.fields); status != c.status || !strings.Contains(body, c.want) {
			t.Errorf("%s %v: %d, want %d with %q", c.what, c.fields, status, c.status, c.want)
		}
	}
	log, err := store.Log(t.Context(), "2000-01-03-1")
	if err != nil {
		t.Fatal(err)
	}
	j, err := narrator.NewJob(log)
	if err != nil {
		t.Fatal(err)
	}
	if c := j.Corrections(); len(c) != 1 || c[0].From != narrator.MomentOf(morning.Add(10*time.Minute)) || c[0].To != narrator.MomentOf(morning.Add(20*time.Minute)) {
		t.Errorf("%+v", c)
	}
	if len(j.Remarks()) != 1 || j.Fact("cause") != "worn through" {
		t.Errorf("%+v %q", j.Remarks(), j.Fact("cause"))
	}
}

func TestPagesThatOnlyShowTakeNothing(t *testing.T) {
	url := looking(t)
	if status, body := post(t, url+"/jobs/2000-01-03-1/enter", nil); status != http.StatusForbidden || !strings.Contains(body, "only show") {
		t.Errorf("%d %s", status, body)
	}
	if _, body := get(t, request(t, "GET", url+"/jobs/2000-01-03-1")); strings.Contains(body, "<form") {
		t.Error("a form that leads nowhere")
	}
}
