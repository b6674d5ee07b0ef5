package hearing

import (
	"bufio"
	"errors"
	"fmt"
	"image/color"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Sizes of a picture, in pixels.
const (
	cellSize   = 26
	textSize   = 13
	letterSize = 7.5 // width that a letter needs on average
	margin     = 14
)

// sheet is what a picture is drawn on. Its coordinates are pixels from the upper
// left corner.
type sheet interface {
	box(x, y, w, h float64, fill color.Color)
	text(x, y float64, s string, at anchor, ink color.Color)
	write(w *bufio.Writer) error
}

// anchor is what of a text lies at its place.
type anchor int

const (
	centre  anchor = iota
	end            // its right end, at half its height
	start          // its left end, at half its height
	upwards        // its lower end, at half its width: it is turned and reads upwards
)

// sheetFor is a new white sheet for a file of this name.
func sheetFor(path string, w, h float64) (sheet, error) {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".svg":
		return newVectorSheet(w, h), nil
	case ".png":
		return newPixelSheet(w, h)
	}
	return nil, fmt.Errorf("%s: a picture's name ends in .svg or .png", path)
}

// Pictured is nil where a picture can be written to a file of this name, else it
// says how the name must end.
func Pictured(path string) error {
	_, err := sheetFor(path, 1, 1)
	return err
}

// WritePicture draws the confusion matrix of every engine, side by side, as SVG
// or PNG by the end of the name: a line for what was said, a column for the live
// phrase that was nearest, over all conditions. The colour is the share of the
// line, the figure counts clips.
func WritePicture(path string, r *Report) (err error) {
	var panels []matrix
	width, height := 0.0, 0.0
	for _, e := range r.Engines {
		m := newMatrix(e)
		if len(m.rows) == 0 {
			return errors.New("a picture of the confusion matrix needs clips of live phrases: none was heard")
		}
		panels = append(panels, m)
		w, h := m.size()
		width, height = width+w, max(height, h)
	}
	s, err := sheetFor(path, width, height)
	if err != nil {
		return err
	}
	left := 0.0
	for _, m := range panels {
		m.draw(s, left)
		w, _ := m.size()
		left += w
	}
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("picture: %w", err)
	}
	b := bufio.NewWriter(f)
	if err := errors.Join(s.write(b), b.Flush(), f.Close()); err != nil {
		return fmt.Errorf("picture %s: %w", path, err)
	}
	return nil
}

// matrix is one engine's confusions.
type matrix struct {
	title         string
	rows, columns []string
	counts        [][]int // line by line
}

func newMatrix(e Result) matrix {
	m := matrix{title: e.Name + ": said (lines), nearest (columns), all conditions"}
	for _, p := range e.Phrases {
		m.rows = append(m.rows, p.Phrase)
	}
	m.columns = slices.Clone(m.rows)
	for _, c := range e.Confusion {
		if c.Nearest > 0 && !slices.Contains(m.columns, c.Heard) {
			m.columns = append(m.columns, c.Heard)
		}
	}
	for _, said := range m.rows {
		line := make([]int, len(m.columns))
		for i, heard := range m.columns {
			line[i] = e.confuse(said, heard).Nearest
		}
		m.counts = append(m.counts, line)
	}
	return m
}

// origin is the upper left corner of the cells; size is that of the whole.
func (m matrix) origin() (x, y float64) {
	return margin + letterSize*longest(m.rows), 3*margin + letterSize*longest(m.columns)
}

func (m matrix) size() (w, h float64) {
	x, y := m.origin()
	cells := cellSize * float64(len(m.columns))
	return max(x+cells, margin+letterSize*float64(len(m.title))) + margin, y + cellSize*float64(len(m.rows)) + margin
}

func longest(labels []string) float64 {
	n := 0
	for _, l := range labels {
		n = max(n, len(l))
	}
	return float64(n)
}

func (m matrix) draw(s sheet, left float64) {
	grid, black := color.Gray{Y: 225}, color.Black
	x0, y0 := m.origin()
	x0 += left
	s.text(left+margin, 1.2*margin, m.title, start, black)
	for c, label := range m.columns {
		s.text(x0+cellSize*(float64(c)+0.5), y0-6, label, upwards, black)
	}
	for r, label := range m.rows {
		y := y0 + cellSize*float64(r)
		s.text(x0-6, y+cellSize/2, label, end, black)
		all := 0
		for _, n := range m.counts[r] {
			all += n
		}
		for c, n := range m.counts[r] {
			x := x0 + cellSize*float64(c)
			s.box(x, y, cellSize, cellSize, grid)
			fill, ink := shade(share(n, all), m.columns[c] == label)
			s.box(x+0.5, y+0.5, cellSize-1, cellSize-1, fill)
			if n > 0 {
				s.text(x+cellSize/2, y+cellSize/2, fmt.Sprint(n), centre, ink)
			}
		}
	}
}

// shade is the colour of a share of a line: blue where the phrase is right, red
// where it is not, white for none; and the ink that is read on it.
func shade(share float64, right bool) (fill, ink color.Color) {
	deep := color.RGBA{R: 170, G: 30, B: 20, A: 255}
	if right {
		deep = color.RGBA{R: 20, G: 70, B: 140, A: 255}
	}
	if share == 0 {
		return color.White, color.Black
	}
	k := 0.15 + 0.85*share
	blend := func(v uint8) uint8 { return uint8(255 + k*(float64(v)-255)) }
	if share > 0.5 {
		ink = color.White
	} else {
		ink = color.Black
	}
	return color.RGBA{R: blend(deep.R), G: blend(deep.G), B: blend(deep.B), A: 255}, ink
}
