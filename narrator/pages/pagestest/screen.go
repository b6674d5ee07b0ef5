package pagestest

import (
	"os"
	"path/filepath"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// Screen is what a page is looked at on.
type Screen struct {
	Name          string
	Width, Height int64 // CSS pixels
	Paper         bool
}

// The screens: the bay's own, the same on its side, the desk's, and a sheet of A4 at 96 pixels to the inch (CSS Values and Units 4, 6.2).
var (
	Tablet  = Screen{"tablet", 1280, 800, false}
	Upright = Screen{"upright", 800, 1280, false}
	Desktop = Screen{"desktop", 1440, 900, false}
	Paper   = Screen{"paper", 794, 1123, true}
)

// View shows the page on a screen, light or dark.
func (p *Page) View(s Screen, dark bool) {
	p.t.Helper()
	media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
		{Name: "prefers-color-scheme", Value: scheme(dark)}, {Name: "prefers-reduced-motion", Value: "reduce"},
	}}
	if s.Paper {
		media.Media = "print"
	}
	p.Do(chromedp.EmulateViewport(s.Width, s.Height))
	Get(p, send(emulation.SetEmulatedMedia, media))
	p.settle()
}

// settle waits until what was changed is painted.
func (p *Page) settle() {
	p.t.Helper()
	Eval[bool](p, `new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))`)
}

// Eye is how somebody sees colours, as Chromium imitates it.
type Eye = emulation.SetEmulatedVisionDeficiencyType

// Eyes lists the kinds of sight, the usual one first.
func Eyes() []Eye {
	return []Eye{emulation.SetEmulatedVisionDeficiencyTypeNone, emulation.SetEmulatedVisionDeficiencyTypeProtanopia, emulation.SetEmulatedVisionDeficiencyTypeDeuteranopia,
		emulation.SetEmulatedVisionDeficiencyTypeTritanopia, emulation.SetEmulatedVisionDeficiencyTypeAchromatopsia}
}

// SeeAs shows the page as such an eye sees it.
func (p *Page) SeeAs(eye Eye) {
	p.t.Helper()
	Get(p, send(emulation.SetEmulatedVisionDeficiency, emulation.SetEmulatedVisionDeficiencyParams{Type: eye}))
	p.settle()
}

func scheme(dark bool) string {
	if dark {
		return "dark"
	}
	return "light"
}

// Shoot writes a picture of the whole page to the folder of pictures, as NAME.png; see [Pictures].
func (p *Page) Shoot(name string) {
	p.t.Helper()
	if Pictures() != "" {
		p.write(name+".png", Get(p, chromedp.FullScreenshot(100)))
	}
}

// Print prints the page on sheets of A4, and writes them to the folder of pictures as NAME.pdf; see [Pictures].
func (p *Page) Print(name string) {
	p.t.Helper()
	sheets := Get(p, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPreferCSSPageSize()))
	if Pictures() != "" {
		p.write(name+".pdf", sheets)
	}
}

// Everywhere audits the page on the tablet, light and dark, takes a picture of it on every screen, and prints it.
func (p *Page) Everywhere(name string) {
	p.t.Helper()
	p.OnScreen(name)
	p.View(Paper, false)
	p.Shoot(name + "-" + Paper.Name)
	p.Print(name)
	p.View(Desktop, false)
}

// OnScreen audits the page on the tablet, light and dark, and takes a picture of it on both screens.
func (p *Page) OnScreen(name string) {
	p.t.Helper()
	for _, s := range []Screen{Desktop, Tablet} {
		for _, dark := range []bool{true, false} {
			if s == Desktop && Pictures() == "" {
				continue
			}
			at := name + "-" + s.Name + "-" + scheme(dark)
			p.View(s, dark)
			if s == Tablet {
				p.Audit(at)
			}
			p.Shoot(at)
		}
	}
}

func (p *Page) write(name string, data []byte) {
	p.t.Helper()
	if err := os.MkdirAll(Pictures(), 0o755); err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(Pictures(), name), data, 0o600); err != nil {
		p.t.Fatal(err)
	}
}

// Pictures is the folder that pictures are written to: what STEPCALLER_SCREENSHOTS names, "" for no pictures.
func Pictures() string { return os.Getenv("STEPCALLER_SCREENSHOTS") }
