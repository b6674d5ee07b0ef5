package main

import (
	"fmt"
	"math"
	"strings"

	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/labour/figures"
)

func (v dayView) draw(p *paper) {
	p.line("%s", v.Day)
	if len(v.Open) > 0 {
		p.line("Open now")
		p.jobs(v.Open)
	}
	switch {
	case len(v.Jobs) > 0:
		p.line("Finished")
		p.jobs(v.Jobs)
		p.totals(v.Totals)
	case len(v.Open) > 0:
		p.line("No job is finished yet.")
	default:
		p.line("No job was finished. `stepcaller review --history` lists all.")
	}
	if v.Productivity != nil {
		p.line("Productivity %.0f %%: %s worked by everybody of %.1f h attended.", 100**v.Productivity, tenths(v.Worked), v.Attended)
	}
	if len(v.Long) > 0 {
		p.line("")
		p.line("Ran long")
	}
	for _, s := range v.Long {
		p.line("  %s, step %d, %s: %s, %s beyond the usual", s.Job, s.Number, s.Title, stopwatch(s.Worked), stopwatch(s.Beyond))
		p.happened(s.Happened)
	}
}

func (v historyView) draw(p *paper) {
	if v.Total == 0 {
		p.line("No finished job is like that.")
		return
	}
	p.jobs(v.Jobs)
	switch {
	case v.More:
		p.line("%d of more than %d jobs; --offset and --limit show others, further words fewer.", len(v.Jobs), v.Total)
	case len(v.Jobs) < v.Total:
		p.line("%d of %d jobs; --offset and --limit show others.", len(v.Jobs), v.Total)
	}
	p.totals(archive.TotalOf(v.Jobs))
}

func (p *paper) totals(t archive.Totals) {
	text := fmt.Sprintf("Together %s worked against %s in the book", tenths(t.Worked), bookHours(t.BookHours))
	if t.Efficiency != nil {
		text += ", efficiency " + percent(t.Efficiency)
	}
	if t.Paused > 0 {
		text += ", " + tenths(t.Paused) + " paused"
	}
	if lost := t.Unsure + t.Gap; lost > 0 {
		text += ", " + tenths(lost) + " unaccounted for"
	}
	p.line("%s.", text)
}

// jobs draws a list of jobs: worked time as a bar, the book as a mark on the same scale.
func (p *paper) jobs(rows []archive.Row) {
	const width = 16
	scale := 0.0
	for _, r := range rows {
		scale = max(scale, r.Worked.Hours(), r.BookHours)
	}
	id := 13
	for _, r := range rows {
		id = max(id, len(r.Job)) // it names the bay where there are several
	}
	p.line("  %s  %s  %s %s %s %s", p.fit("Job", id), p.fit("Procedure", 18), p.fit("Technician", 11), right("Worked", 6), right("Book", 6), right("Eff.", 5))
	for _, r := range rows {
		who := strings.Join(r.Technicians, ", ")
		p.line("  %s  %s  %s %s %s %s  %s", p.fit(r.Job, id), p.fit(r.Title, 18), p.fit(who, 11), right(fmt.Sprintf("%.1f", r.Worked.Hours()), 6),
			right(strings.TrimSuffix(shownBook(r.BookHours), " h"), 6), right(strings.TrimSuffix(percent(r.Efficiency), " %"), 5),
			p.against(r.Worked.Hours(), r.BookHours, scale, width))
		for _, note := range noted(r) {
			p.line("%s%s", strings.Repeat(" ", id+4), note)
		}
	}
}

// against draws a bar with a mark where it should end.
func (p *paper) against(value, mark, scale float64, width int) string {
	bar := []rune(p.fit(p.bar(value, scale, width), width))
	if mark > 0 && scale > 0 {
		sign := '│'
		if p.plain {
			sign = '|'
		}
		bar[min(width-1, int(math.Round(float64(width)*mark/scale)))] = sign
	}
	return string(bar)
}

// noted tells what is out of the ordinary with a job.
func noted(r archive.Row) []string {
	var notes []string
	switch {
	case r.Why == figures.Comeback && r.Earlier != "":
		notes = append(notes, "comeback of "+r.Earlier)
	case r.Why != figures.IsSample:
		notes = append(notes, string(r.Why))
	}
	for _, c := range r.Comebacks {
		notes = append(notes, fmt.Sprintf("came back as %s, %s more", c.Job, tenths(c.Worked)))
	}
	if r.Corrected {
		notes = append(notes, "its times were corrected afterwards")
	}
	return notes
}
