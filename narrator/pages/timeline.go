package pages

import (
	"slices"
	"strconv"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/procedures"
)

// span is a piece of a time axis, in per cent of its width.
type span struct {
	X, Width float64
	What     string // worked, paused, unsure, gap; step, other on the lane of steps
	Reason   string // of a pause
	Text     string // fits into it; "" where nothing does
	Step     int    // number
	Title    string // of its step
	From, To time.Time
	Length   labour.Seconds
}

// tick is a place on a time axis with what stands there.
type tick struct {
	X    float64
	Text string
}

// mark is something that happened at one moment.
type mark struct {
	X    float64
	What string // memo, torque, finding, reading
	Text string
	At   time.Time
}

// timeline is a job's time drawn to scale. Where it stood still for very long the axis is cut, and says so.
type timeline struct {
	Ticks []tick
	Line  []span // what the time was
	Steps []span // which step it went to
	Heard []span // what was heard of the times that were corrected since
	Marks []mark
	Cuts  []span // of the axis
}

// A stand of more than cutFrom and of a third of the rest is cut out, down to cutWidth per cent.
const (
	cutFrom  = narrator.Hour
	cutWidth = 7
)

// axis maps moments to per cent of a drawing's width, in straight pieces.
type axis struct {
	at   []knot
	cuts []narrator.Stretch
}

type knot struct {
	at narrator.Moment
	x  float64
}

// axisOf gives every stretch a width by its length; long stands are cut.
func axisOf(line []narrator.Stretch) axis {
	if len(line) == 0 {
		return axis{}
	}
	var a axis
	from, to := line[0].From, line[len(line)-1].To
	whole := to.Since(from)
	drawn := whole
	for _, s := range joined(line) {
		if s.What != narrator.Working && s.Length() > cutFrom && s.Length() > (whole-s.Length())/3 {
			a.cuts, drawn = append(a.cuts, s), drawn-s.Length()
		}
	}
	if drawn <= 0 {
		a.cuts, drawn = nil, whole
	}
	per := (100 - float64(cutWidth*len(a.cuts))) / float64(max(drawn, 1))
	x := 0.0
	a.at = append(a.at, knot{from, 0})
	for _, c := range a.cuts {
		x += per * float64(c.From.Since(from))
		a.at = append(a.at, knot{c.From, x}, knot{c.To, x + cutWidth})
		x, from = x+cutWidth, c.To
	}
	a.at = append(a.at, knot{to, 100})
	return a
}

// joined puts stretches together that only a step parts.
func joined(line []narrator.Stretch) []narrator.Stretch {
	var all []narrator.Stretch
	for _, s := range line {
		if n := len(all); n > 0 && all[n-1].What == s.What && all[n-1].Reason == s.Reason && all[n-1].To == s.From {
			all[n-1].To = s.To
			continue
		}
		all = append(all, s)
	}
	return all
}

// x is where a moment stands; one outside the axis stands at its end.
func (a axis) x(m narrator.Moment) float64 {
	if len(a.at) == 0 || m <= a.at[0].at {
		return 0
	}
	for i := 1; i < len(a.at); i++ {
		if p, q := a.at[i-1], a.at[i]; m <= q.at {
			return p.x + (q.x-p.x)*float64(m-p.at)/float64(max(1, q.at-p.at))
		}
	}
	return 100
}

func (a axis) span(from, to narrator.Moment) span {
	x := a.x(from)
	return span{X: x, Width: a.x(to) - x, From: from.Time(), To: to.Time(), Length: labour.Seconds(to.Since(from).Seconds())}
}

// letter is about how wide a letter is, in per cent of a drawing of 760 pixels.
const letter = 0.95

// fits gives a span its text where it is wide enough.
func (s *span) fits(text string) {
	if float64(len([]rune(text)))*letter+0.6 <= s.Width {
		s.Text = text
	}
}

// tickSteps are the distances of ticks to choose from.
var tickSteps = []time.Duration{time.Minute, 2 * time.Minute, 5 * time.Minute, 10 * time.Minute, 15 * time.Minute, 30 * time.Minute, time.Hour,
	2 * time.Hour, 4 * time.Hour, 8 * time.Hour, 24 * time.Hour}

