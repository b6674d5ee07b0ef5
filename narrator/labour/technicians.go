package labour

import (
	"cmp"
	"slices"

	"stepcaller/narrator"
)

// technicians gives everybody the worked time for which they were on the job, in the order of joining, and the sum.
func technicians(j *narrator.Job, line []narrator.Stretch) ([]Technician, Seconds) {
	all, sum := []Technician{}, narrator.Span(0)
	for i, shift := range j.Crew {
		same := func(s narrator.Shift) bool { return s.Technician == shift.Technician }
		if slices.IndexFunc(j.Crew, same) != i {
			continue
		}
		worked := workedIn(line, presence(j.Crew, same))
		sum += worked
		all = append(all, Technician{Name: shift.Technician, Worked: secondsIn(worked)})
	}
	return all, secondsIn(sum)
}

// PersonWorked is the worked time of everybody together on a job between two moments, as it is known now; where the job has no
// name on it, that of one.
func PersonWorked(j *narrator.Job, now, from, to narrator.Moment) Seconds {
	var line []narrator.Stretch
	for _, s := range j.Timeline(now) {
		if s.From, s.To = max(s.From, from), min(s.To, to); s.From < s.To {
			line = append(line, s)
		}
	}
	_, sum := technicians(j, line)
	return max(sum, secondsIn(narrator.Sum(line).Worked))
}

// presence joins one person's shifts, so that one who joined twice is counted once.
func presence(crew []narrator.Shift, who func(narrator.Shift) bool) []narrator.Shift {
	var own, joined []narrator.Shift
	for _, s := range crew {
		if who(s) {
			own = append(own, s)
		}
	}
	slices.SortFunc(own, func(a, b narrator.Shift) int { return cmp.Compare(a.From, b.From) })
	for _, s := range own {
		if n := len(joined); n > 0 && (joined[n-1].To == 0 || s.From <= joined[n-1].To) {
			if last := &joined[n-1]; s.To == 0 || last.To != 0 && s.To > last.To {
				last.To = s.To
			}
			continue
		}
		joined = append(joined, s)
	}
	return joined
}

// workedIn adds up the worked time that falls into shifts, which do not overlap.
func workedIn(line []narrator.Stretch, shifts []narrator.Shift) narrator.Span {
	var sum narrator.Span
	for _, s := range line {
		if s.What != narrator.Working {
			continue
		}
		for _, shift := range shifts {
			to := s.To
			if shift.To != 0 {
				to = min(to, shift.To)
			}
			sum += max(0, to.Since(max(s.From, shift.From)))
		}
	}
	return sum
}
