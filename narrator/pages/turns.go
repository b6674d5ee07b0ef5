package pages

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"stepcaller/narrator/labour"
	"stepcaller/procedures"
)

// pattern is the drawing of one tightening: its fasteners in their places, and what was done to each.
type pattern struct {
	Step          int    // number
	Title         string // of the step
	Fastener      string
	Value         string // as written, with an angle
	Order         string // "" where none is given
	Width, Height float64
	Bolts         []bolt
	Way           string // the points of the line in which they were gone round at last
	Front         bool   // the left end is the front
	Rows          []labour.Tightening
	Called        []labour.Torque // read out, with nothing told of the fasteners
}

// bolt is one fastener of a pattern, around its centre.
type bolt struct {
	X, Y   float64
	Number int
	Name   string // of its place, "" where the number is all
	Stages int    // done
	Of     int    // stages wanted
}

// Done reports whether the fastener had every stage.
func (b bolt) Done() bool { return b.Stages >= b.Of }

// Parts are the lengths of the ring's dashes: what is done and what is not.
func (b bolt) Parts() string {
	return fmt.Sprintf("%d %d", min(b.Stages, b.Of), max(0, b.Of-b.Stages))
}

// boltApart is the distance of two fasteners in a drawing, boltEdge that of the first from its edge.
const (
	boltApart = 58.0
	boltEdge  = 30.0
)

// places gives the fasteners of a pattern their places by number, as [procedures.Order] numbers them, and the size of the drawing. Two rows
// lie with the front to the left.
func places(order procedures.Order, count int) (at [][2]float64, width, height float64) {
	switch {
	case order == procedures.CrissCross && count > 3:
		columns := count / 2
		first := boltEdge
		if count%2 == 1 {
			first += boltApart
		}
		for n := range 2 * columns {
			x, y := first+boltApart*float64(n), boltEdge
			if n >= columns {
				x, y = first+boltApart*float64(2*columns-1-n), boltEdge+boltApart
			}
			at = append(at, [2]float64{x, y})
		}
		if count%2 == 1 {
			at = append(at, [2]float64{boltEdge, boltEdge + boltApart/2})
		}
		return at, first + boltApart*float64(columns-1) + boltEdge, 2*boltEdge + boltApart
	case order == procedures.Star && count > 2:
		radius := max(42, boltApart/(2*math.Sin(math.Pi/float64(count))))
		for n := range count {
			s, c := math.Sincos(2 * math.Pi * float64(n) / float64(count))
			at = append(at, [2]float64{boltEdge + radius*(1+s), boltEdge + radius*(1-c)})
		}
		return at, 2 * (boltEdge + radius), 2 * (boltEdge + radius)
	}
	const inRow = 10
	for n := range count {
		at = append(at, [2]float64{boltEdge + boltApart*float64(n%inRow), boltEdge + boltApart*float64(n/inRow)})
	}
	return at, 2*boltEdge + boltApart*float64(min(count, inRow)-1), 2*boltEdge + boltApart*float64((count-1)/inRow)
}

// patterns draws every tightening of which the sheet tells something, in the order of the steps.
func patterns(p *procedures.Procedure, sheet labour.Sheet) []pattern {
	var all []pattern
	for i := range p.Steps {
		step := &p.Steps[i]
		for _, t := range step.Torque {
			d := pattern{Step: i + 1, Title: step.Heading(), Fastener: t.Fastener, Value: t.Value.String(), Order: string(t.Order)}
			if t.Angle > 0 {
				d.Value += fmt.Sprintf(" + %d°", t.Angle)
			}
			for _, row := range sheet.Tightenings {
				if row.Step == step.ID && row.Fastener == t.Fastener {
					d.Rows = append(d.Rows, row)
				}
			}
			for _, c := range sheet.Torques {
				if c.Step == step.ID && c.Fastener == t.Fastener && !c.Undone {
					d.Called = append(d.Called, c)
				}
			}
			if len(d.Rows) > 0 || len(d.Called) > 0 {
				d.draw(t)
				all = append(all, d)
			}
		}
	}
	return all
}

// draw places the fasteners and says how far each one came.
func (d *pattern) draw(t procedures.Tightening) {
	at, width, height := places(t.Order, t.Count)
	d.Width, d.Height, d.Front = width, height, t.Order == procedures.CrissCross && t.Count > 3
	rounds := len(t.Rounds())
	for i, xy := range at {
		b := bolt{X: xy[0], Y: xy[1], Number: i + 1, Of: rounds}
		if i < len(t.Positions) {
			b.Name = t.Positions[i]
		}
		for _, row := range d.Rows {
			if row.Number == b.Number {
				b.Stages = max(b.Stages, row.Stage)
			}
		}
		d.Bolts = append(d.Bolts, b)
	}
	d.Way = way(at, d.Rows)
}

// way is the line through the fasteners in the order of the last round that was gone, "" where it has no two.
func way(at [][2]float64, rows []labour.Tightening) string {
	last := 0
	for _, row := range rows {
		last = max(last, row.Stage)
	}
	var points []string
	for _, row := range rows {
		if n := row.Number - 1; row.Stage == last && n >= 0 && n < len(at) {
			points = append(points, fmt.Sprintf("%.1f,%.1f", at[n][0], at[n][1]))
		}
	}
	if points = slices.Compact(points); len(points) < 2 {
		return ""
	}
	return strings.Join(points, " ")
}

// turn is one round over a tightening's fasteners, for the record.
type turn struct {
	Name    string // of the stage
	Numbers string // of the fasteners in the order done
	Wrench  string
}

// Rounds lists what was done round by round.
func (d pattern) Rounds() []turn {
	var all []turn
	stage := 0
	for _, row := range d.Rows {
		if row.Stage != stage || len(all) == 0 {
			all, stage = append(all, turn{Name: row.StageName, Wrench: row.Wrench}), row.Stage
		}
		last := &all[len(all)-1]
		name := row.Position
		if name == "" {
			name = fmt.Sprint(row.Number)
		}
		last.Numbers = strings.TrimPrefix(last.Numbers+" "+name, " ")
	}
	return all
}

// Missing names the fasteners that did not have every stage.
func (d pattern) Missing() string {
	var names []string
	for _, b := range d.Bolts {
		if !b.Done() {
			names = append(names, cmp.Or(b.Name, fmt.Sprint(b.Number)))
		}
	}
	return strings.Join(names, ", ")
}

// Time is when the tightening was done, or read out.
func (d pattern) Time() labour.Seconds {
	if n := len(d.Rows); n > 0 {
		return d.Rows[n-1].At
	}
	return d.Called[len(d.Called)-1].At
}
