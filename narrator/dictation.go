package narrator

import (
	"slices"
	"strconv"
	"strings"
)

// Part is a kind of thing that is said in a job without a procedure. The names are stored.
type Part string

// The parts.
const (
	PartJob     Part = "job"     // the job itself: it has no procedure
	PartStep    Part = "step"    // a step begins
	PartOff     Part = "off"     // something comes off
	PartOn      Part = "on"      // something goes back on, by the number under which it came off
	PartTorque  Part = "torque"  // a torque was worked to
	PartReading Part = "reading" // a figure was read off
)

// Dictation is a job without a procedure as it is spoken while it is done.
type Dictation struct {
	Said []Said // in order, without what was taken back
}

// Said is one thing that was said.
type Said struct {
	Part   Part
	Number int    // of a step, or of a thing that came off, from 1; never given out twice
	Value  string // a torque with its unit, or the figure of a reading
	Step   int    // Number of the step in which it was said, 0 before the first
	At     Moment
	Act    int64
}

// dictate enters an event.
func (s *Dictation) dictate(e Event) {
	said := Said{Part: Part(e.Part), Number: e.Number, Value: e.Value, Step: s.Step(), At: e.At, Act: e.Act}
	if said.Part == PartStep {
		said.Step = said.Number
	}
	s.Said = append(s.Said, said)
}

// Step is the number of the step that is being done, 0 before the first.
func (s *Dictation) Step() int {
	for i := len(s.Said) - 1; i >= 0; i-- {
		if s.Said[i].Part == PartStep {
			return s.Said[i].Number
		}
	}
	return 0
}

// Off lists the numbers of what is off, in order.
func (s *Dictation) Off() []int {
	var off []int
	for _, said := range s.Said {
		switch said.Part {
		case PartOff:
			off = append(off, said.Number)
		case PartOn:
			off = slices.DeleteFunc(off, func(n int) bool { return n == said.Number })
		}
	}
	return off
}

// nextNumber is the number of the next step, or of the next thing that comes off. One that was taken back is not given out
// again, so that a number on a bag of bolts means one thing.
func (j *Job) nextNumber(part Part) int {
	n := 1
	for _, e := range j.log {
		if e.Kind == Dictated && Part(e.Part) == part {
			n = max(n, e.Number+1)
		}
	}
	return n
}

// saidAt is what a note that began at a moment is about, "" for nothing: a crash cut it off, so that nobody said.
func (j *Job) saidAt(note Moment) (Part, int) {
	if j.Dictation == nil {
		return "", 0
	}
	for _, s := range slices.Backward(j.Dictation.Said) {
		if (s.Part == PartStep || s.Part == PartOff) && s.At <= note && note.Since(s.At) < noteBegins {
			return s.Part, s.Number
		}
	}
	return "", 0
}

// dictatedIn is the worked time of the step under way.
func (j *Job) dictatedIn(now Moment) Span {
	from := j.Start
	for _, said := range j.Dictation.Said {
		if said.Part == PartStep {
			from = said.At
		}
	}
	return Sum(within(j.Timeline(now), from, later(now, from))).Worked
}

// within cuts a timeline to the time between two moments.
func within(line []Stretch, from, to Moment) []Stretch {
	var cut []Stretch
	for _, s := range line {
		s.From, s.To = later(s.From, from), min(s.To, to)
		if s.From < s.To {
			cut = append(cut, s)
		}
	}
	return cut
}

// numbers words a list of numbers.
func (w wording) numbers(list []int) string {
	var words []string
	for _, n := range list {
		words = append(words, strconv.Itoa(n))
	}
	if len(words) > 1 {
		last := len(words) - 1
		return w.F("%s and %s", strings.Join(words[:last], ", "), words[last])
	}
	return strings.Join(words, "")
}

func (w wording) numbersOff(off []int) string {
	switch len(off) {
	case 0:
		return w.F("Nothing is off.")
	case 1:
		return w.F("1 is off: number %d.", off[0])
	}
	return w.F("%d are off: numbers %s.", len(off), w.numbers(off))
}
