package pages_test

import (
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"stepcaller/narrator/pages"
	"stepcaller/narrator/pages/pagestest"
	"stepcaller/procedures/tongue"
)

// TestTheReviewPagesInABrowser looks at every review page on every screen, with the accessibility engine.
func TestTheReviewPagesInABrowser(t *testing.T) {
	browser := pagestest.Open(t)
	address := shop(t)
	for name, page := range map[string]string{
		"today": "/today", "day-empty": "/today?day=1990-01-01", "jobs": "/jobs", "jobs-none": "/jobs?text=nothing",
		"job": "/jobs/2000-01-03-1", "job-overnight": "/jobs/2000-01-02-1", "job-open-gap": "/jobs/2000-01-03-2", "job-spoken": "/jobs/2000-01-03-3",
		"record": "/jobs/2000-01-03-1/sheet", "procedures": "/procedures", "procedure": "/procedures/valve-cover?technician=Ines",
		"procedure-unused": "/procedures/clutch", "edit": "/procedures/valve-cover/edit", "typed-up": "/procedures/new?job=2000-01-03-3",
	} {
		t.Run(name, func(t *testing.T) { browser.Open(address + page).Everywhere("review-" + name) })
	}
}

// TestTheReviewPagesInGerman looks at them in the second language.
func TestTheReviewPagesInGerman(t *testing.T) {
	browser := pagestest.Open(t)
	language, err := tongue.Named("de")
	if err != nil {
		t.Fatal(err)
	}
	store, data := keep(t, append(months(12)(t), day(t)...)...)
	address := serve(t, pages.Config{Store: store, Data: data, Tongue: language, Archive: figuresOf(t, data, store), Change: writing(store),
		Now: func() time.Time { return evening }}).URL
	page := browser.Open(address + "/today")
	for _, at := range []string{"/today", "/jobs", "/jobs/2000-01-03-1", "/procedures/valve-cover"} {
		page.Go(address + at)
		page.Audit("german " + at)
		page.Shoot("review-german-" + filepath.Base(at))
	}
}

// TestEveryActionOfAJobInABrowser corrects, remarks, withdraws, types a fact and opens the record, by clicking.
func TestEveryActionOfAJobInABrowser(t *testing.T) {
	page := pagestest.Open(t).Open(shop(t) + "/jobs/2000-01-03-1")
	page.Click("#line ~ details summary")
	page.Follow(`a[href*="from=2000-01-03T08%3a34%3a00"]`)
	page.Wait(`document.getElementById("cfrom").value === "2000-01-03T08:34:00" || document.getElementById("cfrom").value === "2000-01-03T08:34"`)
	pagestest.Eval[bool](page, `cwho.value = "Ines", document.querySelector('[name=what][value=worked]').checked = true, cwhy.value = "I went on meanwhile", true`)
	page.Follow(`form[action$="/correct"] button`)
	page.Wait(`document.body.innerText.includes("I went on meanwhile") && !document.querySelector(".wrong")`)
	page.Audit("corrected")
	page.Shoot("review-job-corrected")
	pagestest.Eval[bool](page, `rwho.value = "Tomas", rtext.value = "Hook too short", true`)
	page.Follow(`form[action$="/remark"] button`)
	page.Wait(`document.body.innerText.includes("Hook too short")`)
	page.Follow(`form[action$="/withdraw"] button`)
	page.Wait(`document.querySelector(".said.undone") !== null`)
	page.Audit("withdrawn")
	pagestest.Eval[bool](page, `(document.getElementById("f-core").value = "two calipers", true)`)
	page.Follow(`form:has(#f-core) button`)
	page.Wait(`document.getElementById("f-core") && document.getElementById("f-core").value === "two calipers" && location.hash === "#record"`)
	page.Follow(`a[href$="/sheet"]`)
	page.Wait(`document.body.innerText.includes("two calipers") && !document.getElementById("print").hidden`)
}

// TestANoteIsPlayedInABrowser plays a recording until some of it was heard.
func TestANoteIsPlayedInABrowser(t *testing.T) {
	page := pagestest.Open(t).Open(shop(t) + "/jobs/2000-01-03-1")
	page.Click("h1") // a page that nobody touched may not play
	pagestest.Eval[bool](page, `(() => { const a = document.querySelector("audio"); a.muted = true; a.play(); return true; })()`)
	page.Wait(`document.querySelector("audio").currentTime > 0.1 && Math.round(document.querySelector("audio").duration) === 12`)
}

// TestAProcedureIsEditedInABrowser makes a mistake, follows the remark to its line, mends it and saves.
func TestAProcedureIsEditedInABrowser(t *testing.T) {
	address, folder := editing(t)
	page := pagestest.Open(t).Open(address + "/procedures/lamp/edit")
	pagestest.Eval[bool](page, `(() => { text.value = text.value.replace("minutes: 5", "minuts: 5"); text.dispatchEvent(new Event("input")); return true; })()`)
	page.Follow(`button[value=check]`)
	page.Wait(`document.querySelector(".mistake.error") !== null && document.querySelectorAll(".gutter .error").length === 1`)
	page.Everywhere("review-edit-mistake")
	page.Click(".mistake.error a")
	page.Wait(`text.value.slice(text.selectionStart, text.selectionEnd).includes("minuts: 5")`)
	if status := page.Follow(`button[value=save]`); status != http.StatusUnprocessableEntity {
		t.Errorf("%d for a file with a mistake", status)
	}
	page.Forgive() // the browser logs that answer as an error
	page.Wait(`document.querySelector("[role=alert]") !== null`)
	pagestest.Eval[bool](page, `(text.value = text.value.replace("minuts: 5", "minutes: 6"), true)`)
	page.Follow(`button[value=save]`)
	page.Wait(`document.querySelector("[role=status]") !== null`)
	page.Audit("saved")
	if data, err := os.ReadFile(filepath.Join(folder, "lamp.yaml")); err != nil || len(data) != len(lamp) {
		t.Errorf("%q %v", data, err)
	}
}

// TestAListIsSearchedInABrowser fills the form in and turns the pages of the list; a technician is chosen for a learning curve.
func TestAListIsSearchedInABrowser(t *testing.T) {
	address := shop(t)
	page := pagestest.Open(t).Open(address + "/jobs")
	page.Follow(`a[rel=next]`)
	page.Wait(`document.body.innerText.includes("51 to 63 of 63")`)
	page.Follow(`a[rel=prev]`)
	page.Wait(`document.body.innerText.includes("1 to 50 of 63")`)
	pagestest.Eval[bool](page, `(document.getElementById("q").value = "heater", true)`)
	page.Follow(`form[role=search] button`)
	page.Wait(`document.querySelectorAll("tbody tr").length === 1`)
	page.Go(address + "/today")
	page.Follow(`a[rel=prev]`)
	page.Wait(`document.querySelector("h1").innerText === "Sunday 2 January 2000"`)
	page.Go(address + "/procedures/valve-cover")
	page.Wait(`document.querySelectorAll(".chart svg").length === 3`)
	pagestest.Eval[bool](page, `(lt.value = "Mara", true)`)
	page.Follow(`form[action="#learn"] button`)
	page.Wait(`document.querySelectorAll(".chart svg").length === 4`)
}
