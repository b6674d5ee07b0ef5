package pages_test

import (
	"fmt"
	"net"
	"net/http"
	"slices"
	"testing"
	"time"

	"stepcaller/narrator/pages"
	"stepcaller/narrator/pages/pagestest"
	"stepcaller/procedures"
)

// bayServer serves pages at an address of its own until it is stopped, and may be started there again.
type bayServer struct {
	t       testing.TB
	address string
	stop    func()
}

func (s *bayServer) start(hub *pages.Hub) {
	s.t.Helper()
	h, err := pages.New(pages.Config{Hub: hub})
	if err != nil {
		s.t.Fatal(err)
	}
	if s.address == "" {
		s.address = "127.0.0.1:0"
	}
	listener, err := (&net.ListenConfig{}).Listen(s.t.Context(), "tcp", s.address)
	if err != nil {
		s.t.Fatal(err)
	}
	s.address = listener.Addr().String()
	server := &http.Server{Handler: h, ReadHeaderTimeout: time.Second}
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = server.Serve(listener)
	}()
	s.stop = func() {
		_ = server.Close()
		<-done
	}
	s.t.Cleanup(s.stop)
}

func TestThePageSaysThatItIsStaleAndComesBack(t *testing.T) {
	hub := pages.NewHub()
	hub.Publish(scene(t, "words"))
	s := &bayServer{t: t}
	s.start(hub)
	page := pagestest.Open(t).Open("http://" + s.address)
	page.Wait(`document.querySelector(".number b").textContent === "2"`)
	if !pagestest.Eval[bool](page, `document.querySelector("#stale").hidden && document.querySelector("#glance").dataset.quiet === "12000"`) {
		t.Error("stale from the beginning")
	}
	pagestest.Eval[string](page, `document.querySelector("#glance").dataset.quiet = "700"`) // so that nobody waits for it
	page.Forgive()
	s.stop()
	page.Wait(`!document.querySelector("#stale").hidden`)
	page.View(pagestest.Tablet, false)
	page.Audit("stale")
	page.Shoot("glance-stale-tablet-light")

	again := pages.NewHub() // the program runs again: the page is loaded anew, and shows what is now
	again.Publish(scene(t, "torque-ten"))
	s.start(again)
	page.Wait(`document.querySelector(".number b")?.textContent === "10" && document.querySelector("#stale").hidden`)
}

func TestClocksGoOnByThemselves(t *testing.T) {
	hub := pages.NewHub()
	g := scene(t, "timer")
	hub.Publish(g)
	page := pagestest.Open(t).Open(serve(t, pages.Config{Hub: hub}).URL)
	worked, left := page.Text(".clock b"), page.Text(".timers b")
	page.Wait(fmt.Sprintf(`document.querySelector(".clock b").textContent > %q && document.querySelector(".timers b").textContent < %q`, worked, left))
	g = scene(t, "hold")
	show(t, page, hub, g)
	stands, since := page.Text(".clock b"), page.Text(".since")
	page.Wait(fmt.Sprintf(`document.querySelector(".since").textContent.trim() !== %q`, since))
	if got := page.Text(".clock b"); got != stands {
		t.Errorf("the clock goes on while the job is held: %s after %s", got, stands)
	}
}

// BenchmarkWordToScreen is the time from the outcome of a word to its page: until the browser has changed it, and until it is about to
// paint it.
func BenchmarkWordToScreen(b *testing.B) {
	hub := pages.NewHub()
	s := &bayServer{t: b}
	s.start(hub)
	page := pagestest.Open(b).Open("http://" + s.address)
	page.View(pagestest.Tablet, false)
	glances := []pages.Glance{scene(b, "torque-ten"), scene(b, "words")}
	var changed, painted []float64
	n := 0
	for b.Loop() {
		pagestest.Eval[bool](page, `(window.redrawn = new Promise(done => new MutationObserver((_, o) => { o.disconnect(); const changed = Date.now(); requestAnimationFrame(() => done([changed, Date.now()])); })
			.observe(document.querySelector("#glance"), {childList: true}))) && true`)
		at := float64(time.Now().UnixMicro()) / 1000
		hub.Publish(glances[n%2])
		seen := pagestest.Eval[[2]float64](page, `window.redrawn`)
		changed, painted = append(changed, seen[0]-at), append(painted, seen[1]-at)
		n++
	}
	slices.Sort(changed)
	slices.Sort(painted)
	b.ReportMetric(changed[n/2], "ms-changed")
	b.ReportMetric(changed[n*95/100], "ms-changed-p95")
	b.ReportMetric(painted[n*95/100], "ms-painted-p95")
}

// BenchmarkGlance is what a glance costs the session: copying it out of the bay and publishing it.
func BenchmarkGlance(b *testing.B) {
	bay := newBay(b, "timing-belt", nil)
	bay.until("run")
	hub, words := pages.NewHub(), procedures.DefaultWords()
	b.ReportAllocs()
	for b.Loop() {
		hub.Publish(pages.GlanceAt(bay.Bay, bay.at, words))
	}
	b.ReportMetric(float64(len(bay.Job().Log())), "events")
}
