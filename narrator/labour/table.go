package labour

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// titleWidth is how much of a step's title a table shows, so that a row fits a terminal of 80 columns.
const titleWidth = 34

// WriteTable writes a sheet for a person: times as m:ss, hours in tenths. Moments of the day are in the local zone.
func WriteTable(w io.Writer, s Sheet) error {
	var t table
	t.head(s)
	t.steps(s)
	t.totals(s)
	t.notes(s)
	t.record(s)
	t.written(s)
	if _, err := io.WriteString(w, t.String()); err != nil {
		return fmt.Errorf("write labour table of job %s: %w", s.Job, err)
	}
	return nil
}

type table struct{ strings.Builder }

func (t *table) line(format string, args ...any) { fmt.Fprintf(t, format+"\n", args...) }

func (t *table) head(s Sheet) {
	t.line("Job %s, %s: %s", s.Job, s.State, s.Procedure)
	t.line("Started %s", s.StartedAt.Local().Format("2 January 2006 15:04"))
	if s.Order != "" {
		t.line("Work order %s", s.Order)
	}
	if s.Odometer != "" {
		t.line("Odometer %s", s.Odometer)
	}
	t.facts(s)
	t.line("")
}

func (t *table) row(number, title, worked, expected, over, paused string) {
	pad := strings.Repeat(" ", max(0, titleWidth-utf8.RuneCountInString(title)))
	t.line("%s", strings.TrimRight(fmt.Sprintf("%4s  %s%s %8s %8s %8s %8s", number, title, pad, worked, expected, over, paused), " "))
}

func (t *table) steps(s Sheet) {
	t.row("Step", "", "Worked", "Expected", "Over", "Paused")
	var share bool
	for _, step := range s.Steps {
		expected, over := "-", "-"
		if step.Expected != nil {
			expected, over = step.Expected.clock(), signed(*step.Over)
		}
		if step.ExpectedFrom == FromBook {
			expected, share = "~"+expected, true
		}
		title := step.Title
		if step.Visits > 1 {
			title = fmt.Sprintf("(%d visits) %s", step.Visits, title)
		}
		if s.State == Open && step.Ended == s.Elapsed {
			title = "(now) " + title
			if step.Over != nil && *step.Over < 0 {
				over = "" // it is not done, so nothing is saved yet
			}
		}
		t.row(fmt.Sprint(step.Number), shorten(title), step.Worked.clock(), expected, over, blank(step.Paused))
	}
	t.row("", "All steps", s.Worked.clock(), "", "", blank(s.Paused))
	if share {
		t.line("~ no time is given for the step: a share of the book time")
	}
	t.line("")
}

func (t *table) totals(s Sheet) {
	book := fmt.Sprintf("%.1f", s.BookHours)
	if fine := fmt.Sprintf("%.2f", s.BookHours); !strings.HasSuffix(fine, "0") {
		book = fine
	}
	if len(s.Operations) == 0 {
		t.line("Worked %.1f h (%s); no hours are booked", s.WorkedHours, s.Worked.clock())
	} else {
		t.line("Worked %.1f h (%s) against %s h in the book", s.WorkedHours, s.Worked.clock(), book)
	}
	if s.State == Finished && s.Efficiency != nil {
		t.line("Efficiency %.1f %%", 100**s.Efficiency)
	}
	for _, o := range s.Operations {
		text := fmt.Sprintf("  %s  %s  %.2f h", o.Code, o.Title, o.Hours)
		if o.Diagnosis {
			text += ", diagnosis"
		}
		if len(s.Operations) > 1 && o.Worked > 0 {
			text += ", worked " + o.Worked.clock() + " on it alone"
		}
		t.line("%s", text)
	}
	if s.OverlapHours > 0 {
		t.line("  less overlap  %.2f h", s.OverlapHours)
	}
	end := "end"
	if s.State == Open {
		end = "now"
	}
	t.line("From start to %s %s", end, s.Elapsed.clock())
	for _, p := range s.Technicians {
		t.line("  %s worked %s", p.Name, p.Worked.clock())
	}
	for _, b := range s.Bays {
		t.line("  %s worked %s", b.name(), b.Worked.clock())
	}
	if len(s.Technicians) > 1 {
		t.line("  together %s", s.PersonWorked.clock())
	}
}

func (t *table) notes(s Sheet) {
	if len(s.PausesByReason) > 0 {
		t.line("Paused %s", s.Paused.clock())
		for _, p := range s.PausesByReason {
			t.line("  %s %s%s", p.Reason, p.Paused.clock(), times(p.Times))
		}
	}
	if s.Unsure > 0 {
		t.line("Unsure %s: nobody has said whether this was worked; it is not counted", s.Unsure.clock())
	}
	if s.Gap > 0 {
		t.line("Gap %s: the program did not run, so nothing was heard; it is not counted", s.Gap.clock())
	}
	if len(s.LongestOver) > 0 {
		t.line("Longest over the expected time:")
	}
	for _, id := range s.LongestOver {
		for _, step := range s.Steps {
			if step.ID == id {
				t.line("  step %d, %s: %s", step.Number, shorten(step.Title), signed(*step.Over))
			}
		}
	}
	for _, m := range s.Memos {
		if !m.Undone {
			t.line("Note at %s, %s long: %s", m.At.clock(), m.Length.clock(), m.File)
		}
	}
}

func times(n int) string {
	if n == 1 {
		return ""
	}
	return fmt.Sprintf(", %d times", n)
}

func blank(s Seconds) string {
	if s == 0 {
		return ""
	}
	return s.clock()
}

func signed(s Seconds) string {
	if text := s.clock(); s < 0 || text == "0:00" {
		return text
	}
	return "+" + s.clock()
}

func shorten(title string) string {
	r := []rune(title)
	if len(r) <= titleWidth {
		return title
	}
	return strings.TrimRight(string(r[:titleWidth-1]), " ") + "…"
}
