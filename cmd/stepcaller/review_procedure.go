package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"stepcaller/narrator/labour/figures"
	"stepcaller/narrator/labour/study"
)

// shownLong is how many steps that ran long, and how many by share, are shown.
const shownLong = 10

func (v procedureView) draw(p *paper) {
	f := v.Figures
	p.line("%s, %s (%s)", f.Title, f.Machine, f.Procedure)
	text := fmt.Sprintf("%s finished, %d of them to learn from", plural(f.Jobs, "job"), f.Whole.Count)
	for _, w := range f.Passed {
		text += fmt.Sprintf("; %d %s", w.Jobs, w.Why)
	}
	p.line("%s.", text)
	if f.Latest < f.Jobs {
		p.line("Times are those of the latest %d of %d jobs; costs, comebacks and efficiency are those of all.", f.Latest, f.Jobs)
	}
	if f.Editions > 1 {
		p.line("The file had %d editions; steps are told apart by their ids.", f.Editions)
	}
	p.whole(f)
	p.line("")
	p.distributions(f)
	p.line("")
	p.shares(f)
	p.ranLong(f)
	p.learner(f, v.whose)
}

func (p *paper) whole(f *figures.Figures) {
	w := f.Whole
	if w.Count == 0 {
		p.line("Book %s.", bookHours(f.BookHours))
		return
	}
	p.line("Book %s. Half of the jobs take less than %s, the middle half %s to %s; efficiency %s.", bookHours(f.BookHours), inHours(w.Median), inHours(w.Lower), inHours(w.Upper),
		percent(w.Efficiency))
	if w.Next == nil {
		p.line("That is too few to say more; it takes %d.", study.Least)
		return
	}
	p.line("The next takes %s to %s, 8 times of 10.", inHours(w.Next.Low), inHours(w.Next.High))
	p.line("Quote %.1f h to take less %.0f times of 10; the book is beaten with a chance of %s.", w.Quote.Hours, 10*w.Quote.Chance, percent(w.BeatBook))
	enough := "that is enough"
	if w.Enough.More > 0 {
		enough = fmt.Sprintf("%d more to time", w.Enough.More)
	}
	p.line("For a mean that is %.0f %% off at most, %.0f times of 100: %d jobs by the ILO's form, %d by Niebel's; %s.", 100*w.Enough.Margin, 100*w.Enough.Confidence, w.Enough.ILO,
		w.Enough.Niebel, enough)
	if c := f.Cost; c.CameBack > 0 {
		p.line("%d of %d jobs came back; with that a job cost %.2f h of everybody, without it %.2f h.", c.CameBack, c.Jobs, c.PerJob, c.Hours/float64(c.Jobs))
	}
}

// distributions draws each step: where 8 of 10 next times lie, with the median.
func (p *paper) distributions(f *figures.Figures) {
	const width = 20
	scale := 0.0
	for _, s := range f.Steps {
		if s.Next != nil {
			scale = max(scale, s.Next.High)
		}
	}
	p.line(" No  %s %s %s %s %s  %s", p.fit("Step", 22), right("Times", 5), right("Median", 7), right("Expected", 14), right("Long", 4), "8 of 10")
	for _, s := range f.Steps {
		median, expected, drawing := "-", "-", ""
		if s.Count > 0 {
			median = stopwatch(s.Median)
		}
		if s.Expected.Basis != figures.NoBasis {
			expected = stopwatch(s.Expected.Minutes) + " " + p.fit(string(s.Expected.Basis), 6)
		}
		if s.Next != nil {
			drawing = p.spread(s.Next.Low, s.Median, s.Next.High, scale, width)
		}
		long := ""
		if s.RanLong > 0 {
			long = fmt.Sprint(s.RanLong)
		}
		p.line("%3d  %s %s %s %s %s  %s", s.Number, p.fit(s.Title, 22), right(fmt.Sprint(s.Count), 5), right(median, 7), right(expected, 14), right(long, 4), drawing)
	}
	if scale > 0 {
		p.line("%s0 to %s", strings.Repeat(" ", 61), stopwatch(scale))
	}
}

func (p *paper) shares(f *figures.Figures) {
	steps := slices.Clone(f.Steps)
	slices.SortFunc(steps, func(a, b figures.Step) int { return cmp.Compare(a.Rank, b.Rank) })
	if len(steps) == 0 || steps[0].Share == 0 {
		return
	}
	p.line("Where the time goes")
	for _, s := range steps[:min(len(steps), shownLong)] {
		if s.Share == 0 {
			break
		}
		p.line("%3d  %s %s %s  %s", s.Number, p.fit(s.Title, 22), right(fmt.Sprintf("%.1f %%", 100*s.Share), 7), right(fmt.Sprintf("with all above %.0f %%", 100*s.Cumulated), 21),
			p.bar(s.Share, steps[0].Share, 20))
	}
}

func (p *paper) ranLong(f *figures.Figures) {
	if len(f.Long) == 0 {
		return
	}
	p.line("")
	p.line("Ran long, the newest first (beyond the 8 of 10 of the other jobs by more than %.0f minutes)", f.Floor)
	for _, l := range f.Long[:min(len(f.Long), shownLong)] {
		var what []string
		for _, w := range l.What.Each() {
			what = append(what, string(w))
		}
		p.line("  %s  %s %s, %s beyond  %s", p.fit(f.Runs[l.Run].Job, 13), p.fit(fmt.Sprintf("step %d, %s", f.Steps[l.Step].Number, f.Steps[l.Step].Title), 30),
			right(stopwatch(l.Minutes), 6), stopwatch(l.Beyond), strings.Join(what, ", "))
	}
}

// learner shows one technician's learning, who has to be named: nobody is put beside another.
func (p *paper) learner(f *figures.Figures, whose string) {
	if len(f.Learners) == 0 {
		return
	}
	p.line("")
	i := slices.IndexFunc(f.Learners, func(l figures.Learner) bool { return l.Technician == whose })
	if i < 0 {
		p.line("Learning is shown for one technician: --technician NAME")
		return
	}
	l := f.Learners[i]
	runs := plural(len(l.Runs), "run")
	switch {
	case l.Curve == nil:
		p.line("Learning of %s, %s: %d runs are needed", l.Technician, runs, study.Least)
	case l.Doubt != "":
		p.line("Learning of %s, %s: %s", l.Technician, runs, l.Doubt)
	default:
		p.line("Learning of %s, %s: %.0f %% of the time remain with each doubling (%.0f to %.0f %%), fit %.2f of 1", l.Technician, runs, 100*l.Curve.Rate, 100*l.Curve.Low,
			100*l.Curve.High, l.Curve.R2)
	}
}
