package pages_test

import (
	"testing"

	"stepcaller/narrator/pages"
	"stepcaller/narrator/pages/pagestest"
)

func TestThePageOfAnIdleBay(t *testing.T) {
	browser := pagestest.Open(t)
	page := browser.Open(serve(t, pages.Config{}).URL)
	if got := page.Text("h1"); got != "No job is open." {
		t.Errorf("%q", got)
	}
	page.Everywhere("idle")
}
