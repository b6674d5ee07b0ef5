package labour

import "stepcaller/narrator"

// StepSums are the exact sums of the sheet's steps, in its order.
func StepSums(j *narrator.Job, now narrator.Moment) []narrator.Totals {
	line := j.Timeline(now)
	var sums []narrator.Totals
	for _, v := range visitsOf(j, line, j.Start.Add(narrator.Sum(line).Elapsed)) {
		sums = append(sums, v.sum)
	}
	return sums
}
