package labour

import (
	"cmp"
	"math"
	"slices"
	"time"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// longestOver is how many steps are named as having run over.
const longestOver = 5

// Of draws up the sheet of a job as it stands now. A finished job's sheet is the same for every now.
func Of(j *narrator.Job, now narrator.Moment) Sheet {
	line := j.Timeline(now)
	sum := narrator.Sum(line)
	p := j.Procedure
	s := Sheet{
		Schema:       Schema,
		Job:          j.ID,
		Procedure:    p.ID,
		State:        Finished,
		BookHours:    hours(p.BookHours()),
		Elapsed:      secondsIn(sum.Elapsed),
		Worked:       secondsIn(sum.Worked),
		Paused:       secondsIn(sum.Paused),
		Unsure:       secondsIn(sum.Unsure),
		Gap:          secondsIn(sum.Gap),
		Order:        j.Order,
		Odometer:     j.Odometer,
		OverlapHours: hours(p.Overlap),
		Efficiency:   efficiency(p.BookHours(), sum.Worked),
		StartedAt:    j.Start.Time().Truncate(time.Millisecond),
	}
	if j.Open() {
		s.State = Open
	}
	tenths := procedures.TenthsIn(sum.Worked.Duration())
	s.WorkedTenths, s.WorkedHours = int64(tenths), float64(tenths)/10

	visited := visitsOf(j, line, j.Start.Add(sum.Elapsed))
	s.Steps, s.LongestOver = steps(j, visited), furthestOver(j, visited)
	s.Pauses, s.PausesByReason = pauses(j, line)
	s.Timeline = timeline(j, line)
	s.Bays = bays(j, line)
	s.Technicians, s.PersonWorked = technicians(j, line)
	s.Torques, s.Memos, s.Operations, s.Hearing = torques(j), memos(j), operations(p, visited), hearing(j)
	s.Corrections, s.Remarks = corrections(j, j.Start.Add(sum.Elapsed)), remarks(j)
	s.Record = recorded(j, line, j.Start.Add(sum.Elapsed))
	return s
}

func hours(h procedures.Hours) float64 { return float64(h) / 100 }

// efficiency is book time over worked time to 3 decimals, nil when nothing was worked or no book time is known (common practice).
func efficiency(book procedures.Hours, worked narrator.Span) *float64 {
	if worked <= 0 || book <= 0 {
		return nil
	}
	e := math.Round(1000*float64(narrator.SpanOf(book.Duration()))/float64(worked)) / 1000
	return &e
}

// pauses lists the spells of paused time: stretches that touch and have one reason are one spell, whatever step they
// belong to.
func pauses(j *narrator.Job, line []narrator.Stretch) ([]Pause, []Standstill) {
	var spells []narrator.Stretch
	for _, s := range line {
		if s.What != narrator.Paused {
			continue
		}
		s.Reason = cmp.Or(s.Reason, Unstated)
		if n := len(spells); n > 0 && spells[n-1].To == s.From && spells[n-1].Reason == s.Reason {
			spells[n-1].To = s.To
			continue
		}
		spells = append(spells, s)
	}
	all, sums, times := []Pause{}, map[string]narrator.Span{}, map[string]int{}
	for _, s := range spells {
		all = append(all, Pause{Reason: s.Reason, From: secondsIn(s.From.Since(j.Start)), To: secondsIn(s.To.Since(j.Start))})
		sums[s.Reason] += s.Length()
		times[s.Reason]++
	}
	reasons := []Standstill{}
	for reason, sum := range sums {
		reasons = append(reasons, Standstill{Reason: reason, Paused: secondsIn(sum), Times: times[reason]})
	}
	slices.SortFunc(reasons, func(a, b Standstill) int {
		return cmp.Or(cmp.Compare(b.Paused, a.Paused), cmp.Compare(a.Reason, b.Reason))
	})
	return all, reasons
}

func torques(j *narrator.Job) []Torque {
	all := []Torque{}
	for _, c := range j.Calls() {
		all = append(all, Torque{Step: c.Step, Fastener: c.Fastener, Value: c.NewtonMetres,
			At: secondsIn(c.At.Since(j.Start)), Undone: c.Undone})
	}
	return all
}

func memos(j *narrator.Job) []Memo {
	all := []Memo{}
	for _, m := range j.Memos() {
		all = append(all, Memo{File: m.File, At: secondsIn(m.At.Since(j.Start)), Length: secondsIn(m.Length), Undone: m.Undone, Finding: m.Finding})
	}
	return all
}

func hearing(j *narrator.Job) []Hearing {
	all := []Hearing{}
	for _, r := range j.Receptions() {
		h := Hearing{At: secondsIn(r.At.Since(j.Start)), Verdict: string(r.Verdict), Cause: r.Cause, Floor: r.Floor, Clipped: r.Clipped}
		if r.Speech != 0 {
			h.Speech, h.SNR = &r.Speech, &r.SNR
		}
		all = append(all, h)
	}
	return all
}

// operations gives each operation the worked time of its steps. A step that names none is needed by all.
func operations(p *procedures.Procedure, visited []visits) []Operation {
	all := []Operation{}
	for _, o := range p.Book {
		var own, shared narrator.Span
		for _, v := range visited {
			switch needs := p.Steps[v.step].Operations; {
			case len(p.Book) == 1 || len(needs) == 1 && needs[0] == o.Code:
				own += v.sum.Worked
			case len(needs) == 0 || slices.Contains(needs, o.Code):
				shared += v.sum.Worked
			}
		}
		all = append(all, Operation{Code: o.Code, Title: o.Title, Hours: hours(o.Hours), Diagnosis: o.Diagnosis,
			Worked: secondsIn(own), Shared: secondsIn(shared)})
	}
	return all
}
