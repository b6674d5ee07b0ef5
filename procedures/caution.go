package procedures

// Caution is a warning that is read before its step.
type Caution struct {
	Name   string  // of the entry in StandardCautions that it stands for, "" for its own words
	Say    string  // what is read aloud; never empty
	Answer Command // what must be said before the step goes on, "" where nothing need be
	Wait   float64 // minutes to wait first, by the maker's service data; 0 for none
}

// String is what is read aloud.
func (c Caution) String() string { return c.Say }

// StandardCaution is an entry of the table that procedures refer to by name.
type StandardCaution struct {
	Name   string
	Say    string
	Answer Command // "" where it need not be answered
	Waits  bool    // the maker gives a number of minutes to wait, and the procedure must too
}
