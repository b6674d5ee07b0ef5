package hearing

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"image/color"
	"strings"
)

// vectorSheet is an SVG 1.1 document.
type vectorSheet struct{ body strings.Builder }

func newVectorSheet(w, h float64) *vectorSheet {
	s := &vectorSheet{}
	fmt.Fprintf(&s.body, `<svg xmlns="http://www.w3.org/2000/svg" width="%g" height="%g" viewBox="0 0 %g %g" font-family="sans-serif" font-size="%d">`+"\n", w, h, w, h, textSize)
	s.box(0, 0, w, h, color.White)
	return s
}

func (s *vectorSheet) box(x, y, w, h float64, fill color.Color) {
	fmt.Fprintf(&s.body, `<rect x="%g" y="%g" width="%g" height="%g" fill="%s"/>`+"\n", x, y, w, h, hex(fill))
}

func (s *vectorSheet) text(x, y float64, text string, at anchor, ink color.Color) {
	const half = 0.35 * textSize // from the base line to half the height of a letter
	side := [...]string{centre: "middle", end: "end", start: "start", upwards: "start"}[at]
	place := fmt.Sprintf(`x="%g" y="%g"`, x, y+half)
	if at == upwards {
		place = fmt.Sprintf(`transform="translate(%g %g) rotate(-90)"`, x+half, y)
	}
	fmt.Fprintf(&s.body, `<text %s text-anchor="%s" fill="%s">`, place, side, hex(ink))
	_ = xml.EscapeText(&s.body, []byte(text)) // a Builder takes everything
	s.body.WriteString("</text>\n")
}

func (s *vectorSheet) write(w *bufio.Writer) error {
	_, err := w.WriteString(s.body.String() + "</svg>\n")
	return err
}

func hex(c color.Color) string {
	r, g, b, _ := c.RGBA()
	return fmt.Sprintf("#%02x%02x%02x", r>>8, g>>8, b>>8)
}
