package pages

import (
	"math"

	"stepcaller/procedures"
)

// Spot is where a fastener is drawn, seen from above with the front up, in fastener spacings from the top left of the drawing.
type Spot struct {
	X, Y   float64
	Number int
	State  State
}

// rowMost is how many fasteners without a pattern are drawn in one row.
const rowMost = 6

// edge is the room around a fastener's middle.
const edge = 0.58

// Layout places count fasteners as their order numbers them: a row from one end, two rows clockwise from the front left corner, or a
// circle clockwise from the top. What is only listed stands in rows, as a list does. No two are nearer than one spacing, and all
// coordinates are at least edge.
func Layout(order procedures.Order, count int) []Spot {
	spots := make([]Spot, count)
	for i := range spots {
		x, y := spotOf(order, i, count)
		spots[i] = Spot{X: x + edge, Y: y + edge, Number: i + 1}
	}
	return spots
}

func spotOf(order procedures.Order, i, count int) (x, y float64) {
	switch {
	case count == 1:
		return 0, 0
	case order == procedures.Star:
		radius := max(0.75, 0.56/math.Sin(math.Pi/float64(count)))
		turn := 2 * math.Pi * float64(i) / float64(count)
		return radius + radius*math.Sin(turn), radius - radius*math.Cos(turn)
	case order == procedures.CrissCross && count > 2:
		columns := count / 2
		switch {
		case i < columns:
			return float64(i) + odd(count), 0
		case i < 2*columns:
			return float64(2*columns-1-i) + odd(count), 1.5
		default: // the last odd one, at the end of the part
			return 0, 0.75
		}
	case order == procedures.MiddleOutward:
		return float64(i), 0
	}
	return float64(i % rowMost), 1.15 * float64(i/rowMost)
}

// odd is the room at the end of the part for a last odd fastener.
func odd(count int) float64 { return 0.9 * float64(count%2) }

// Box is the drawing's width and height, in spacings.
func Box(spots []Spot) (width, height float64) {
	for _, s := range spots {
		width, height = max(width, s.X+edge), max(height, s.Y+edge)
	}
	return width, height
}
