package labour

import "stepcaller/narrator"

// Stretch is a piece of the job's time in which neither the step nor what the time was changes. Stretches follow each other without a
// hole, so that a job can be drawn to scale.
type Stretch struct {
	Step   int     `json:"step"` // number in the procedure, from 1
	From   Seconds `json:"from_s"`
	To     Seconds `json:"to_s"`
	What   string  `json:"what"`   // worked, paused, unsure, gap
	Reason string  `json:"reason"` // of a pause, "unstated" where none was given; else ""
}

func timeline(j *narrator.Job, line []narrator.Stretch) []Stretch {
	all := make([]Stretch, 0, len(line))
	for _, s := range line {
		row := Stretch{Step: s.Step + 1, From: secondsIn(s.From.Since(j.Start)), To: secondsIn(s.To.Since(j.Start)), What: string(s.What), Reason: s.Reason}
		if s.What == narrator.Paused && s.Reason == "" {
			row.Reason = Unstated
		}
		all = append(all, row)
	}
	return all
}
