package pages

import (
	"math"
	"strconv"

	"stepcaller/narrator/labour"
)

// strip is one reading against its limits, in per cent of the strip's width.
type strip struct {
	labour.Reading
	Limits   string // in words, with the unit
	Drawn    bool   // there are limits to draw it against
	From, To float64
	Wear     *float64
	X        float64
	Was      *float64 // before the repair
}

// strips draws the readings that count: of several at one place the last.
func (w writer) strips(readings []labour.Reading) []strip {
	var all []strip
	for i, r := range readings {
		again := false
		for _, later := range readings[i+1:] {
			again = again || later.Step == r.Step && later.Name == r.Name && later.Position == r.Position && later.When == r.When
		}
		if !again {
			all = append(all, w.strip(r))
		}
	}
	return all
}

func (w writer) strip(r labour.Reading) strip {
	s := strip{Reading: r, Limits: w.limits(r)}
	value, ok := figure(&r.Amount)
	least, hasLeast := figure(r.Min)
	most, hasMost := figure(r.Max)
	if !ok || !hasLeast && !hasMost {
		return s
	}
	s.Drawn = true
	low, high := value, value
	for _, text := range []*string{r.Min, r.Max, r.Wear, r.Before} {
		if v, ok := figure(text); ok {
			low, high = min(low, v), max(high, v)
		}
	}
	if high == low {
		high, low = high+math.Abs(high)/2+1, low-math.Abs(low)/2-1
	}
	edge := (high - low) * 0.12
	low, high = low-edge, high+edge
	x := func(v float64) float64 { return 100 * (v - low) / (high - low) }
	s.X, s.To = x(value), 100
	if hasLeast {
		s.From = x(least)
	}
	if hasMost {
		s.To = x(most)
	}
	if v, ok := figure(r.Wear); ok {
		at := x(v)
		s.Wear = &at
	}
	if v, ok := figure(r.Before); ok {
		at := x(v)
		s.Was = &at
	}
	return s
}

// Band is the width of what is inside the limits.
func (s strip) Band() float64 { return max(0, s.To-s.From) }

// Out reports whether the reading is outside its limits.
func (s strip) Out() bool { return s.Judged != "" && s.Judged != "inside" }

func figure(text *string) (float64, bool) {
	if text == nil {
		return 0, false
	}
	v, err := strconv.ParseFloat(*text, 64)
	return v, err == nil
}

// limits is what the procedure wants of a reading.
func (w writer) limits(r labour.Reading) string {
	text := ""
	switch {
	case r.Min != nil && r.Max != nil:
		text = w.F("%s to %s %s", w.decimal(*r.Min), w.decimal(*r.Max), r.Unit)
	case r.Min != nil:
		text = w.F("at least %s %s", w.decimal(*r.Min), r.Unit)
	case r.Max != nil:
		text = w.F("at most %s %s", w.decimal(*r.Max), r.Unit)
	}
	if r.Wear != nil {
		text += w.F("; worn out at %s %s", w.decimal(*r.Wear), r.Unit)
	}
	return text
}
