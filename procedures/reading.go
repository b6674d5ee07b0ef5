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
