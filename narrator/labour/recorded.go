package labour

import (
	"cmp"
	"slices"

	"github.com/shopspring/decimal"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// recorder reads a job's record off its log.
type recorder struct {
	job  *narrator.Job
	line []narrator.Stretch
	end  narrator.Moment
	Record
}

// recorded is the record of a job up to the end of its timeline.
func recorded(j *narrator.Job, line []narrator.Stretch, end narrator.Moment) Record {
	r := &recorder{job: j, line: line, end: end, Record: Record{
		Kind: cmp.Or(j.Kind, narrator.JobKinds()[0]), Earlier: j.Earlier, Draft: j.Procedure.Draft && j.Dictation == nil,
		Facts: []Fact{}, Tightenings: []Tightening{}, Readings: []Reading{}, Findings: []Finding{}, Timers: []Timer{}, Choices: []Choice{},
		Answers: []Answer{}, PutRight: []PutRight{}, Open: []Item{}, Dictated: []Dictated{}, Parts: []Part{},
		Tools: Tools{Taken: append([]string{}, j.Procedure.Tools...)},
	}}
	for _, f := range narrator.Fields() {
		if value := j.Fact(f.Key); value != "" {
			r.Facts = append(r.Facts, Fact{Field: f.Key, Title: f.Title, Value: value})
		}
	}
	undone := map[int64]bool{}
	for _, e := range j.Log() {
		if e.Kind == narrator.Undone {
			undone[e.Ref] = true
		}
	}
	rang := map[int64]narrator.Moment{}
	for _, e := range j.Log() {
		if e.Kind == narrator.Rang && !undone[e.Act] {
			rang[e.Ref] = e.At
		}
	}
	for _, e := range j.Log() {
		if !undone[e.Act] {
			r.enter(e, rang[e.Seq])
		}
	}
	r.findings()
	r.open()
	r.dictated()
	r.parts()
	return r.Record
}

func (r *recorder) parts() {
	list := func(step string, parts []procedures.Part) {
		for _, p := range parts {
			r.Parts = append(r.Parts, Part{Step: step, Part: p.Name, Number: p.Number, Core: p.Core})
		}
	}
	p := r.job.Procedure
	list("", p.Parts)
	for i := range p.Steps {
		if slices.ContainsFunc(r.job.Arrivals, func(a narrator.Arrival) bool { return a.Step == i && !a.Shut }) {
			list(p.Steps[i].ID, p.Steps[i].Parts)
		}
	}
}

func (r *recorder) at(m narrator.Moment) Seconds { return secondsIn(m.Since(r.job.Start)) }

// since is a moment that may not have come.
func (r *recorder) since(m narrator.Moment) *Seconds {
	if m == 0 {
		return nil
	}
	s := r.at(m)
	return &s
}

// enter takes what one event tells. Its timer, if it started one, was announced at rang.
func (r *recorder) enter(e narrator.Event, rang narrator.Moment) {
	switch e.Kind {
	case narrator.Tightened:
		r.Tightenings = append(r.Tightenings, r.tightening(e))
	case narrator.Measured:
		r.Readings = append(r.Readings, r.reading(e))
	case narrator.Timed:
		r.Timers = append(r.Timers, Timer{Step: e.Step, Name: e.Timer, Length: secondsIn(e.Length), Started: r.at(e.At), Rang: r.since(rang)})
	case narrator.Decided:
		choice, _ := r.job.Procedure.Choice(e.Choice)
		r.Choices = append(r.Choices, Choice{Choice: e.Choice, Ask: choice.Ask, Yes: e.On, At: r.at(e.At)})
	case narrator.Answered:
		r.Answers = append(r.Answers, Answer{Step: e.Step, Caution: e.Caution, Word: e.Detail.Word, At: r.at(e.At)})
	case narrator.PutRight:
		r.PutRight = append(r.PutRight, PutRight{Item: e.Item, State: e.State, Reason: e.Reason, At: r.at(e.At)})
	case narrator.Counted:
		r.Tools.Counted, r.Tools.Back = r.since(e.At), e.On
	}
}

func (r *recorder) step(id string) *procedures.Step {
	if i, ok := r.job.Procedure.Index(id); ok {
		return &r.job.Procedure.Steps[i]
	}
	return &procedures.Step{}
}

func (r *recorder) tightening(e narrator.Event) Tightening {
	row := Tightening{Step: e.Step, Fastener: e.Fastener, Number: e.Number, Stage: e.Stage, Written: e.Value, Value: e.NewtonMetres,
		Wrench: e.Wrench, At: r.at(e.At)}
	if t, round, ok := r.step(e.Step).Round(e.Fastener, e.Stage); ok {
		row.StageName = round.Name
		if n := e.Number - 1; n >= 0 && n < len(t.Positions) {
			row.Position = t.Positions[n]
		}
	}
	return row
}

func (r *recorder) reading(e narrator.Event) Reading {
	row := Reading{Step: e.Step, Name: e.Reading, Position: e.Position, When: e.When, Amount: e.Amount, Unit: e.Unit, Judged: e.Judged, At: r.at(e.At)}
	for _, want := range r.step(e.Step).Readings {
		if want.Name == e.Reading && want.When == e.When {
			row.Min, row.Max, row.Wear = limit(want.Min), limit(want.Max), limit(want.Wear)
		}
	}
	if e.When == "after" {
		for _, earlier := range r.Readings {
			if earlier.When == "before" && earlier.Name == row.Name && earlier.Position == row.Position {
				row.Before = &earlier.Amount
			}
		}
	}
	return row
}

func limit(d *decimal.Decimal) *string {
	if d == nil {
		return nil
	}
	text := d.String()
	return &text
}

func (r *recorder) findings() {
	for _, f := range r.job.Findings {
		row := Finding{Number: f.Number, Step: f.Step, Choice: f.Choice, Reading: f.Reading, Position: f.Position, State: FindingNoted, By: f.By,
			Found: r.at(f.At), Asked: r.since(f.Asked), Ruled: r.since(f.Ruled), Notes: []string{}}
		switch {
		case f.Ruled != 0 && f.Approved:
			row.State = FindingApproved
		case f.Ruled != 0:
			row.State = FindingDeclined
		case f.Asked != 0:
			row.State = FindingAsked
		}
		if until := cmp.Or(f.Ruled, r.end); f.Asked != 0 && until > f.Asked {
			row.Waited = secondsIn(until.Since(f.Asked))
			row.Paused = secondsIn(r.sum(f.Asked, until, func(s narrator.Stretch) bool {
				return s.What == narrator.Paused && s.Reason == string(procedures.ReasonApproval)
			}))
		}
		for _, m := range r.job.Memos() {
			if m.Finding == f.Number && !m.Undone {
				row.Notes = append(row.Notes, m.File)
			}
		}
		r.Findings = append(r.Findings, row)
	}
}

// sum adds up the stretches of a kind between two moments.
func (r *recorder) sum(from, to narrator.Moment, which func(narrator.Stretch) bool) narrator.Span {
	var sum narrator.Span
	for _, s := range r.line {
		if which(s) {
			sum += max(0, min(s.To, to).Since(max(s.From, from)))
		}
	}
	return sum
}

func (r *recorder) open() {
	for _, item := range r.job.Left() {
		r.Open = append(r.Open, Item{Item: item.String(), State: item.Kind.State, Step: r.job.Procedure.Steps[item.Step].ID,
			Reason: r.job.SpokenFor(item)})
	}
}

func (r *recorder) dictated() {
	if r.job.Dictation == nil {
		return
	}
	said := r.job.Dictation.Said
	for i, s := range said {
		row := Dictated{Part: string(s.Part), Number: s.Number, Value: s.Value, Step: s.Step, At: r.at(s.At), Notes: []string{}}
		if s.Part == narrator.PartStep {
			until := r.end
			if next := slices.IndexFunc(said[i+1:], func(n narrator.Said) bool { return n.Part == narrator.PartStep }); next >= 0 {
				until = said[i+1+next].At
			}
			worked := secondsIn(r.sum(s.At, until, func(l narrator.Stretch) bool { return l.What == narrator.Working }))
			row.Worked = &worked
		}
		for _, m := range r.job.Memos() {
			if m.Part == s.Part && m.Number == s.Number && s.Part != narrator.PartOn && !m.Undone {
				row.Notes = append(row.Notes, m.File)
			}
		}
		r.Dictated = append(r.Dictated, row)
	}
}
