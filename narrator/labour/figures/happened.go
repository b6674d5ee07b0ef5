package figures

import (
	"cmp"
	"encoding/json"
	"slices"

	"stepcaller/narrator/labour"
)

// What can take place within a step. The names are written in JSON; in English they read well.
type What string

// What can take place, in the order in which sets list it.
const (
	Paused       What = "paused"        // work stood still
	Noted        What = "note"          // a spoken note
	Found        What = "finding"       // something else is worn, or extra work turned up
	WentBack     What = "went back"     // the step was come to more than once
	Waited       What = "timer"         // a timer ran
	OutOfLimits  What = "out of limits" // a reading
	NotAccounted What = "unaccounted"   // unsure time, or the program did not run
	Remarked     What = "remark"        // written afterwards
	Corrected    What = "corrected"     // its time, afterwards
)

// Whats are all things that can take place, in their order.
func Whats() []What {
	return []What{Paused, Noted, Found, WentBack, Waited, OutOfLimits, NotAccounted, Remarked, Corrected}
}

// Happened is a set of things that took place: bit n stands for the n-th of [Whats].
type Happened uint16

// SetOf is the set of these things.
func SetOf(whats ...What) Happened {
	var set Happened
	for i, w := range Whats() {
		if slices.Contains(whats, w) {
			set |= 1 << i
		}
	}
	return set
}

// Each lists what a set holds, in the order of [Whats].
func (h Happened) Each() []What {
	all := []What{}
	for i, w := range Whats() {
		if h&(1<<i) != 0 {
			all = append(all, w)
		}
	}
	return all
}

// MarshalJSON writes a set as a list.
func (h Happened) MarshalJSON() ([]byte, error) { return json.Marshal(h.Each()) }

// UnmarshalJSON reads a list; what it does not know it passes over.
func (h *Happened) UnmarshalJSON(text []byte) error {
	var whats []What
	if err := json.Unmarshal(text, &whats); err != nil {
		return err
	}
	*h = SetOf(whats...)
	return nil
}

// Happening is one thing that took place within a step.
type Happening struct {
	What    What           `json:"what"`     //
	At      labour.Seconds `json:"at_s"`     // from the job's start; a remark stands at the step's end
	Length  labour.Seconds `json:"length_s"` // of a finding, how long it waited to be ruled on; of a correction, all of it
	Text    string         `json:"text"`     // reason of a pause, name of a timer or a reading, words of a remark or a correction; else ""
	Value   string         `json:"value"`    // of a reading, with its unit; how it was judged stands in Text
	File    string         `json:"file"`     // of a note, relative to the data folder
	Finding int            `json:"finding"`  // its number, of a finding or of a note about one; else 0
}

// Happenings lists what took place within the step of this number, in order of time. What was taken back is left out.
func Happenings(s labour.Sheet, number int) []Happening {
	all := []Happening{}
	i := slices.IndexFunc(s.Steps, func(row labour.Step) bool { return row.Number == number })
	if i < 0 {
		return all
	}
	step, visit, end := s.Steps[i].ID, 0, s.Steps[i].Ended
	for i, stretch := range s.Timeline {
		if stretch.Step != number {
			continue
		}
		if i == 0 || s.Timeline[i-1].Step != number {
			if visit++; visit > 1 {
				all = append(all, Happening{What: WentBack, At: stretch.From})
			}
		}
		switch stretch.What {
		case "paused":
			all = append(all, Happening{What: Paused, At: stretch.From, Length: stretch.To - stretch.From, Text: stretch.Reason})
		case "unsure", "gap":
			all = append(all, Happening{What: NotAccounted, At: stretch.From, Length: stretch.To - stretch.From, Text: stretch.What})
		}
		last := i == len(s.Timeline)-1
		for _, m := range s.Memos {
			if !m.Undone && stretch.From <= m.At && (m.At < stretch.To || last) {
				all = append(all, Happening{What: Noted, At: m.At, Length: m.Length, File: m.File, Finding: m.Finding})
			}
		}
	}
	for _, c := range s.Corrections {
		if i := slices.IndexFunc(s.Timeline, func(t labour.Stretch) bool { return t.Step == number && t.From < c.To && c.From < t.To }); i >= 0 && !c.Undone {
			all = append(all, Happening{What: Corrected, At: max(c.From, s.Timeline[i].From), Length: c.To - c.From, Text: c.Why})
		}
	}
	for _, r := range s.Remarks {
		if r.Step == step && !r.Undone {
			all = append(all, Happening{What: Remarked, At: end, Text: r.Text})
		}
	}
	for _, f := range s.Findings {
		if f.Step == step {
			all = append(all, Happening{What: Found, At: f.Found, Length: f.Waited, Text: f.State, Finding: f.Number})
		}
	}
	for _, t := range s.Timers {
		if t.Step == step {
			all = append(all, Happening{What: Waited, At: t.Started, Length: t.Length, Text: t.Name})
		}
	}
	for _, r := range s.Readings {
		if r.Step == step && r.Judged != "" && r.Judged != "inside" {
			all = append(all, Happening{What: OutOfLimits, At: r.At, Text: named(r), Value: r.Amount + " " + r.Unit})
		}
	}
	slices.SortStableFunc(all, func(a, b Happening) int { return cmp.Compare(a.At, b.At) })
	return all
}

// named is a reading's name, its place and how it was judged.
func named(r labour.Reading) string {
	name := r.Name
	if r.Position != "" {
		name += " " + r.Position
	}
	return name + ", " + r.Judged
}
