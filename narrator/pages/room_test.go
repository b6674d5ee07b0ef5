package pages_test

import (
	"testing"

	"stepcaller/narrator/pages"
	"stepcaller/narrator/pages/pagestest"
	"stepcaller/procedures/tongue"
)

// cutOff lists what of the glance page is cut off or lies outside the screen: on a screen that is wider than high nothing is scrolled to,
// nor on one that is higher than wide. The top line and what is left may end in an ellipsis.
const cutOff = `(() => {
	const out = [];
	for (const e of document.querySelectorAll("#glance :is(h1, li, b, .figure, .next, .what, .since, .mic, .clock, .heard, .trouble, .pattern)")) {
		if (e.closest(".job, .left, [hidden]") || getComputedStyle(e).clipPath !== "none") continue;
		const r = e.getBoundingClientRect();
		if (r.width && (r.left < -1 || r.right > innerWidth + 1 || (r.top < -1 || r.bottom > innerHeight + 1))) out.push("outside: " + e.outerHTML.slice(0, 80));
	}
	for (const e of document.querySelectorAll("#glance :is(.words, .torque, .heard, .trouble, .mic, .clock)")) {
		if (e.scrollWidth > e.clientWidth + 1 || e.matches(".words, .torque") && e.scrollHeight > e.clientHeight + 1) out.push("cut off: " + e.outerHTML.slice(0, 80));
	}
	for (const e of document.querySelectorAll("#glance h1")) {
		if (e.scrollHeight > e.clientHeight + parseFloat(getComputedStyle(e).fontSize) / 2) out.push("cut off: " + e.outerHTML.slice(0, 80));
	}
	for (const e of document.querySelectorAll("#glance .pattern")) {
		if (Math.min(e.clientWidth, e.clientHeight) < 200) out.push("the pattern is small: " + e.clientWidth + " by " + e.clientHeight);
	}
	const parts = [...document.querySelectorAll("#glance :is(.job, .number, .words > *, .value, .pattern, figure, .timers, .readings, .aside > *, .ears, .clock, .bar)")];
	const seen = parts.filter(e => !e.closest("[hidden]")).map(e => [e, e.getBoundingClientRect()]).filter(([, r]) => r.width && r.height);
	for (const [i, [a, r]] of seen.entries()) for (const [b, q] of seen.slice(i + 1)) {
		const across = Math.min(r.right, q.right) - Math.max(r.left, q.left), down = Math.min(r.bottom, q.bottom) - Math.max(r.top, q.top);
		if (across > 1 && down > 4) out.push("one over the other: " + a.outerHTML.slice(0, 60) + " and " + b.outerHTML.slice(0, 60) + " by " + down.toFixed(1));
	}
	return out;
})()`

// TestEverythingOfTheGlanceHasRoom looks at every scene in both languages, on the tablet as it lies and upright.
func TestEverythingOfTheGlanceHasRoom(t *testing.T) {
	browser := pagestest.Open(t)
	for _, name := range tongue.Bundled() {
		language, err := tongue.Named(name)
		if err != nil {
			t.Fatal(err)
		}
		hub := pages.NewHub()
		page := browser.Open(serve(t, pages.Config{Hub: hub, Tongue: language}).URL)
		for _, screen := range []pagestest.Screen{pagestest.Tablet, pagestest.Upright} {
			page.View(screen, screen == pagestest.Upright)
			for _, s := range scenes {
				show(t, page, hub, s.bay(opens(t, language)))
				for _, what := range pagestest.Eval[[]string](page, cutOff) {
					t.Errorf("%s, %s, %s: %s", s.name, name, screen.Name, what)
				}
				page.Shoot("glance-" + s.name + "-" + screen.Name + "-" + name)
			}
		}
	}
}
