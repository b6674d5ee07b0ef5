package narrator

import (
	"strings"

	"github.com/shopspring/decimal"

	"stepcaller/procedures"
	"stepcaller/procedures/tongue"
)

// Measurement is a reading that was taken. Of several at one place the last counts.
type Measurement struct {
	Step     string // id
	Reading  string // by its name in the procedure
	Position string // where it was taken; "" for the only place
	When     string // before or after the repair; "" for neither
	Amount   string // decimal number as said
	Unit     string // as the procedure writes it
	Judged   procedures.Judgement
	At       Moment
}

// slot is one figure that a step asks for.
type slot struct {
	reading  *procedures.Reading
	position string
}

// slots lists what the step at an index wants measured, in order.
func (j *Job) slots(step int) []slot {
	var all []slot
	readings := j.Procedure.Steps[step].Readings
	for i := range readings {
		r := &readings[i]
		if len(r.Positions) == 0 {
			all = append(all, slot{r, ""})
		}
		for _, p := range r.Positions {
			all = append(all, slot{r, p})
		}
	}
	return all
}

// taken is what was measured for a slot of a step, nil for nothing.
func (j *Job) taken(step int, s slot) *Measurement {
	id := j.Procedure.Steps[step].ID
	for i := len(j.Measurements) - 1; i >= 0; i-- {
		m := &j.Measurements[i]
		if m.Step == id && m.Reading == s.reading.Name && m.Position == s.position && m.When == s.reading.When {
			return m
		}
	}
	return nil
}

// earlier is what the same reading gave before the repair, nil for nothing.
func (j *Job) earlier(s slot) *Measurement {
	if s.reading.When != "after" {
		return nil
	}
	for i := len(j.Measurements) - 1; i >= 0; i-- {
		m := &j.Measurements[i]
		if m.When == "before" && m.Reading == s.reading.Name && m.Position == s.position {
			return m
		}
	}
	return nil
}

func (j *Job) measured(e Event) {
	j.Measurements = append(j.Measurements, Measurement{Step: e.Step, Reading: e.Reading, Position: e.Position, When: e.When, Amount: e.Amount,
		Unit: e.Unit, Judged: procedures.Judgement(e.Judged), At: e.At})
}

// askReadings asks for the first reading of the step that is not taken, and reports whether it did. Who says next a second
// time does not want to take them.
func (d *decision) askReadings(h Heard) bool {
	j := d.job()
	if d.dropped.Kind == AskMeasure && d.dropped.Digits == "" && d.dropped.Then == thenReadings && h.Word == string(procedures.Next) {
		return false
	}
	for i, s := range j.slots(j.Step) {
		if j.taken(j.Step, s) == nil {
			d.askMeasure(Question{Word: h, Then: thenReadings, Slot: i})
			return true
		}
	}
	return false
}

// takeReadings asks for the step's readings, for all of them over again once they are all taken.
func (d *decision) takeReadings(h Heard) {
	j := d.job()
	switch {
	case len(j.slots(j.Step)) == 0:
		d.reply(replyNoReadings)
	case !d.askReadings(h):
		d.askMeasure(Question{Word: h, Then: thenReadingsAgain})
	}
}

func (d *decision) askMeasure(q Question) {
	j := d.job()
	q = Question{Kind: AskMeasure, Word: q.Word, Then: q.Then, Slot: q.Slot, Step: j.Step, Patience: lookTime}
	d.ask(q, d.words.measure(j.slots(j.Step)[q.Slot]))
}

// readOn asks for the reading behind the one that is dealt with. Behind the last one, next goes to the next step.
func (d *decision) readOn(q Question, h Heard) {
	j := d.job()
	slots := j.slots(j.Step)
	for i := q.Slot + 1; i < len(slots); i++ {
		if q.Then == thenReadingsAgain || j.taken(j.Step, slots[i]) == nil {
			q.Slot = i
			d.askMeasure(q)
			return
		}
	}
	if q.Word.Word == string(procedures.Next) && j.Held() == nil {
		h.Word, h.Sure = q.Word.Word, true
		d.heard = h
		d.stepOn(h)
	}
}

