package pages_test

import (
	"context"
	"errors"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator/pages"
	"stepcaller/narrator/pages/pagestest"
)

// ownShop serves a shop in which Ines and Tomas have tokens; the clock is moved by the test.
func ownShop(t *testing.T, now *time.Time) (address string) {
	store, data := keep(t, append(months(60)(t), day(t)...)...)
	return serve(t, pages.Config{Store: store, Data: data, Archive: figuresOf(t, data, store), Shop: "mill", Procedures: t.TempDir(), Now: func() time.Time { return *now },
		CheckToken: func(_ context.Context, technician, token string) (bool, error) {
			if technician == "Nobody" {
				return false, errors.New("the shop cannot be reached")
			}
			return technician != "" && token == "token of "+technician, nil
		}}).URL
}

// as is a browser that keeps what it is given.
func as(t *testing.T) func(r *http.Request) (int, string) {
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	client := http.Client{Jar: jar}
	return func(r *http.Request) (int, string) {
		t.Helper()
		return getBy(t, &client, r)
	}
}

func TestOnesOwnPageNeedsOnesToken(t *testing.T) {
	now := evening
	address := ownShop(t, &now)
	form := func(technician, token string) *http.Request {
		address := address + "/own?technician=Tomas" // what stands in the address counts for nothing
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, address, strings.NewReader(url.Values{"technician": {technician}, "token": {token}}.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		return r
	}
	ines := as(t)
	check := func(browser func(*http.Request) (int, string), page string, status int, want string, never ...string) {
		t.Helper()
		got, body := browser(request(t, "GET", address+page))
		if got != status || !strings.Contains(body, want) {
			t.Errorf("%s: %d, want %d with %q", page, got, status, want)
		}
		for _, n := range never {
			if strings.Contains(body, n) {
				t.Errorf("%s has %q", page, n)
			}
		}
	}
	const learning, hers = `data-chart="learning"`, "finished jobs<"
	check(ines, "/own", http.StatusOK, `type="password"`, hers)
	check(ines, "/procedures/valve-cover?technician=Ines", http.StatusOK, `href="/own"`, learning)
	check(ines, "/jobs?technician=Ines", http.StatusOK, "63 finished jobs", `name="technician"`)
	for _, wrong := range [][2]string{{"Ines", "token of Tomas"}, {"Ines", ""}, {"", "token of "}} {
		if status, body := ines(form(wrong[0], wrong[1])); status != http.StatusForbidden || !strings.Contains(body, `role="alert"`) {
			t.Errorf("%q: %d", wrong, status)
		}
		check(ines, "/own", http.StatusOK, `type="password"`)
	}
	if status, _ := ines(form("Nobody", "x")); status != http.StatusInternalServerError {
		t.Errorf("a shop that cannot be asked: %d", status)
	}
	if status, body := ines(form("Ines", "token of Ines")); status != http.StatusOK || !strings.Contains(body, hers) {
		t.Errorf("with her token: %d", status)
	}
	check(ines, "/own", http.StatusOK, "/procedures/valve-cover?technician=Ines#learn", `type="password"`)
	check(ines, "/procedures/valve-cover?technician=Ines", http.StatusOK, learning, "<option>Tomas")
	check(ines, "/procedures/valve-cover?technician=Tomas", http.StatusOK, `href="/own"`, learning)
	check(ines, "/jobs?technician=Ines&from=2000-01-03&to=2000-01-03", http.StatusOK, "2 finished jobs")
	check(ines, "/jobs?technician=Tomas", http.StatusOK, "63 finished jobs")
	check(as(t), "/own", http.StatusOK, `type="password"`, hers) // another browser

	now = now.Add(31 * time.Minute)
	check(ines, "/own", http.StatusOK, `type="password"`, hers)
	if status, _ := ines(form("Ines", "token of Ines")); status != http.StatusOK {
		t.Errorf("again: %d", status)
	}
	if status, body := ines(request(t, "POST", address+"/own/leave")); status != http.StatusOK || !strings.Contains(body, `type="password"`) {
		t.Errorf("left: %d", status)
	}
	check(ines, "/own", http.StatusOK, `type="password"`, hers)
}

func TestABayByItselfHasNoOwnPages(t *testing.T) {
	address := shop(t)
	if status, body := get(t, request(t, "GET", address+"/own")); status != http.StatusNotFound || strings.Contains(body, "My own times") {
		t.Errorf("%d", status)
	}
}

// A technician types their token, looks at their times and leaves.
func TestOnesOwnPageInABrowser(t *testing.T) {
	browser, now := pagestest.Open(t), evening
	page := browser.Open(ownShop(t, &now) + "/own")
	page.Audit("own, closed")
	pagestest.Eval[bool](page, `(document.getElementById("ot").value = "Ines", document.getElementById("ok").value = "token of Ines", true)`)
	page.Follow(`form[action="/own"] button`)
	page.Wait(`document.body.innerText.includes("My learning")`)
	page.Everywhere("review-own")
	page.Follow(`form[action="/own/leave"] button`)
	page.Wait(`document.getElementById("ok") !== null`)
}
