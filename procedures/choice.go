package procedures

// Choice is a question that only the vehicle, or its owner, answers: is the hose
// hard? A yes or no opens and shuts the steps that name it. It is asked once a job, when its
// first step is reached.
type Choice struct {
	ID       string
	Ask      string // the question as it is read aloud, ending in a question mark
	Approval bool   // extra work: a yes makes a finding, and the steps stay shut until somebody approves it
}

// Premise is one condition of a step: that a choice was answered so.
type Premise struct {
	Choice string // id
	No     bool   // the step is done where the answer is no
}

// Choice is the choice with this id, and false where there is none.
func (p *Procedure) Choice(id string) (Choice, bool) {
	for _, c := range p.Choices {
		if c.ID == id {
			return c, true
		}
	}
	return Choice{}, false
}

// Cover says that a part hides others: it may go back only when none of them is
// off, loose, open, plugged, stuffed or finger-tight.
type Cover struct {
	Part  string   // as the ledger names it
	Hides []string // likewise
}
