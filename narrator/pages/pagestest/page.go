package pagestest

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// Page is a page in a tab of its own. What its script throws, what the browser logs as an error and what it asks of any other
// host fails the test.
type Page struct {
	t   testing.TB
	ctx context.Context
	axe string

	mu     sync.Mutex
	faults []string
	expect bool // a fault is what the test is about
}

// Open loads an address in a new tab. The tab closes with the test.
func (b *Browser) Open(address string) *Page {
	b.t.Helper()
	ctx, end := chromedp.NewContext(b.ctx)
	p := &Page{t: b.t, ctx: ctx, axe: b.axe}
	b.t.Cleanup(func() {
		p.Sound()
		end()
	})
	if err := chromedp.Listen(ctx, p.listen); err != nil { // begins the tab, which must not end with a limit of Do's
		b.t.Fatal(err)
	}
	Get(p, send(network.Enable, network.EnableParams{}))
	p.Go(address)
	return p
}

// send is a command of the DevTools protocol as an action.
func send[P, R any](command cdp.Command[P, R], params P) chromedp.Action[R] {
	return func(ctx context.Context, t *chromedp.Target) (R, error) { return cdp.Call(ctx, t, command, params) }
}

func (p *Page) listen(event any) {
	fault := ""
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		fault = "the page's script: " + (&chromedp.ExceptionError{ExceptionDetails: e.ExceptionDetails}).Error()
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError {
			fault = fmt.Sprintf("the browser: %s %s", e.Entry.Text, e.Entry.URL)
		}
	case *network.EventRequestWillBeSent:
		at := e.Request.URL
		if !strings.HasPrefix(at, "http://127.0.0.1") && !strings.HasPrefix(at, "data:") && !strings.HasPrefix(at, "about:") && !strings.HasPrefix(at, "blob:") {
			fault = "the page asks for " + at
		}
	}
	if fault != "" {
		p.mu.Lock()
		defer p.mu.Unlock()
		p.faults = append(p.faults, fault)
	}
}

// Get carries out an action within [Patience] and returns what it gives.
func Get[T any](p *Page, action chromedp.Action[T]) T {
	p.t.Helper()
	ctx, stop := context.WithTimeout(p.ctx, Patience)
	defer stop()
	got, err := chromedp.Run(ctx, action)
	if err != nil {
		p.t.Fatalf("%v\n%s", err, strings.Join(p.seen(), "\n"))
	}
	return got
}

// Eval evaluates an expression of the page's language, and waits for it where it is a promise. T is what JSON goes into.
func Eval[T any](p *Page, expression string) T {
	p.t.Helper()
	return Get(p, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
}

// Do carries out actions one after the other, each within [Patience].
func (p *Page) Do(actions ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	for _, action := range actions {
		Get(p, action)
	}
}

// Go loads another address in the tab.
func (p *Page) Go(address string) {
	p.t.Helper()
	p.Do(chromedp.Navigate(address))
}

// Click clicks the first element of a CSS selector, once it is visible.
func (p *Page) Click(selector string) {
	p.t.Helper()
	p.Do(chromedp.Click(chromedp.CSS(selector)))
}

// Text is the visible text of the first element of a CSS selector, once there is one.
func (p *Page) Text(selector string) string {
	p.t.Helper()
	p.Wait(fmt.Sprintf(`document.querySelector(%q)`, selector))
	return Eval[string](p, fmt.Sprintf(`document.querySelector(%q)?.innerText ?? ""`, selector))
}

// Wait waits until an expression of the page's language is true, in this page or in one that it loads meanwhile.
func (p *Page) Wait(expression string) {
	p.t.Helper()
	ctx, stop := context.WithTimeout(p.ctx, Patience)
	defer stop()
	for {
		_, err := chromedp.Run(ctx, chromedp.Poll[chromedp.Void](expression, chromedp.WithPollingTimeout(Patience)))
		switch {
		case err == nil:
			return
		case ctx.Err() != nil || !strings.Contains(err.Error(), "navigated") && !strings.Contains(err.Error(), "find context"):
			p.t.Fatalf("%s: %v\n%s", expression, err, strings.Join(p.seen(), "\n"))
		}
	}
}

// Forgive lets what went wrong so far, and what goes wrong from now on, be no fault: a test about a server that goes away.
func (p *Page) Forgive() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.faults, p.expect = nil, true
}

// Sound fails the test where something went wrong in the page. It is called at the end of every test.
func (p *Page) Sound() {
	p.t.Helper()
	for _, fault := range p.seen() {
		p.t.Error(fault)
	}
}

func (p *Page) seen() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.expect {
		return nil
	}
	return p.faults
}

// violation is what axe-core finds.
type violation struct {
	ID     string `json:"id"`
	Impact string `json:"impact"`
	Help   string `json:"help"`
	Nodes  []struct {
		HTML    string `json:"html"`
		Summary string `json:"failureSummary"`
	} `json:"nodes"`
}

// Audit fails the test for every violation; name says which page it was.
func (p *Page) Audit(name string) {
	p.t.Helper()
	for _, v := range p.Violations() {
		p.t.Errorf("%s: %s", name, v)
	}
}

// Violations is what axe-core finds: WCAG up to 2.2 at the levels A and AA, and its best practices.
func (p *Page) Violations() []string {
	p.t.Helper()
	if !Eval[bool](p, `typeof axe === "object"`) {
		p.Do(chromedp.Evaluate[chromedp.Void](p.axe))
	}
	found := Eval[string](p, `axe.run(document, {resultTypes: ["violations"]}).then(r => JSON.stringify(r.violations))`)
	var violations []violation
	if err := json.Unmarshal([]byte(found), &violations); err != nil {
		p.t.Fatal(err)
	}
	var all []string
	for _, v := range violations {
		for _, n := range v.Nodes {
			all = append(all, fmt.Sprintf("%s (%s, %s)\n%s\n%s", v.Help, v.ID, v.Impact, n.HTML, n.Summary))
		}
	}
	return all
}
