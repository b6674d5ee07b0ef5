package narrator

import "stepcaller/procedures"

// foreseen are the words whose answers are worth having ready: those that are said most, and those whose answer does not
// depend on the time.
var foreseen = []procedures.Command{
	procedures.Next, procedures.Repeat, procedures.AskTorque, procedures.HoldJob, procedures.FinishJob, procedures.PreviousStep,
	procedures.AskCaution, procedures.AskTools, procedures.AskParts, procedures.WhatsLeft, procedures.Help, procedures.Louder,
	procedures.Quieter, procedures.StopListening, procedures.TakeReading, procedures.StartTimer, procedures.ToolsBack,
}

// Likely lists the sentences that the next word may ask for, likeliest first, by deciding on each word without applying the
// outcome.
func (b *Bay) Likely() []string {
	var at Moment
	if j := b.Job(); j != nil {
		at = later(j.Last(), j.Heard)
	}
	var texts []string
	seen := map[string]bool{}
	foresee := func(word string, sure bool) {
		for _, s := range Decide(b, Heard{Word: word, From: at, To: at, At: at, Score: 1, Sure: sure}).Sentences {
			if !seen[s.Text] {
				seen[s.Text] = true
				texts = append(texts, s.Text)
			}
		}
	}
	if q := b.Dialogue.Question; q.Kind != NoQuestion {
		for _, answer := range q.answers(b.Settings) {
			foresee(answer, true)
		}
	}
	for _, c := range b.ofTheMoment() {
		foresee(string(c), true)
	}
	for _, c := range foreseen {
		foresee(string(c), true)
	}
	for _, c := range foreseen[:3] {
		foresee(string(c), false)
	}
	return texts
}
