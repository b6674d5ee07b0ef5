package pagestest

import (
	"context"

	"github.com/chromedp/chromedp"
)

// Follow clicks the first element of a CSS selector, a link or the button of a form, and waits until the page that it leads to is loaded. It
// returns the status with which that was answered.
func (p *Page) Follow(selector string) (status int64) {
	p.t.Helper()
	ctx, stop := context.WithTimeout(p.ctx, Patience)
	defer stop()
	got, err := chromedp.RunResponse(ctx, chromedp.Click(chromedp.CSS(selector)))
	if err != nil {
		p.t.Fatalf("%s leads nowhere: %v", selector, err)
	}
	return got.Status
}
