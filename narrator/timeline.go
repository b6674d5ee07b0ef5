package narrator

import (
	"slices"
	"sort"
)

// Activity says what a stretch of a job's time was.
type Activity string

// What time can be. Every unit of a job's elapsed time is exactly one of these.
const (
	Working     Activity = "worked"
	Paused      Activity = "paused" // held, or told afterwards to have been away
	Unaccounted Activity = "unsure" // nobody has said whether it was worked
	NotRunning  Activity = "gap"    // the daemon was down, so nothing was heard
)

// Spell is a span of time that somebody, or a restart, declared to be something other than plain work. To is zero while it
// lasts. Of spells that overlap the one declared last counts, but a gap never turns paused time into gap.
type Spell struct {
	Seq    int64 // of the event that declared it
	What   Activity
	Reason string
	From   Moment
	To     Moment
}

func (s Spell) covers(m Moment) bool { return s.From <= m && (s.To == 0 || m < s.To) }

// Arrival is the moment from which a step is current.
type Arrival struct {
	Step int // index in the procedure
	At   Moment
	Back bool // reached by going back
	Shut bool // it was not to be done; so it is only where the job stood before a choice

	late bool // gone back to for what was approved late
}

// Stretch is a piece of a job's time in which neither the step nor the activity changes.
type Stretch struct {
	From, To Moment
	Step     int // index in the procedure
	Visit    int // 1 for the first arrival at any step, 2 for the second ...
	What     Activity
	Reason   string // of a pause; "" until told
}

// Length of the stretch.
func (s Stretch) Length() Span { return s.To.Since(s.From) }

// Timeline cuts the job's time, from its start to its end or to now when it is open, into stretches in order. They leave
// no hole and do not overlap, so their lengths sum to the elapsed time exactly.
//
// In an open job, silence of more than three times the step's expected time is unsure from the last word on: it becomes
// worked or paused only when somebody says so. Corrections lie over all of it.
func (j *Job) Timeline(now Moment) []Stretch { return j.timeline(now, j.corrected) }

// AsHeard is the timeline without corrections, as it was heard and told by voice.
func (j *Job) AsHeard(now Moment) []Stretch { return j.timeline(now, nil) }

func (j *Job) timeline(now Moment, corrected []Spell) []Stretch {
	end := j.End
	if end == 0 {
		end = later(now, j.Start)
	}
	spells := j.Spells
	if from, unsure := j.silence(end); j.End == 0 && unsure {
		spells = append([]Spell{{What: Unaccounted, From: from}}, spells...)
	}
	marks := []Moment{j.Start, end}
	mark := func(m Moment) {
		if j.Start < m && m < end {
			marks = append(marks, m)
		}
	}
	for _, a := range j.Arrivals {
		mark(a.At)
	}
	for _, s := range slices.Concat(spells, corrected) {
		mark(s.From)
		mark(s.To)
	}
	sort.Slice(marks, func(a, b int) bool { return marks[a] < marks[b] })

	var line []Stretch
	visit := 0
	for i := 0; i+1 < len(marks); i++ {
		from, to := marks[i], marks[i+1]
		if from == to {
			continue
		}
		for visit < len(j.Arrivals) && j.Arrivals[visit].At <= from {
			visit++
		}
		s := Stretch{From: from, To: to, Visit: visit, What: Working}
		if visit > 0 {
			s.Step = j.Arrivals[visit-1].Step
		}
		s.What, s.Reason = activityAt(spells, from)
		for _, c := range corrected {
			if c.covers(from) {
				s.What, s.Reason = c.What, c.Reason
			}
		}
		if n := len(line); n > 0 && line[n-1].Visit == s.Visit && line[n-1].What == s.What && line[n-1].Reason == s.Reason {
			line[n-1].To = to
			continue
		}
		line = append(line, s)
	}
	return line
}

func activityAt(spells []Spell, m Moment) (Activity, string) {
	gap := false
	for i := len(spells) - 1; i >= 0; i-- {
		s := spells[i]
		if !s.covers(m) {
			continue
		}
		if s.What == NotRunning {
			gap = true
			continue
		}
		if gap && s.What != Paused {
			break
		}
		return s.What, s.Reason
	}
	if gap {
		return NotRunning, ""
	}
	return Working, ""
}

// Totals are the sums of a timeline. Elapsed = Worked + Paused + Unsure + Gap, exactly.
type Totals struct {
	Elapsed, Worked, Paused, Unsure, Gap Span
}

// Sum adds up a timeline.
func Sum(line []Stretch) Totals {
	var t Totals
	for _, s := range line {
		n := s.Length()
		t.Elapsed += n
		switch s.What {
		case Working:
			t.Worked += n
		case Paused:
			t.Paused += n
		case Unaccounted:
			t.Unsure += n
		case NotRunning:
			t.Gap += n
		}
	}
	return t
}
