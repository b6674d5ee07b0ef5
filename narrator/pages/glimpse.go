package pages

import (
	"strings"
	"time"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// Glance is what is going on in the bay, copied so that the session may go on. Lengths of time are those of At.
type Glance struct {
	At        narrator.Moment
	Listening bool   // words are obeyed
	Recording bool   // a note is being taken
	WakeBy    string // the phrase that has words obeyed again
	OtherBy   string // the phrase that leads to another job
	Trouble   string // what keeps the bay from hearing or speaking; "" for nothing

	Heard *Word // the last word that counted, nil for none
	Mic   Mic

	Job     string // id; "" for none, and all that follows is zero but for Others
	Order   string // work-order number; "" for none
	Title   string
	Machine string
	Step    int    // number from 1; 0 for none
	Steps   int    // 0 where nobody knows
	Heading string // the step in a few words; "" where it has none
	Say     string // what the step says to do
	OnStep  Clock
	Clock   Clock // the whole job, against the book
	Held    *Hold // nil while it is worked on

	Asks    string   // the question that is open, or the caution that waits for an answer; "" for none
	Answers []string // the phrases that answer it

	Figure   *Picture  // that helps with the step, nil for none
	Torque   *Torque   // of the torques of the step the one that is next; nil for none
	More     []string  // the others, in words
	Timers   []Timer   // that run, or ran out and nobody went on
	Readings []Reading // that the step wants
	Left     []Left    // what is still off, open or loose, by its state

	Others []Other // open jobs but this one
	Offers []OnOffer
	Shop   *ShopLine // nil for a bay on its own
}

// OnOffer is a job of another bay that may be taken over.
type OnOffer struct {
	Title, Bay string
}

// ShopLine is what the shop has not got yet.
type ShopLine struct {
	Unsent int    // events and notes
	Last   string // time of day when the shop was last reached, "" while it answers, and for never
}

// Word is a word that was heard.
type Word struct {
	Phrase string // as the shop says it
	Score  float64
	Sure   bool
	At     narrator.Moment // its first sample
}

// Mic is how well the microphone hears.
type Mic struct {
	Level   float64 // of the loudest moment since the last glance, dBFS; 0 for not known
	Verdict narrator.Verdict
	Cause   string
}

// Clock is time worked against time allowed.
type Clock struct {
	Worked, Of narrator.Span // Of is 0 where nothing is allowed
	Runs       bool
}

// Hold is a pause that lasts.
type Hold struct {
	Reason string // "" until told
	For    narrator.Span
}

// Timer is a wait.
type Timer struct {
	Name string
	Left narrator.Span // negative since it ran out
}

// Reading is a figure that the step wants.
type Reading struct {
	Name   string
	Unit   string
	Amount string // as said; "" for not yet
	Judged procedures.Judgement
}

// Picture is a drawing or a photo of the procedure.
type Picture struct {
	Path    string // on these pages
	Caption string
}

// Left is what is left in one state, such as off.
type Left struct {
	State string
	Names string
}

// Other is another open job.
type Other struct {
	Title       string
	Step, Steps int
	Held        bool
}

// GlanceAt copies what a glance shows out of a bay at a moment; the words are those that the shop says. What the ears know is left to
// the caller. It is meant for the bay's own goroutine, and takes about a millisecond.
func GlanceAt(b *narrator.Bay, at narrator.Moment, words procedures.Words) Glance {
	g := Glance{At: at, Listening: b.Listening, Recording: b.Dialogue.Recording,
		WakeBy: words.Phrase(procedures.StartListening), OtherBy: words.Phrase(procedures.OtherJob)}
	for _, j := range b.Others() {
		g.Others = append(g.Others, Other{Title: j.Procedure.Title, Step: j.Step + 1, Steps: len(j.Procedure.Steps), Held: j.Held() != nil})
	}
	for _, o := range b.Dialogue.Offers {
		g.Offers = append(g.Offers, OnOffer{Title: strings.TrimPrefix(o.Machine+", "+o.Title, ", "), Bay: o.Bay})
	}
	if s := b.Dialogue.Sending; s.Joined {
		g.Shop = &ShopLine{Unsent: s.Events + s.Notes}
		if !s.Reached && s.Last != 0 {
			g.Shop.Last = s.Last.Time().Local().Format("15:04")
		}
	}
	j := b.Job()
	if j == nil || !j.Open() {
		return g
	}
	g.Job, g.Order, g.Title, g.Machine = j.ID, j.Order, j.Procedure.Title, j.Procedure.Machine
	if held := j.Held(); held != nil {
		g.Held = &Hold{Reason: held.Reason, For: at.Since(held.From)}
	}
	g.clocks(j)
	g.asks(b, words)
	for _, t := range j.Timers {
		if left := t.End().Since(at); left > 0 || !t.Rang {
			g.Timers = append(g.Timers, Timer{t.Name, left})
		}
	}
	if d := j.Dictation; d != nil {
		g.Step = d.Step()
		return g
	}
	step := &j.Procedure.Steps[j.Step]
	g.Step, g.Steps, g.Heading, g.Say = j.Step+1, len(j.Procedure.Steps), step.Title, step.Say
	if len(step.Figures) > 0 {
		g.Figure = &Picture{figurePath(j.Procedure.ID, step.Figures[0]), step.Figures[0].Caption}
	}
	for _, f := range j.Figures() {
		r := Reading{Name: strings.TrimSpace(f.Reading.Name + " " + f.Position), Unit: f.Reading.Unit}
		if f.Taken != nil {
			r.Amount, r.Judged = f.Taken.Amount, f.Taken.Judged
		}
		g.Readings = append(g.Readings, r)
	}
	g.torques(b, j)
	for _, item := range j.Left() {
		n := len(g.Left)
		if n == 0 || g.Left[n-1].State != item.Kind.State {
			g.Left = append(g.Left, Left{State: item.Kind.State, Names: item.String()})
			continue
		}
		g.Left[n-1].Names += ", " + item.String()
	}
	return g
}

// clocks reads the job's time and the step's.
func (g *Glance) clocks(j *narrator.Job) {
	line := j.Timeline(g.At)
	runs := len(line) > 0 && line[len(line)-1].What == narrator.Working
	g.Clock = Clock{Worked: narrator.Sum(line).Worked, Of: narrator.SpanOf(j.Procedure.BookHours().Duration()), Runs: runs}
	g.OnStep.Runs = runs
	for _, s := range line {
		if s.Step == j.Step && s.What == narrator.Working {
			g.OnStep.Worked += s.Length()
		}
	}
	if minutes, basis := j.Procedure.ExpectedMinutes(j.Step); basis == procedures.FromFile {
		g.OnStep.Of = narrator.Minutes(minutes)
	}
}

// asks reads what is being asked, and how it is answered. Digits are not spelt out.
func (g *Glance) asks(b *narrator.Bay, words procedures.Words) {
	answers := b.Answers()
	g.Asks = b.Dialogue.Question.Text
	if g.Asks == "" && len(answers) > 0 {
		g.Asks = b.Job().Caution()
	}
	digits := false
	for _, word := range answers {
		c := procedures.Command(word)
		if m, ok := procedures.MeaningOf(c); ok && m.Group == procedures.Numbers {
			digits = true
			continue
		}
		if phrase := words.Phrase(c); phrase != "" {
			g.Answers = append(g.Answers, phrase)
		}
	}
	if digits {
		g.Answers = append([]string{Digits}, g.Answers...)
	}
}

// Digits stands among the answers for a number, said digit by digit.
const Digits = "0–9"

// ms is a length of time for the page's script.
func ms(s narrator.Span) int64 { return int64(s.Duration() / time.Millisecond) }
