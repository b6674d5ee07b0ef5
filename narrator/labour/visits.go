package labour

import (
	"cmp"
	"slices"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// visits is what all visits to one step come to.
type visits struct {
	step           int // index in the procedure
	count          int
	started, ended narrator.Moment
	sum            narrator.Totals
}

// visitsOf gathers a job's visits by step, in the order of first visits. The steps' sums add up to the timeline's.
func visitsOf(j *narrator.Job, line []narrator.Stretch, end narrator.Moment) []visits {
	var all []visits
	at := func(step int, from narrator.Moment) *visits {
		i := slices.IndexFunc(all, func(v visits) bool { return v.step == step })
		if i < 0 {
			i, all = len(all), append(all, visits{step: step, started: from, ended: from})
		}
		return &all[i]
	}
	within := func(m narrator.Moment) narrator.Moment { return max(j.Start, min(m, end)) }
	if len(line) > 0 && line[0].Visit == 0 {
		at(line[0].Step, j.Start)
	}
	for i, a := range j.Arrivals {
		v := at(a.Step, within(a.At))
		v.count++
		v.ended = end
		if i+1 < len(j.Arrivals) {
			v.ended = within(j.Arrivals[i+1].At)
		}
	}
	for step, stretches := range byStep(line) {
		at(step, j.Start).sum = narrator.Sum(stretches)
	}
	return all
}

func byStep(line []narrator.Stretch) map[int][]narrator.Stretch {
	steps := map[int][]narrator.Stretch{}
	for _, s := range line {
		steps[s.Step] = append(steps[s.Step], s)
	}
	return steps
}

func steps(j *narrator.Job, visited []visits) []Step {
	all := []Step{}
	for _, v := range visited {
		step := &j.Procedure.Steps[v.step]
		row := Step{
			ID:           step.ID,
			Number:       v.step + 1,
			Title:        step.Heading(),
			Started:      secondsIn(v.started.Since(j.Start)),
			Ended:        secondsIn(v.ended.Since(j.Start)),
			Worked:       secondsIn(v.sum.Worked),
			Paused:       secondsIn(v.sum.Paused),
			Gap:          secondsIn(v.sum.Gap),
			Unsure:       secondsIn(v.sum.Unsure),
			Visits:       v.count,
			ExpectedFrom: NoBasis,
			Operations:   append([]string{}, step.Operations...),
		}
		if want, basis := expected(j.Procedure, v.step); basis != NoBasis {
			e, over := secondsIn(want), secondsIn(v.sum.Worked-want)
			row.Expected, row.ExpectedFrom, row.Over = &e, basis, &over
		}
		all = append(all, row)
	}
	return all
}

func expected(p *procedures.Procedure, step int) (narrator.Span, Basis) {
	minutes, basis := p.ExpectedMinutes(step)
	switch basis {
	case procedures.FromFile:
		return narrator.Minutes(minutes), FromFile
	case procedures.FromBook:
		return narrator.Minutes(minutes), FromBook
	}
	return 0, NoBasis
}

// furthestOver names the steps that were worked on for longer than expected, the furthest over first.
func furthestOver(j *narrator.Job, visited []visits) []string {
	over := func(v visits) narrator.Span {
		want, basis := expected(j.Procedure, v.step)
		if basis == NoBasis {
			return 0
		}
		return v.sum.Worked - want
	}
	late := slices.DeleteFunc(slices.Clone(visited), func(v visits) bool { return over(v) <= 0 })
	slices.SortStableFunc(late, func(a, b visits) int { return cmp.Compare(over(b), over(a)) })
	ids := []string{}
	for _, v := range late[:min(len(late), longestOver)] {
		ids = append(ids, j.Procedure.Steps[v.step].ID)
	}
	return ids
}
