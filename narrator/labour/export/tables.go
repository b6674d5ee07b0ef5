package export

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"stepcaller/narrator/labour"
)

// tableOf is one table: its columns behind the job's id, and the rows that a sheet has in it. Moments count from the job's start.
type tableOf struct {
	name, columns string
	rows          func(s labour.Sheet, row func(cells ...any))
}

var tables = []tableOf{
	{"jobs", "order procedure state kind earlier_job draft started_at_utc odometer elapsed_s worked_s paused_s unsure_s gap_s person_worked_s worked_h " +
		"book_h overlap_h efficiency tools_counted_s tools_all_back",
		func(s labour.Sheet, row func(...any)) {
			row(s.Order, s.Procedure, s.State, s.Kind, s.Earlier, s.Draft, s.StartedAt, s.Odometer, s.Elapsed, s.Worked, s.Paused, s.Unsure, s.Gap,
				s.PersonWorked, s.WorkedHours, s.BookHours, s.OverlapHours, s.Efficiency, s.Tools.Counted, s.Tools.Back)
		}},
	{"technicians", "technician worked_s", each(func(s labour.Sheet) []labour.Technician { return s.Technicians },
		func(t labour.Technician) []any { return []any{t.Name, t.Worked} })},
	{"bays", "bay from_s to_s worked_s", each(func(s labour.Sheet) []labour.Bay { return s.Bays },
		func(b labour.Bay) []any { return []any{b.Bay, b.From, b.To, b.Worked} })},
	{"operations", "code title book_h diagnosis worked_s shared_s", each(func(s labour.Sheet) []labour.Operation { return s.Operations },
		func(o labour.Operation) []any {
			return []any{o.Code, o.Title, o.Hours, o.Diagnosis, o.Worked, o.Shared}
		})},
	{"steps", "number step title started_s ended_s worked_s paused_s unsure_s gap_s visits expected_s expected_from over_s",
		each(func(s labour.Sheet) []labour.Step { return s.Steps }, func(r labour.Step) []any {
			return []any{r.Number, r.ID, r.Title, r.Started, r.Ended, r.Worked, r.Paused, r.Unsure, r.Gap, r.Visits, r.Expected, r.ExpectedFrom, r.Over}
		})},
	{"stretches", "step_number from_s to_s what reason", each(func(s labour.Sheet) []labour.Stretch { return s.Timeline },
		func(r labour.Stretch) []any { return []any{r.Step, r.From, r.To, r.What, r.Reason} })},
	{"pauses", "reason from_s to_s", each(func(s labour.Sheet) []labour.Pause { return s.Pauses },
		func(p labour.Pause) []any { return []any{p.Reason, p.From, p.To} })},
	{"corrections", "number from_s to_s as reason why technician made_at_utc withdrawn", each(func(s labour.Sheet) []labour.Correction { return s.Corrections },
		func(c labour.Correction) []any {
			return []any{c.Number, c.From, c.To, c.As, c.Reason, c.Why, c.Technician, c.MadeAt, c.Undone}
		})},
	{"corrected", "correction_number from_s to_s was reason", func(s labour.Sheet, row func(...any)) {
		for _, c := range s.Corrections {
			for _, w := range c.Was {
				row(c.Number, w.From, w.To, w.What, w.Reason)
			}
		}
	}},
	{"remarks", "number step text technician made_at_utc withdrawn", each(func(s labour.Sheet) []labour.Remark { return s.Remarks },
		func(r labour.Remark) []any { return []any{r.Number, r.Step, r.Text, r.Technician, r.MadeAt, r.Undone} })},
	{"torques", "step fastener torque_nm at_s taken_back", each(func(s labour.Sheet) []labour.Torque { return s.Torques },
		func(t labour.Torque) []any { return []any{t.Step, t.Fastener, t.Value, t.At, t.Undone} })},
	{"tightenings", "step fastener number position stage stage_name torque_as_written torque_nm wrench at_s",
		each(func(s labour.Sheet) []labour.Tightening { return s.Tightenings }, func(t labour.Tightening) []any {
			return []any{t.Step, t.Fastener, t.Number, t.Position, t.Stage, t.StageName, t.Written, t.Value, t.Wrench, t.At}
		})},
	{"readings", "step reading position when amount unit min max wear judged amount_before at_s", each(func(s labour.Sheet) []labour.Reading { return s.Readings },
		func(r labour.Reading) []any {
			return []any{r.Step, r.Name, r.Position, r.When, r.Amount, r.Unit, r.Min, r.Max, r.Wear, r.Judged, r.Before, r.At}
		})},
	{"findings", "number step choice reading position state by found_s asked_s ruled_s waited_s paused_s", each(func(s labour.Sheet) []labour.Finding { return s.Findings },
		func(f labour.Finding) []any {
			return []any{f.Number, f.Step, f.Choice, f.Reading, f.Position, f.State, f.By, f.Found, f.Asked, f.Ruled, f.Waited, f.Paused}
		})},
	{"memos", "file at_s length_s finding_number taken_back", each(func(s labour.Sheet) []labour.Memo { return s.Memos },
		func(m labour.Memo) []any { return []any{m.File, m.At, m.Length, m.Finding, m.Undone} })},
	{"parts", "step part number core", each(func(s labour.Sheet) []labour.Part { return s.Parts },
		func(p labour.Part) []any { return []any{p.Step, p.Part, p.Number, p.Core} })},
	{"facts", "field value", each(func(s labour.Sheet) []labour.Fact { return s.Facts }, func(f labour.Fact) []any { return []any{f.Field, f.Value} })},
	{"timers", "step timer length_s started_s rang_s", each(func(s labour.Sheet) []labour.Timer { return s.Timers },
		func(t labour.Timer) []any { return []any{t.Step, t.Name, t.Length, t.Started, t.Rang} })},
	{"choices", "choice question yes at_s", each(func(s labour.Sheet) []labour.Choice { return s.Choices },
		func(c labour.Choice) []any { return []any{c.Choice, c.Ask, c.Yes, c.At} })},
	{"answers", "step caution word at_s", each(func(s labour.Sheet) []labour.Answer { return s.Answers },
		func(a labour.Answer) []any { return []any{a.Step, a.Caution, a.Word, a.At} })},
	{"put_right", "item state reason at_s", each(func(s labour.Sheet) []labour.PutRight { return s.PutRight },
		func(p labour.PutRight) []any { return []any{p.Item, p.State, p.Reason, p.At} })},
	{"left", "item state step reason", each(func(s labour.Sheet) []labour.Item { return s.Open },
		func(i labour.Item) []any { return []any{i.Item, i.State, i.Step, i.Reason} })},
	{"dictated", "part number value step_number at_s worked_s", each(func(s labour.Sheet) []labour.Dictated { return s.Dictated },
		func(d labour.Dictated) []any { return []any{d.Part, d.Number, d.Value, d.Step, d.At, d.Worked} })},
	{"hearing", "at_s verdict cause floor_dbfs speech_dbfs snr_db clipped", each(func(s labour.Sheet) []labour.Hearing { return s.Hearing },
		func(h labour.Hearing) []any {
			return []any{h.At, h.Verdict, h.Cause, h.Floor, h.Speech, h.SNR, h.Clipped}
		})},
}

