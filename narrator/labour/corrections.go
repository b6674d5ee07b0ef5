package labour

import (
	"fmt"
	"time"

	"stepcaller/narrator"
)

// Correction is what a technician wrote afterwards of a stretch of the job's time. The sheet's times are those after corrections.
type Correction struct {
	Number     int       `json:"number"` // in the order written, from 1
	From       Seconds   `json:"from_s"`
	To         Seconds   `json:"to_s"`
	As         string    `json:"as"`         // worked or paused
	Reason     string    `json:"reason"`     // of a pause, "" for time that was worked
	Why        string    `json:"why"`        // why it was corrected
	Technician string    `json:"technician"` // who wrote it
	MadeAt     time.Time `json:"made_at"`    // RFC 3339, UTC, rounded down to the millisecond
	Undone     bool      `json:"undone"`     // withdrawn by who wrote it
	Was        []Spell   `json:"was"`        // the same time as it was heard, before any correction, in order
	Event      int64     `json:"event"`      // its number in the job's log, by which it is withdrawn
}

// Spell is an unbroken stretch of time that was one thing.
type Spell struct {
	What   string  `json:"what"`   // worked, paused, unsure, gap
	Reason string  `json:"reason"` // of a pause, "" when nobody told
	From   Seconds `json:"from_s"`
	To     Seconds `json:"to_s"`
}

// Remark is what a technician wrote about a step, or about the whole job.
type Remark struct {
	Number     int       `json:"number"` // in the order written, from 1
	Step       string    `json:"step"`   // id, "" for the whole job
	Text       string    `json:"text"`
	Technician string    `json:"technician"` // who wrote it
	MadeAt     time.Time `json:"made_at"`    // RFC 3339, UTC, rounded down to the millisecond
	Undone     bool      `json:"undone"`     // withdrawn by who wrote it
	Event      int64     `json:"event"`      // its number in the job's log, by which it is withdrawn
}

func corrections(j *narrator.Job, now narrator.Moment) []Correction {
	all := []Correction{}
	for i, c := range j.Corrections() {
		row := Correction{Number: i + 1, From: secondsIn(c.From.Since(j.Start)), To: secondsIn(c.To.Since(j.Start)), As: string(c.What), Reason: c.Reason,
			Why: c.Why, Technician: c.Technician, MadeAt: c.Made.Time().Truncate(time.Millisecond), Undone: c.Undone, Was: []Spell{}, Event: c.Seq}
		for _, s := range j.AsHeard(now) {
			if s.From, s.To = max(s.From, c.From), min(s.To, c.To); s.From >= s.To {
				continue
			}
			from, to := secondsIn(s.From.Since(j.Start)), secondsIn(s.To.Since(j.Start))
			if n := len(row.Was); n > 0 && row.Was[n-1].What == string(s.What) && row.Was[n-1].Reason == s.Reason {
				row.Was[n-1].To = to
				continue
			}
			row.Was = append(row.Was, Spell{What: string(s.What), Reason: s.Reason, From: from, To: to})
		}
		all = append(all, row)
	}
	return all
}

func remarks(j *narrator.Job) []Remark {
	all := []Remark{}
	for i, r := range j.Remarks() {
		all = append(all, Remark{Number: i + 1, Step: r.Step, Text: r.Text, Technician: r.Technician, MadeAt: r.Made.Time().Truncate(time.Millisecond),
			Undone: r.Undone, Event: r.Seq})
	}
	return all
}

// written writes what was corrected, with what it was before, and what was remarked.
func (t *table) written(s Sheet) {
	for _, c := range s.Corrections {
		text := "worked"
		if c.As == string(narrator.Paused) {
			text = "paused, " + c.Reason
		}
		t.line("Correction %d, %s to %s %s, by %s: %s%s", c.Number, c.From.clock(), c.To.clock(), text, c.Technician, c.Why, withdrawn(c.Undone))
		for _, w := range c.Was {
			t.line("  heard as %s %s%s", w.What, (w.To - w.From).clock(), because(w.Reason))
		}
	}
	for _, r := range s.Remarks {
		about := ""
		if r.Step != "" {
			about = " on step " + r.Step
			for _, step := range s.Steps {
				if step.ID == r.Step {
					about = fmt.Sprintf(" on step %d", step.Number)
				}
			}
		}
		t.line("Remark %d%s, by %s: %s%s", r.Number, about, r.Technician, r.Text, withdrawn(r.Undone))
	}
}

func withdrawn(undone bool) string {
	if undone {
		return " (withdrawn)"
	}
	return ""
}
