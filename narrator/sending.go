package narrator

// Sending says how much of what this bay knows its shop has not got yet. Until the first one, no shop is joined.
type Sending struct {
	Joined  bool
	Events  int    // still to be sent
	Jobs    int    // to which they belong
	Notes   int    // spoken notes still to be sent
	Reached bool   // the shop answers
	Last    Moment // when it last did, zero for not since the program runs
}

func (Sending) input() {}

// sent answers whether everything is sent.
func (w wording) sent(s Sending) string {
	var text string
	switch {
	case !s.Joined:
		return w.F(replyNoShop)
	case s.Events == 0 && s.Notes == 0 && s.Last == 0:
		return w.F("The shop was not reached yet.")
	case s.Events == 0 && s.Notes == 0:
		return w.F(replyEverythingUp)
	case s.Events == 0:
		text = w.N(s.Notes, "%d note is not sent yet.", "%d notes are not sent yet.")
	case s.Notes == 0:
		text = w.N(s.Events, "%d event of %s is not sent yet.", "%d events of %s are not sent yet.", w.jobs(s.Jobs))
	default:
		text = w.F("%s of %s and %s are not sent yet.", w.N(s.Events, "%d event", "%d events"), w.jobs(s.Jobs), w.N(s.Notes, "%d note", "%d notes"))
	}
	switch {
	case s.Reached:
		return text
	case s.Last == 0:
		return text + " " + w.F("The shop was not reached yet.")
	}
	return text + " " + w.F("The shop was last reached at %s.", w.clock(s.Last))
}

func (w wording) jobs(n int) string { return w.N(max(1, n), "%d job", "%d jobs") }
