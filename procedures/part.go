package procedures

// Part is a part or material of the job.
type Part struct {
	Name   string // with its count: 4 plug well seals
	Number string // the maker's part number, "" for none
	Core   bool   // the old one is kept: it is a core to send back
}

// String is the part's name, with its number where it has one.
func (p Part) String() string {
	if p.Number == "" {
		return p.Name
	}
	return p.Name + ", " + p.Number
}

// Fluid is a fluid that is drained, filled or topped up.
type Fluid struct {
	Name     string // as the ledger names it: coolant
	Spec     string // specification to fill by
	Capacity string // as written: 8.4 l
}

// Figure is a picture that helps with a step.
type Figure struct {
	File    string // relative to the procedure file, inside its folder
	Caption string // "" for none
}
