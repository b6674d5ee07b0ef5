package narrator

import (
	"fmt"
	"math"
	"strings"

	"stepcaller/procedures"
)

// Draft writes down what was spoken in a job without a procedure, up to now where it is open: a step for each new step with its
// recordings, its worked minutes, and its torques as said. What nobody said is left to whoever types it up, and marked. It is nil for a job
// that has a procedure.
func (j *Job) Draft(now Moment) *procedures.Draft {
	if j.Dictation == nil {
		return nil
	}
	if !j.Open() {
		now = j.End
	}
	w := &draftWriter{job: j, line: j.Timeline(now)}
	d := &procedures.Draft{Title: j.Procedure.Title, Machine: j.Procedure.Machine, Notes: w.notes()}
	var starts []Said
	for _, said := range j.Dictation.Said {
		if said.Part == PartStep {
			starts = append(starts, said)
		}
	}
	if len(starts) == 0 || w.before(starts[0].At) {
		starts = append([]Said{{At: j.Start}}, starts...)
	}
	for i, start := range starts {
		to := later(now, start.At)
		if i+1 < len(starts) {
			to = starts[i+1].At
		}
		d.Steps = append(d.Steps, w.step(start, to))
	}
	return d
}

// draftWriter writes one job's draft.
type draftWriter struct {
	job  *Job
	line []Stretch
}

// before reports whether anything was said before the first step.
func (w *draftWriter) before(first Moment) bool {
	for _, said := range w.job.Dictation.Said {
		if said.Step == 0 {
			return true
		}
	}
	for _, m := range w.job.Memos() {
		if !m.Undone && m.At < first {
			return true
		}
	}
	return false
}

// notes is the head of the file: where it is from, what to do with it, and which file each recording is.
func (w *draftWriter) notes() []string {
	j := w.job
	notes := []string{
		fmt.Sprintf("Spoken while job %s was done, %s.", j.ID, j.Start.Time().Format("2 January 2006")),
		"Type what each recording says in its place, give what came off its name wherever its number stands, and check every value against the maker's service data.",
		"Then take out the line that says draft.",
	}
	for _, m := range j.Memos() {
		text := fmt.Sprintf("%s: %s, %s", recording(m), m.File, wording{}.length(m.Length))
		if m.Undone {
			text += ", taken back"
		}
		notes = append(notes, text)
	}
	return notes
}

// step writes down one step, which was current up to a moment.
func (w *draftWriter) step(start Said, to Moment) procedures.DraftStep {
	name := "before the first step"
	if start.Part == PartStep {
		name = fmt.Sprintf("step %d", start.Number)
	}
	var s procedures.DraftStep
	doubt := func(format string, args ...any) { s.Doubts = append(s.Doubts, fmt.Sprintf(format, args...)) }
	s.Say = capital(name) + ": type what was done."
	if r := w.recordings(PartStep, start.Number); r != "" {
		s.Say = fmt.Sprintf("%s: type what %s says.", capital(name), r)
	} else if start.Part == PartStep {
		doubt("%s has no recording", name)
	}
	for _, said := range w.job.Dictation.Said {
		if said.Step != start.Number {
			continue
		}
		switch said.Part {
		case PartOff:
			s.Off = append(s.Off, w.thing(said.Number))
			doubt("number %d came off: name it", said.Number)
		case PartOn:
			s.Back = append(s.Back, w.thing(said.Number))
		case PartTorque:
			if value, err := procedures.ParseTorque(said.Value); err == nil {
				fastener := fmt.Sprintf("fastener %d of %s", len(s.Torque)+1, name)
				s.Torque = append(s.Torque, procedures.Tightening{Fastener: fastener, Count: 1, Value: value})
				doubt("%s as said for %s: name it, how many and in which order", said.Value, fastener)
			}
		case PartReading:
			reading := fmt.Sprintf("reading %d of %s", len(s.Readings)+1, name)
			s.Readings = append(s.Readings, procedures.Reading{Name: reading})
			doubt("%s as said for %s: name it, its unit and its limits", said.Value, reading)
		}
	}
	for _, m := range w.job.Memos() {
		if !m.Undone && m.Part == "" && m.At >= start.At && m.At < to {
			doubt("%s is a note: type what of it belongs here", recording(m))
		}
	}
	stretches := within(w.line, start.At, to)
	s.Minutes = math.Round(Sum(stretches).Worked.Seconds()/6) / 10
	for _, p := range stretches {
		switch p.What {
		case Paused:
			doubt("paused for %s, %s: not in the minutes", wording{}.length(p.Length()), wording{}.reason(p.Reason))
		case NotRunning:
			doubt("the program did not run for %s: what was done then is missing here and in the minutes", wording{}.length(p.Length()))
		case Unaccounted:
			doubt("nobody has said whether %s was work: not in the minutes", wording{}.length(p.Length()))
		}
	}
	return s
}

// thing is how something that came off is called until somebody types its name.
func (w *draftWriter) thing(number int) string {
	if r := w.recordings(PartOff, number); r != "" {
		return fmt.Sprintf("number %d (%s)", number, r)
	}
	return fmt.Sprintf("number %d (no recording)", number)
}

// recordings names the notes about a step or a thing, "" for none.
func (w *draftWriter) recordings(part Part, number int) string {
	var names []string
	for _, m := range w.job.Memos() {
		if !m.Undone && m.Part == part && m.Number == number {
			names = append(names, recording(m))
		}
	}
	return strings.Join(names, " and ")
}

// recording is a note's name by the number that ends its file's.
func recording(m Memo) string {
	name := strings.TrimSuffix(m.File, ".wav")
	return "recording " + name[strings.LastIndexAny(name, "-/")+1:]
}
