package pages_test

import (
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/pages"
	"stepcaller/narrator/pages/pagestest"
	"stepcaller/procedures/tongue"
)

// opener opens a bay with a job on a bundled procedure.
type opener func(procedure string) *bay

// opens makes an opener whose bays speak a language, nil for English.
func opens(t testing.TB, language *tongue.Tongue) opener {
	return func(procedure string) *bay { return newBay(t, procedure, language) }
}

// scenes are moments of a bay that its page must show well.
var scenes = []struct {
	name string
	bay  func(open opener) pages.Glance
}{
	{"words", func(open opener) pages.Glance {
		b := open("valve-cover")
		b.until("unplug")
		return b.glance()
	}},
	{"torque-ten", func(open opener) pages.Glance {
		b := open("valve-cover")
		b.until("cover-tight")
		b.say(20, "torque", "yes")
		b.say(8, "next", "next", "next")
		return b.glance()
	}},
	{"torque-stages", func(open opener) pages.Glance {
		b := open("clutch")
		b.until("plate-tight")
		b.say(20, "torque")
		b.say(8, "next", "next", "next", "next", "next", "next", "next", "next", "next")
		return b.glance()
	}},
	{"hold", func(open opener) pages.Glance {
		b := open("valve-cover")
		b.until("cover-on")
		b.say(30, "hold the job", "parts")
		b.at = b.at.Add(754 * narrator.Second)
		return b.glance()
	}},
	{"question", func(open opener) pages.Glance {
		b := open("valve-cover")
		b.until("coils-off")
		b.say(30, "hold the job")
		g := b.glance()
		g.Heard = &pages.Word{Phrase: "tool list", Score: 0.41}
		g.Mic = pages.Mic{Level: -9, Verdict: narrator.HearsPoorly, Cause: narrator.CauseNoise}
		return g
	}},
	{"readings", func(open opener) pages.Glance {
		b := open("valve-clearance")
		b.until("inlet-1")
		b.say(10, "reading")
		b.say(3, "zero", "point", "two", "eight")
		b.take(narrator.Tick{At: b.at.Add(4 * narrator.Second)})
		return b.glance()
	}},
	{"timer", func(open opener) pages.Glance {
		b := open("timing-belt")
		b.until("run")
		b.open("oil-service", "20418")
		b.say(30, "other job", "one")
		b.say(40, "start timer")
		b.at = b.at.Add(97 * narrator.Second)
		return b.glance()
	}},
	{"dictated", func(open opener) pages.Glance {
		b := open("clutch")
		b.dictate()
		return b.glance()
	}},
	{"note", func(open opener) pages.Glance {
		g := open("water-pump").glance()
		g.Recording = true
		return g
	}},
	{"asleep", func(open opener) pages.Glance {
		b := open("front-brakes")
		b.until("raise")
		b.say(10, "stop listening")
		return b.glance()
	}},
	{"lost", func(open opener) pages.Glance {
		b := open("spark-plugs")
		g := b.glance()
		g.Trouble = b.Settings.Tongue.F("The microphone or the loudspeaker is gone")
		return g
	}},
	{"caution", func(open opener) pages.Glance {
		b := open("timing-belt")
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
		show(t, page, hub, scene(t, s.name))
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
			return s.bay(opens(t, nil))
		}
	}
	t.Fatalf("no scene %s", name)
	return pages.Glance{}
}
