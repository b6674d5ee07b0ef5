package procedures

import "github.com/shopspring/decimal"

// Reading is a figure that a step asks the technician to take.
type Reading struct {
	Name       string           // rotor thickness
	Unit       string           // as written: mm, bar, V, °C, lbf·ft, "" for a bare number
	Min, Max   *decimal.Decimal // inside is good, both ends included; nil for no limit
	Wear       *decimal.Decimal // the limit at which the part is scrap, beyond Min or Max; nil for none
	Positions  []string         // where it is taken, one after the other; nil for one place
	Difference bool             // a rise or fall, not a level: 36 °F of it are 20 °C
	When       string           // "before" or "after" the repair, "" for neither; a pair by Name is compared
}

// Judgement is what a reading's limits say of a figure. The names are stored.
type Judgement string

// The judgements.
const (
	Unjudged Judgement = ""       // there are no limits
	Inside   Judgement = "inside" // at a limit is inside
	Below    Judgement = "below"
	Above    Judgement = "above"
	WornOut  Judgement = "worn" // at the wear limit or beyond it
)

// Judge compares a figure with the limits, exactly.
func (r *Reading) Judge(v decimal.Decimal) Judgement {
	low := r.Wear != nil && r.Min != nil && r.Wear.LessThanOrEqual(*r.Min) // wear makes it less
	high := r.Wear != nil && !low && r.Max != nil && r.Wear.GreaterThanOrEqual(*r.Max)
	switch {
	case low && v.LessThanOrEqual(*r.Wear), high && v.GreaterThanOrEqual(*r.Wear):
		return WornOut
	case r.Min != nil && v.LessThan(*r.Min):
		return Below
	case r.Max != nil && v.GreaterThan(*r.Max):
		return Above
	case r.Min == nil && r.Max == nil:
		return Unjudged
	default:
		return Inside
	}
}

// SayUnit is a written unit in words, in the plural: "millimetres". A unit that has no words is itself.
func SayUnit(unit string) string {
	if m, ok := measureOf(unit); ok {
		return m.many
	}
	return unit
}
