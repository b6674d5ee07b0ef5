package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/labour/figures"
	"stepcaller/narrator/labour/study"
)

// jobView is one job.
type jobView struct {
	figures.Review
	Title string       `json:"title"` // of the procedure
	Sheet labour.Sheet `json:"sheet"`
}

func reviewJob(ctx context.Context, store journal.Store, a *archive.Archive, id string) (drawn, error) {
	job, err := a.Job(ctx, id)
	if errors.Is(err, journal.ErrNoJob) {
		return nil, usage("no job %s; `stepcaller jobs` lists them", id)
	}
	if err != nil {
		return nil, err
	}
	now, err := lastSign(ctx, store, job)
	if err != nil {
		return nil, err
	}
	sheet := labour.Of(job, now)
	review, err := a.Review(ctx, sheet)
	return jobView{review, job.Procedure.Title, sheet}, err
}

func (v jobView) draw(p *paper) {
	s := v.Sheet
	p.line("Job %s, %s: %s", s.Job, s.State, v.Title)
	head := []string{s.StartedAt.Local().Format("2 January 2006 15:04")}
	for _, t := range s.Technicians {
		head = append(head, t.Name)
	}
	if s.Order != "" {
		head = append(head, "work order "+s.Order)
	}
	p.line("%s", strings.Join(head, ", "))
	p.line("Worked %s (%s) against %s in the book, efficiency %s.", tenths(s.Worked), stopwatch(v.Worked), bookHours(s.BookHours), percent(s.Efficiency))
	p.line("%s", usual(v.Next, v.Count))
	if v.Long {
		p.line("The job ran long, %s beyond that.", stopwatch(v.Beyond))
	}
	if v.Why != figures.IsSample {
		p.line("Nothing is learnt from it: %s.", v.Why)
	}
	if v.Comebacks > 0 {
		p.line("It came back: %s more.", stopwatch(v.Comebacks))
	}
	p.line("")
	p.stepsOf(v.Review)
	p.line("")
	p.line("%c is the expected time: of the file, else the median of other jobs (learnt), else a share of the book hours.", p.mark())
	p.line("Usual is where 8 of 10 next times lie, by the other jobs of the procedure, where at least %d tell.", study.Least)
	p.line("Long is what lies beyond it by more than %.0f minutes.", figures.Floor)
}

func (p *paper) mark() rune {
	if p.plain {
		return '|'
	}
	return '│'
}

// usual says where the next time lies.
func usual(i *study.Interval, count int) string {
	if i == nil {
		return fmt.Sprintf("Too few other jobs tell how long it usually takes: %d, it takes %d.", count, study.Least)
	}
	return fmt.Sprintf("Usually %s to %s, 8 times of 10, by %s.", inHours(i.Low), inHours(i.High), plural(i.Count, "other job"))
}

func (p *paper) stepsOf(r figures.Review) {
	const width = 16
	scale := 0.0
	for _, s := range r.Steps {
		scale = max(scale, s.Worked, s.Expected.Minutes)
	}
	p.line(" No  %s %s %s  %s", p.fit("Step", 22), right("Worked", 7), right("Expected", 14), right("Usual", 13))
	for _, s := range r.Steps {
		expected := "-"
		if s.Expected.Basis != figures.NoBasis {
			expected = stopwatch(s.Expected.Minutes) + " " + p.fit(string(s.Expected.Basis), 6)
		}
		usually := "-"
		if s.Next != nil {
			usually = stopwatch(s.Next.Low) + "-" + stopwatch(s.Next.High)
		}
		p.line("%3d  %s %s %s  %s  %s", s.Number, p.fit(s.Title, 22), right(stopwatch(s.Worked), 7), right(expected, 14), right(usually, 13),
			p.against(s.Worked, s.Expected.Minutes, scale, width))
		if s.Long {
			p.line("     LONG by %s", stopwatch(s.Beyond))
		}
		p.happened(s.Happened)
	}
}

// happened lists what took place in a step.
func (p *paper) happened(all []figures.Happening) {
	for _, h := range all {
		text := fmt.Sprintf("%s %s", stopwatch(inMinutes(h.At)), h.What)
		switch h.What {
		case figures.Paused, figures.NotAccounted, figures.Waited, figures.Corrected:
			text += fmt.Sprintf(" %s, %s", stopwatch(inMinutes(h.Length)), h.Text)
		case figures.Noted:
			text += " " + h.File
		case figures.Found:
			text += fmt.Sprintf(" %d, %s", h.Finding, h.Text)
		case figures.OutOfLimits:
			text += fmt.Sprintf(": %s, %s", h.Text, h.Value)
		case figures.Remarked:
			text += ": " + h.Text
		}
		p.line("       %s", text)
	}
}