// measure takes a reading that was said in figures, and judges it.
func (d *decision) measure(q Question) {
	j := d.look(q.Job)
	if j == nil || !j.Open() || j.ID != d.active || j.Step != q.Step {
		return
	}
	figures, amount, err := procedures.Decimal(strings.Fields(q.Digits))
	if err != nil {
		said := q.Digits
		q.Digits, q.Closes, q.From = "", 0, 0
		d.ask(q, d.words.whichNumber(said))
		return
	}
	s := j.slots(j.Step)[q.Slot]
	judged := s.reading.Judge(amount)
	was := j.earlier(s)
	d.record(j.ID, q.From, Measured, Detail{Step: j.Procedure.Steps[j.Step].ID, Reading: s.reading.Name, Position: s.position,
		When: s.reading.When, Amount: figures, Unit: s.reading.Unit, Judged: string(judged)})
	d.say(d.words.judged(s.reading, figures, judged) + d.words.was(was, s.reading, figures))
	switch {
	case d.dropped.Kind != NoQuestion: // another word cut in, and is dealt with now
	case judged == procedures.Below || judged == procedures.Above || judged == procedures.WornOut:
		q.Kind, q.Digits, q.Closes, q.Patience = AskNoteIt, "", 0, 0
		d.ask(q, d.words.F(replyNoteIt))
	default:
		d.goOn(q, Heard{From: q.From, To: q.From, At: d.now})
	}
}

// noteReading takes whether a reading out of its limits is a finding.
func (d *decision) noteReading(q Question, h Heard, yes bool) {
	j := d.look(q.Job)
	if j == nil || !j.Open() || j.ID != d.active || j.Step != q.Step {
		return
	}
	if !yes {
		d.goOn(q, h)
		return
	}
	s := j.slots(q.Step)[q.Slot]
	d.find(q, h, Detail{Reading: s.reading.Name, Position: s.position})
}

const (
	replyNoReadings = "No readings on this step."
	replyNoteIt     = "Note it as a finding?"
)

// measure asks for a reading: what, when, where and in which unit.
func (w wording) measure(s slot) string {
	text := capital(s.reading.Name)
	if when := readingText(s.reading.When); when != "" {
		text = w.F(when, text)
	}
	if s.position != "" {
		text += ", " + s.position
	}
	if s.reading.Unit != "" {
		return w.F("%s, in %s?", text, w.unit(s.reading.Unit))
	}
	return w.F("%s?", text)
}

// unit is a unit behind "in": in words, which the English for the ear has in the plural; other languages are given words by the voice.
func (w wording) unit(written string) string {
	if w.Tag() == tongue.English {
		return procedures.SayUnit(written)
	}
	return written
}

// readingText names a reading with its moment, "" for none.
func readingText(when string) string {
	switch when {
	case "before":
		return "%s before"
	case "after":
		return "%s after"
	}
	return ""
}

// judged says a reading back with its limits.
func (w wording) judged(r *procedures.Reading, figures string, j procedures.Judgement) string {
	figures = w.Figures(figures)
	limit := func(d *decimal.Decimal) string { return w.Figures(d.String()) }
	switch j {
	case procedures.WornOut:
		return w.F("%s, worn out: the limit is %s.", figures, limit(r.Wear))
	case procedures.Below:
		return w.F("%s, below %s: too low.", figures, limit(r.Min))
	case procedures.Above:
		return w.F("%s, above %s: too high.", figures, limit(r.Max))
	case procedures.Inside:
		switch {
		case r.Min == nil:
			return w.F("%s, good: at most %s.", figures, limit(r.Max))
		case r.Max == nil:
			return w.F("%s, good: at least %s.", figures, limit(r.Min))
		}
		return w.F("%s, inside %s to %s.", figures, limit(r.Min), limit(r.Max))
	}
	return w.F("%s, noted.", strings.TrimSpace(figures+" "+r.Unit))
}

// was compares a reading with that of before the repair. Temperatures on the other scale are converted, differences
// without the offset.
func (w wording) was(was *Measurement, r *procedures.Reading, figures string) string {
	if was == nil {
		return ""
	}
	before := was.Amount
	if was.Unit != r.Unit {
		from, known := degrees(was.Unit)
		to, ours := degrees(r.Unit)
		if !known || !ours {
			return ""
		}
		v, _ := decimal.RequireFromString(was.Amount).Float64()
		if r.Difference {
			v = procedures.TemperatureDifference(v, from, to)
		} else {
			v = procedures.Temperature(v, from, to)
		}
		before = decimal.NewFromFloat(v).Round(1).String()
	}
	return " " + w.F("Was %s, now %s.", w.Figures(before), w.Figures(figures))
}

func degrees(unit string) (procedures.Degrees, bool) {
	switch unit {
	case "°C":
		return procedures.Celsius, true
	case "°F":
		return procedures.Fahrenheit, true
	}
	return 0, false
}

// missedReadings names the readings that were not taken on the steps that were begun.
func (w wording) missedReadings(j *Job) []string {
	var names []string
	for i := range j.Procedure.Steps {
		if !j.begun(i) {
			continue
		}
		for _, s := range j.slots(i) {
			if j.taken(i, s) == nil {
				name := s.reading.Name
				if s.position != "" {
					name += " " + s.position
				}
				names = append(names, w.F("%s on step %d", name, i+1))
			}
		}
	}
	return names
}
