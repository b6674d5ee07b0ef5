package hearing

import (
	"bufio"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// pixelSheet is a PNG image, with two of its pixels to one of the sheet's.
type pixelSheet struct {
	image *image.RGBA
	face  font.Face
}

const pixelScale = 2

func newPixelSheet(w, h float64) (*pixelSheet, error) {
	regular, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return nil, fmt.Errorf("picture: its font: %w", err)
	}
	face, err := opentype.NewFace(regular, &opentype.FaceOptions{Size: textSize * pixelScale, DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		return nil, fmt.Errorf("picture: its font: %w", err)
	}
	s := &pixelSheet{image: image.NewRGBA(image.Rect(0, 0, pixel(w), pixel(h))), face: face}
	s.box(0, 0, w, h, color.White)
	return s, nil
}

func pixel(v float64) int { return int(math.Round(pixelScale * v)) }

func (s *pixelSheet) box(x, y, w, h float64, fill color.Color) {
	draw.Draw(s.image, image.Rect(pixel(x), pixel(y), pixel(x+w), pixel(y+h)), image.NewUniform(fill), image.Point{}, draw.Src)
}

func (s *pixelSheet) text(x, y float64, text string, at anchor, ink color.Color) {
	const height = 3 * textSize * pixelScale / 2
	long := font.MeasureString(s.face, text).Ceil()
	line := image.NewAlpha(image.Rect(0, 0, long, height))
	base := height/2 + textSize*pixelScale*7/20 // half a letter's height below the middle
	d := font.Drawer{Dst: line, Src: image.Opaque, Face: s.face, Dot: fixed.P(0, base)}
	d.DrawString(text)
	left := map[anchor]int{centre: -long / 2, end: -long, start: 0, upwards: 0}[at]
	for v := range height {
		for u := range long {
			across, down := left+u, v-height/2
			if at == upwards {
				across, down = down, -u
			}
			mask := line.AlphaAt(u, v)
			p := image.Pt(pixel(x)+across, pixel(y)+down)
			draw.DrawMask(s.image, image.Rectangle{Min: p, Max: p.Add(image.Pt(1, 1))}, image.NewUniform(ink), image.Point{}, image.NewUniform(mask), image.Point{}, draw.Over)
		}
	}
}

func (s *pixelSheet) write(w *bufio.Writer) error { return png.Encode(w, s.image) }
