package pages_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image/png"
	"math"
	"testing"

	"github.com/chromedp/chromedp"

	"stepcaller/narrator/pages"
	"stepcaller/narrator/pages/pagestest"
	"stepcaller/procedures"
)

// far is how far off the glance page is read.
const far = 4000 // mm

// letter is the height in pixels, on a 10-inch screen of 1280 by 800, of a letter that fills an angle of so many minutes at the
// distance far.
func letter(minutes float64) float64 {
	pixels := math.Hypot(1280, 800) / (10 * 25.4) // to the millimetre
	return 2 * far * math.Tan(minutes/60*math.Pi/180/2) * pixels
}

// The angles that letters fill. ISO 9241-303 wants capital letters of 16' at least and calls 20' to 22' preferred; Snellen's letter for
// 20/20 fills 5', so that 20/40 reads 10' and whoever needs no glasses 5'. Both from memory.
const (
	preferred = 22
	least     = 16
	acuity    = 10
	sharp     = 5
)

// Worked by hand: at 4 m a minute is 4000 mm x pi / 10800 = 1.1636 mm, and a 10-inch diagonal of 1509.4 pixels has 5.9427 to the mm.
func TestTheHeightOfLetters(t *testing.T) {
	for minutes, want := range map[float64]float64{preferred: 152.1, least: 110.6, acuity: 69.1} {
		if got := letter(minutes); math.Abs(got-want) > 0.1 {
			t.Errorf("%v': %.2f px, want %.1f", minutes, got, want)
		}
	}
}

// capital measures the letter H in the font of an element, as it is painted, in pixels.
func capital(t *testing.T, page *pagestest.Page, selector string) float64 {
	t.Helper()
	pagestest.Eval[bool](page, fmt.Sprintf(`(() => {
		const of = getComputedStyle(document.querySelector(%q)), probe = document.createElement("p");
		probe.id = "probe";
		for (const p of ["fontFamily", "fontSize", "fontWeight", "fontStretch"]) probe.style[p] = of[p];
		probe.style.cssText += "position:fixed;inset:0 auto auto 0;margin:0;padding:8px;line-height:1.5;background:#fff;color:#000;z-index:9";
		probe.textContent = "H";
		document.body.append(probe);
		return true;
	})()`, selector))
	picture, err := png.Decode(bytes.NewReader(pagestest.Get(page, chromedp.Screenshot(chromedp.CSS("#probe")))))
	if err != nil {
		t.Fatal(err)
	}
	pagestest.Eval[bool](page, `document.querySelector("#probe").remove() ?? true`)
	height := 0
	for y := picture.Bounds().Min.Y; y < picture.Bounds().Max.Y; y++ {
		for x := picture.Bounds().Min.X; x < picture.Bounds().Max.X; x++ {
			if r, _, _, _ := picture.At(x, y).RGBA(); r < 0x8000 {
				height++
				break
			}
		}
	}
	return float64(height)
}

func TestThePageIsReadAtFourMetres(t *testing.T) {
	hub := pages.NewHub()
	page := pagestest.Open(t).Open(serve(t, pages.Config{Hub: hub}).URL)
	page.View(pagestest.Tablet, false)
	for _, c := range []struct {
		scene, selector string
		minutes         float64
	}{
		{"words", ".number b", preferred},
		{"words", "h1", least},
		{"words", ".clock b", acuity},
		{"torque-stages", ".number b", preferred},
		{"torque-stages", ".figure", preferred},
		{"torque-stages", "h1", acuity},
		{"torque-stages", ".value .next", acuity},
		{"torque-ten", ".figure", preferred},
		{"hold", "h1", least},
		{"hold", ".since", acuity},
		{"timer", ".timers b", acuity},
		{"words", ".heard b", sharp},
		{"question", ".heard b", sharp},
		{"question", ".answers li", sharp},
		{"readings", ".answers li", acuity},
		{"readings", ".readings b", sharp},
		{"asleep", ".trouble", sharp},
		{"lost", ".trouble", sharp},
	} {
		show(t, page, hub, scene(t, c.scene))
		if got, want := capital(t, page, c.selector), letter(c.minutes); got < math.Floor(want) {
			t.Errorf("%s: %s is %v px high, and %v' need %.1f", c.scene, c.selector, got, c.minutes, want)
		}
	}
}

// Of the titles of the bundled procedures' steps nine in ten are in letters of the least height on the tablet, the longest ones a little
// smaller, and nothing of any is cut off. Measured behind a step number of two figures.
func TestEveryTitleFits(t *testing.T) {
	hub := pages.NewHub()
	page := pagestest.Open(t).Open(serve(t, pages.Config{Hub: hub}).URL)
	page.View(pagestest.Tablet, false)
	g := scene(t, "words")
	show(t, page, hub, g)
	capitals := capital(t, page, "h1") / pagestest.Eval[float64](page, fontSize)
	var titles []string
	for _, p := range procedures.Bundled() {
		for i := range p.Steps {
			if p.Steps[i].Title != "" && len(p.Steps[i].Torque) == 0 {
				titles = append(titles, p.Steps[i].Title)
			}
		}
	}
	list, err := json.Marshal(titles)
	if err != nil {
		t.Fatal(err)
	}
	sizes := pagestest.Eval[[]float64](page, fmt.Sprintf(`%s.map(title => {
		const h1 = document.querySelector("h1"), words = document.querySelector(".words");
		document.querySelector(".number b").textContent = "28"; // two figures leave less room
		h1.textContent = title;
		fit(document.querySelector("#glance"));
		const all = words.scrollHeight <= words.clientHeight + 1 && words.scrollWidth <= words.clientWidth + 1;
		return all ? parseFloat(getComputedStyle(h1).fontSize) : 0;
	})`, list))
	smaller := 0
	for i, size := range sizes {
		height := capitals * size
		if height < math.Floor(letter(least)) {
			smaller++
		}
		if height < letter(shortest) {
			t.Errorf("%q: letters of %.0f px, and %v' need %.1f; 0 is cut off", titles[i], height, shortest, letter(shortest))
		}
	}
	if t.Logf("%d of %d titles are in smaller letters", smaller, len(titles)); len(titles) < 200 || 10*smaller > len(titles) {
		t.Errorf("%d of %d titles are in smaller letters", smaller, len(titles))
	}
}

// shortest is what the longest titles are in.
const shortest = 12.5

const fontSize = `parseFloat(getComputedStyle(document.querySelector("h1")).fontSize)`