// each makes a row of every entry of a list.
func each[T any](list func(labour.Sheet) []T, cells func(T) []any) func(labour.Sheet, func(...any)) {
	return func(s labour.Sheet, row func(...any)) {
		for _, entry := range list(s) {
			row(cells(entry)...)
		}
	}
}

// plainText keeps a text from being taken for a formula by a spreadsheet: where it begins with =, +, -, @, a tab or a return it has an
// apostrophe before it (OWASP, "CSV Injection"; from memory). A text that is a number stays as it is.
func plainText(s string) string {
	if s == "" || !strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return s
	}
	if _, err := strconv.ParseFloat(s, 64); err == nil {
		return s
	}
	return "'" + s
}

// cell writes a value: texts by plainText, seconds to the millisecond, other numbers as short as they are exact, moments as RFC 3339 in UTC, nothing for null.
func cell(v any) string {
	switch v := v.(type) {
	case labour.Seconds:
		return strconv.FormatFloat(float64(v), 'f', 3, 64)
	case *labour.Seconds:
		if v == nil {
			return ""
		}
		return cell(*v)
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	case *float64:
		if v == nil {
			return ""
		}
		return cell(*v)
	case *string:
		if v == nil {
			return ""
		}
		return plainText(*v)
	case time.Time:
		return v.UTC().Format(time.RFC3339Nano)
	}
	return plainText(fmt.Sprint(v))
}