// ticks puts round times of the day on the axis, none nearer to the next than apart per cent.
func (a axis) ticks(zone *time.Location, apart float64) []tick {
	if len(a.at) < 2 {
		return nil
	}
	from, to := a.at[0].at, a.at[len(a.at)-1].at
	shown := to.Since(from)
	for _, c := range a.cuts {
		shown -= c.Length()
	}
	step := tickSteps[len(tickSteps)-1]
	for _, s := range tickSteps {
		if 100*s.Seconds() >= apart*shown.Seconds() {
			step = s
			break
		}
	}
	var all []tick
	for at := roundUp(from.Time().In(zone), step); !at.After(to.Time()); at = at.Add(step) {
		x := a.x(narrator.MomentOf(at))
		if x > 97 || a.cut(narrator.MomentOf(at)) || len(all) > 0 && x-all[len(all)-1].X < apart*0.6 {
			continue
		}
		all = append(all, tick{x, at.Format("15:04")})
	}
	return all
}

// cut reports whether a moment lies where the axis is cut.
func (a axis) cut(m narrator.Moment) bool {
	return slices.ContainsFunc(a.cuts, func(c narrator.Stretch) bool { return c.From < m && m < c.To })
}

// roundUp is the first round time of a day at or after t.
func roundUp(t time.Time, step time.Duration) time.Time {
	day := time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, t.Location())
	since := t.Sub(day)
	return day.Add((since + step - 1).Truncate(step))
}

// timelineOf draws a job's time.
func (w writer) timelineOf(j *narrator.Job, line []narrator.Stretch, sheet labour.Sheet) timeline {
	a := axisOf(line)
	t := timeline{Ticks: a.ticks(w.zone, 9)}
	for _, s := range joined(line) {
		p := a.span(s.From, s.To)
		p.What, p.Reason = string(s.What), s.Reason
		if s.What == narrator.Paused {
			p.fits(w.reason(s.Reason))
		}
		t.Line = append(t.Line, p)
	}
	for _, c := range a.cuts {
		p := a.span(c.From, c.To)
		p.Text = w.F("%s h", w.number(float64(p.Length)/3600, 1))
		t.Cuts = append(t.Cuts, p)
	}
	for _, s := range line {
		if n := len(t.Steps); n > 0 && t.Steps[n-1].Step == s.Step+1 {
			from := t.Steps[n-1].From
			text, title := t.Steps[n-1].What, t.Steps[n-1].Title
			t.Steps[n-1] = a.span(narrator.MomentOf(from), s.To)
			t.Steps[n-1].What, t.Steps[n-1].Title, t.Steps[n-1].Step = text, title, s.Step+1
			continue
		}
		p := a.span(s.From, s.To)
		p.What, p.Step, p.Title = []string{"step", "other"}[len(t.Steps)%2], s.Step+1, j.Procedure.Steps[s.Step].Heading()
		t.Steps = append(t.Steps, p)
	}
	for i := range t.Steps {
		t.Steps[i].fits(strconv.Itoa(t.Steps[i].Step))
	}
	for _, c := range sheet.Corrections {
		for _, w := range c.Was {
			if !c.Undone {
				p := a.span(j.Start.Add(narrator.Span(float64(w.From)*narrator.Rate)), j.Start.Add(narrator.Span(float64(w.To)*narrator.Rate)))
				p.What, p.Reason = w.What, w.Reason
				t.Heard = append(t.Heard, p)
			}
		}
	}
	t.marks(a, j, sheet)
	return t
}

// marks puts what happened at one moment on the axis.
func (t *timeline) marks(a axis, j *narrator.Job, sheet labour.Sheet) {
	add := func(what, text string, at labour.Seconds) {
		m := j.Start.Add(narrator.Span(float64(at) * narrator.Rate))
		t.Marks = append(t.Marks, mark{X: a.x(m), What: what, Text: text, At: m.Time()})
	}
	for _, m := range sheet.Memos {
		if !m.Undone {
			add("memo", "", m.At)
		}
	}
	for _, m := range sheet.Findings {
		add("finding", strconv.Itoa(m.Number), m.Found)
	}
	for _, m := range sheet.Readings {
		if m.Judged != "" && m.Judged != string(procedures.Inside) {
			add("reading", m.Name, m.At)
		}
	}
	slices.SortStableFunc(t.Marks, func(a, b mark) int { return a.At.Compare(b.At) })
}
