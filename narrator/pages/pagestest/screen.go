package pagestest

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// Screen is what a page is looked at on.
type Screen struct {
	Name          string
	Width, Height int64 // CSS pixels
	Paper         bool
}

// The screens: the bay's own, the desk's, and a sheet of A4 at 96 pixels to the inch (CSS Values and Units 4, 6.2).
var (
	Tablet  = Screen{"tablet", 1280, 800, false}
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
	Eval[bool](p, `new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))`)
}

func scheme(dark bool) string {
	if dark {
		return "dark"
	}
	return "light"
}

// Shoot writes a picture of the whole page to the folder of pictures, as NAME.png.
func (p *Page) Shoot(name string) {
	p.t.Helper()
	p.write(name+".png", Get(p, chromedp.FullScreenshot(100)))
}

// Print writes the page as a PDF of A4 sheets to the folder of pictures, as NAME.pdf.
func (p *Page) Print(name string) {
	p.t.Helper()
	p.write(name+".pdf", Get(p, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPreferCSSPageSize())))
}

// Everywhere audits the page and writes a picture of it on every screen, light and dark, and prints it.
func (p *Page) Everywhere(name string) {
	p.t.Helper()
	for _, s := range []Screen{Tablet, Desktop} {
		for _, dark := range []bool{false, true} {
			at := name + "-" + s.Name + "-" + scheme(dark)
			p.View(s, dark)
			p.Audit(at)
			p.Shoot(at)
		}
	}
	p.View(Paper, false)
	p.Audit(name + "-" + Paper.Name)
	p.Shoot(name + "-" + Paper.Name)
	p.Print(name)
	p.View(Desktop, false)
}

func (p *Page) write(name string, data []byte) {
	p.t.Helper()
	path := filepath.Join(Pictures(p.t), name)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		p.t.Fatal(err)
	}
}

// Pictures is the folder that pictures are written to: what STEPCALLER_SCREENSHOTS names, else one that ends with the test.
func Pictures(t testing.TB) string {
	t.Helper()
	dir := os.Getenv("STEPCALLER_SCREENSHOTS")
	if dir == "" {
		return t.TempDir()
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}
