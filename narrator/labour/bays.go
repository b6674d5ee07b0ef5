package labour

import "stepcaller/narrator"

// Bay is the time for which a bay had a job that changed bay.
type Bay struct {
	Bay    string   `json:"bay"` // "" for the bay whose journal this is, until another has taken the job over
	From   Seconds  `json:"from_s"`
	To     *Seconds `json:"to_s"` // null while it has the job
	Worked Seconds  `json:"worked_s"`
}

// bays tells who worked where, in order; none for a job that stayed where it began. The worked times add up to the job's, but for corrections
// of the time between two bays.
func bays(j *narrator.Job, line []narrator.Stretch) []Bay {
	var all []Bay
	for _, s := range j.Stays {
		row := Bay{Bay: s.Bay, From: secondsIn(s.From.Since(j.Start)), Worked: secondsIn(workedIn(line, []narrator.Shift{{From: s.From, To: s.To}}))}
		if s.To != 0 {
			to := secondsIn(s.To.Since(j.Start))
			row.To = &to
		}
		all = append(all, row)
	}
	return all
}

func (b Bay) name() string {
	if b.Bay == "" {
		return "this bay"
	}
	return "bay " + b.Bay
}
