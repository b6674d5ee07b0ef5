package pages_test

import (
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/pages"
	"stepcaller/narrator/pages/pagestest"
)

// scenes are moments of a bay that its page must show well.
var scenes = []struct {
	name string
	bay  func(t testing.TB) pages.Glance
}{
	{"words", func(t testing.TB) pages.Glance {
		b := newBay(t, "valve-cover")
		b.until("unplug")
		return b.glance()
	}},
	{"torque-ten", func(t testing.TB) pages.Glance {
		b := newBay(t, "valve-cover")
		b.until("cover-tight")
		b.say(20, "torque", "yes")
		b.say(8, "next", "next", "next")
		return b.glance()
	}},
	{"torque-stages", func(t testing.TB) pages.Glance {
		b := newBay(t, "clutch")
		b.until("plate-tight")
		b.say(20, "torque")
		b.say(8, "next", "next", "next", "next", "next", "next", "next", "next", "next")
		return b.glance()
	}},
	{"hold", func(t testing.TB) pages.Glance {
		b := newBay(t, "valve-cover")
		b.until("cover-on")
		b.say(30, "hold the job", "parts")
		b.at = b.at.Add(754 * narrator.Second)
		return b.glance()
	}},
	{"question", func(t testing.TB) pages.Glance {
		b := newBay(t, "valve-cover")
		b.until("coils-off")
		b.say(30, "hold the job")
		g := b.glance()
		g.Heard = &pages.Word{Phrase: "tool list", Score: 0.41}
		g.Mic = pages.Mic{Level: -9, Verdict: narrator.HearsPoorly, Cause: narrator.CauseNoise}
		return g
	}},
	{"readings", func(t testing.TB) pages.Glance {
		b := newBay(t, "valve-clearance")
		b.until("inlet-1")
		b.say(10, "reading")
		b.say(3, "zero", "point", "two", "eight")
		b.take(narrator.Tick{At: b.at.Add(4 * narrator.Second)})
		return b.glance()
	}},
	{"timer", func(t testing.TB) pages.Glance {
		b := newBay(t, "timing-belt")
		b.until("run")
		b.open("oil-service", "20418")
		b.say(30, "other job", "one")
		b.say(40, "start timer")
		b.at = b.at.Add(97 * narrator.Second)
		return b.glance()
	}},
	{"caution", func(t testing.TB) pages.Glance {
		b := newBay(t, "timing-belt")
		b.until("raise")
		return b.glance()
	}},
}

func TestTheGlancePageOnScreen(t *testing.T) {
	hub := pages.NewHub()
	page := pagestest.Open(t).Open(serve(t, pages.Config{Hub: hub}).URL)
	page.OnScreen("glance-idle")
	for i, s := range scenes {
		page.View(pagestest.Tablet, i%2 == 0)
		show(t, page, hub, s.bay(t))
		if pagestest.Pictures() != "" {
			page.OnScreen("glance-" + s.name)
			continue
		}
		page.Audit(s.name)
	}
}

// show publishes a glance and waits until the page has it.
func show(t *testing.T, page *pagestest.Page, hub *pages.Hub, g pages.Glance) {
	t.Helper()
	pagestest.Eval[bool](page, `document.querySelector("#glance").replaceChildren() ?? true`)
	hub.Publish(g)
	page.Wait(`document.querySelector("#glance").childElementCount > 0`)
}

// scene is one of the scenes.
func scene(t testing.TB, name string) pages.Glance {
	t.Helper()
	for _, s := range scenes {
		if s.name == name {
			return s.bay(t)
		}
	}
	t.Fatalf("no scene %s", name)
	return pages.Glance{}
}
