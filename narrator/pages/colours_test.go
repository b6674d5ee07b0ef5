package pages_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"testing"

	"github.com/chromedp/chromedp"

	"stepcaller/narrator/pages"
	"stepcaller/narrator/pages/pagestest"
)

// rgb is a colour of the screen, each part 0 to 1.
type rgb [3]float64

// luminance is relative luminance (WCAG 2.2, definitions).
func (c rgb) luminance() float64 {
	l := c.linear()
	return 0.2126*l[0] + 0.7152*l[1] + 0.0722*l[2]
}

// linear takes sRGB's curve off (IEC 61966-2-1).
func (c rgb) linear() (l [3]float64) {
	for i, v := range c {
		if l[i] = v / 12.92; v > 0.04045 {
			l[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return l
}

// contrast is the contrast ratio of two colours (WCAG 2.2, definitions).
func contrast(a, b rgb) float64 {
	x, y := a.luminance(), b.luminance()
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// difference is the distance of two colours in CIELAB (CIE 1976, white point D65): 2 or so can just be seen side by side.
func difference(a, b rgb) float64 {
	x, y := a.lab(), b.lab()
	return math.Sqrt((x[0]-y[0])*(x[0]-y[0]) + (x[1]-y[1])*(x[1]-y[1]) + (x[2]-y[2])*(x[2]-y[2]))
}

func (c rgb) lab() [3]float64 {
	l := c.linear()
	f := func(v float64) float64 {
		if v > 216.0/24389 {
			return math.Cbrt(v)
		}
		return (v*24389/27 + 16) / 116
	}
	x := f((0.4124*l[0] + 0.3576*l[1] + 0.1805*l[2]) / 0.9505)
	y := f(0.2126*l[0] + 0.7152*l[1] + 0.0722*l[2])
	z := f((0.0193*l[0] + 0.1192*l[1] + 0.9505*l[2]) / 1.089)
	return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// Black on white is 21; #767676 is known as the lightest grey with 4.5 on white. Blue in CIELAB is 32.3, 79.2, -107.9 (published tables of
// sRGB's primaries; from memory).
func TestColourArithmetic(t *testing.T) {
	white, grey, lighter := rgb{1, 1, 1}, rgb{0x76 / 255.0, 0x76 / 255.0, 0x76 / 255.0}, rgb{0x77 / 255.0, 0x77 / 255.0, 0x77 / 255.0}
	if c := contrast(rgb{}, white); math.Abs(c-21) > 1e-9 {
		t.Errorf("%v", c)
	}
	if contrast(grey, white) < 4.5 || contrast(lighter, white) >= 4.5 {
		t.Errorf("%v, %v", contrast(grey, white), contrast(lighter, white))
	}
	if blue := (rgb{0, 0, 1}).lab(); math.Abs(blue[0]-32.3) > 0.2 || math.Abs(blue[1]-79.2) > 0.5 || math.Abs(blue[2]+107.9) > 0.5 {
		t.Errorf("%v", blue)
	}
}

// colour reads a computed colour of an element.
func colour(t *testing.T, page *pagestest.Page, selector, property string) rgb {
	t.Helper()
	text := pagestest.Eval[string](page, fmt.Sprintf(`getComputedStyle(document.querySelector(%q))[%q]`, selector, property))
	var c rgb
	if _, err := fmt.Sscanf(text, "rgb(%f, %f, %f)", &c[0], &c[1], &c[2]); err != nil {
		t.Fatalf("%s of %s is %q", property, selector, text)
	}
	return rgb{c[0] / 255, c[1] / 255, c[2] / 255}
}

// What is read across the bay has a contrast of 7 (WCAG 2.2, 1.4.6), shapes have one of 3 (1.4.11), in bright light and in the dark.
func TestTheGlanceHasContrast(t *testing.T) {
	hub := pages.NewHub()
	page := pagestest.Open(t).Open(serve(t, pages.Config{Hub: hub}).URL)
	for _, dark := range []bool{false, true} {
		page.View(pagestest.Tablet, dark)
		ground := colour(t, page, "html", "backgroundColor")
		for _, c := range []struct {
			scene, selector string
		}{{"words", ".number b"}, {"words", "h1"}, {"words", ".say"}, {"words", ".number span"}, {"words", ".heard b"}, {"words", ".clock b"}, {"words", ".clock span"},
			{"words", ".left"}, {"torque-ten", ".figure"}, {"torque-ten", ".next"}, {"torque-ten", ".what"}} {
			show(t, page, hub, scene(t, c.scene))
			if got := contrast(colour(t, page, c.selector, "color"), ground); got < 7 {
				t.Errorf("dark %v: %s: %s has %.2f", dark, c.scene, c.selector, got)
			}
		}
		show(t, page, hub, scene(t, "torque-ten"))
		for _, c := range []struct {
			name  string
			a, b  rgb
			least float64
		}{
			{"number of the next", colour(t, page, ".spot.next text", "fill"), colour(t, page, ".spot.next path", "fill"), 7},
			{"number of one done", colour(t, page, ".spot.done text", "fill"), colour(t, page, ".spot.done circle", "fill"), 4.5},
			{"number of one to do", colour(t, page, ".spot.todo text", "fill"), colour(t, page, ".spot.todo circle", "fill"), 7},
			{"edge of the next", colour(t, page, ".spot.next path", "stroke"), ground, 3},
			{"edge of one to do", colour(t, page, ".spot.todo circle", "stroke"), ground, 3},
			{"one done", colour(t, page, ".spot.done circle", "fill"), ground, 3},
			{"way to the following", colour(t, page, ".then", "stroke"), ground, 3},
		} {
			if got := contrast(c.a, c.b); got < c.least {
				t.Errorf("dark %v: %s has %.2f, wants %v", dark, c.name, got, c.least)
			}
		}
	}
}

// Next, done and to do are told apart by shape, and by eyes that see no red, no green, no blue or no colour, as Chromium imitates them.
func TestThePatternIsReadByEveryEye(t *testing.T) {
	hub := pages.NewHub()
	page := pagestest.Open(t).Open(serve(t, pages.Config{Hub: hub}).URL)
	page.View(pagestest.Tablet, false)
	show(t, page, hub, scene(t, "torque-ten"))
	if got := pagestest.Eval[string](page, `["todo", "next", "done"].map(s => [...document.querySelector(".spot." + s).children].map(e => e.localName).join("+")).join(" ")`); got != "circle+text path+text circle+text+path" {
		t.Errorf("the shapes are %s", got)
	}
	for _, dark := range []bool{false, true} {
		page.View(pagestest.Tablet, dark)
		for _, eye := range pagestest.Eyes() {
			page.SeeAs(eye)
			picture, err := png.Decode(bytes.NewReader(pagestest.Get(page, chromedp.CaptureScreenshot())))
			if err != nil {
				t.Fatal(err)
			}
			page.Shoot(fmt.Sprintf("eyes-%s-dark-%v", eye, dark))
			todo, next, done := fillOf(page, picture, "todo"), fillOf(page, picture, "next"), fillOf(page, picture, "done")
			if a, b, c := difference(todo, next), difference(next, done), difference(done, todo); min(a, b, c) < 10 {
				t.Errorf("%s, dark %v: to do and next differ by %.1f, next and done by %.1f, done and to do by %.1f", eye, dark, a, b, c)
			}
		}
		page.SeeAs("none")
	}
}

// fillOf is the colour inside the first fastener of a state, beside its number.
func fillOf(page *pagestest.Page, picture image.Image, state string) rgb {
	at := pagestest.Eval[[2]float64](page, fmt.Sprintf(`(b => [b.x + b.width * 0.16, b.y + b.height / 2])(document.querySelector(".spot.%s").firstElementChild.getBoundingClientRect())`, state))
	r, g, b, _ := picture.At(int(at[0]), int(at[1])).RGBA()
	return rgb{float64(r) / 0xffff, float64(g) / 0xffff, float64(b) / 0xffff}
}
