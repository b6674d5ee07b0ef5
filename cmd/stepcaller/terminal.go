package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"stepcaller/narrator"
)

// terminal prints a job as it runs, a line for each thing heard, stamped and said.
type terminal struct {
	w     io.Writer
	start narrator.Moment // times are told from here; zero for the wall clock
	level narrator.Detail // how well words are heard, as it was last told
}

// newTerminal tells times from start on, or by the wall clock when start is zero.
func newTerminal(w io.Writer, start time.Time) *terminal {
	t := &terminal{w: w}
	if !start.IsZero() {
		t.start = narrator.MomentOf(start)
	}
	return t
}

func (t *terminal) line(at narrator.Moment, what, text string) {
	stamp := at.Time().Local().Format("15:04:05.0")
	if t.start != 0 {
		d := at.Since(t.start).Duration().Truncate(100 * time.Millisecond)
		stamp = fmt.Sprintf("%3d:%04.1f", int(d.Minutes()), d.Seconds()-60*float64(int(d.Minutes())))
	}
	fmt.Fprintf(t.w, "%s  %-6s %s\n", stamp, what, text)
}

func (t *terminal) Heard(h narrator.Heard) {
	doubt := ""
	if !h.Sure {
		doubt = ", not sure"
	}
	t.line(h.From, "heard", fmt.Sprintf("%q (%.2f%s)", h.Word, h.Score, doubt))
}

func (t *terminal) Done(_ narrator.Moment, o narrator.Outcome) {
	for _, e := range o.Events {
		if e.Kind == narrator.Hearing && (e.Verdict != t.level.Verdict || e.Cause != t.level.Cause) {
			t.level = e.Detail
			t.line(e.At, "level", receptionText(e.Detail))
		}
		if text := stamped(e); text != "" {
			t.line(e.At, "stamp", text)
		}
	}
}

// stamped words an event for the terminal; "" for those that another line shows already.
func stamped(e narrator.Event) string {
	switch e.Kind {
	case narrator.Opened:
		return "job " + e.Job + " opened"
	case narrator.Arrived:
		if e.Back {
			return "back to step " + e.Step
		}
		return "step " + e.Step
	case narrator.Held:
		return "on hold"
	case narrator.Resumed:
		return "work goes on"
	case narrator.Away:
		return fmt.Sprintf("away for %s", seconds(e.At.Since(e.From)))
	case narrator.Unsure:
		return fmt.Sprintf("%s unsure", seconds(e.At.Since(e.From)))
	case narrator.Settled:
		if e.Worked {
			return "the quiet time was work"
		}
		return "the quiet time was no work"
	case narrator.Because:
		return "reason: " + e.Reason
	case narrator.Gap:
		return fmt.Sprintf("not running for %s", seconds(e.At.Since(e.From)))
	case narrator.Called:
		return fmt.Sprintf("torque: %s, %s", e.Fastener, e.Value)
	case narrator.Recorded:
		return fmt.Sprintf("note: %s, %s", e.File, seconds(e.Length))
	case narrator.Joined:
		return e.Technician + " joined"
	case narrator.Left:
		return e.Technician + " left"
	case narrator.Undone:
		return "taken back"
	case narrator.Decided:
		return fmt.Sprintf("%s: %s", e.Choice, yesNo(e.On))
	case narrator.Answered:
		return "answered: " + e.Detail.Word
	case narrator.Tightened:
		return strings.TrimSpace(fmt.Sprintf("tightened: %s, number %d, stage %d %s", e.Fastener, e.Number, e.Stage, e.Value))
	case narrator.Renewed:
		return fmt.Sprintf("new %s: %s", e.Fastener, yesNo(e.On))
	case narrator.Timed:
		return fmt.Sprintf("timer: %s, %s", e.Timer, seconds(e.Length))
	case narrator.Rang:
		return "time is up: " + e.Timer
	case narrator.Measured:
		return strings.TrimSpace(fmt.Sprintf("reading: %s %s %s %s %s", e.Reading, e.Position, e.Amount, e.Unit, e.Judged))
	case narrator.Found:
		return fmt.Sprintf("finding %d", e.Finding)
	case narrator.Asked:
		return fmt.Sprintf("finding %d: the customer is asked", e.Finding)
	case narrator.Ruled:
		return strings.TrimSpace(fmt.Sprintf("finding %d approved: %s %s", e.Finding, yesNo(e.On), e.By))
	case narrator.PutRight:
		if e.Reason != "" {
			return fmt.Sprintf("stays %s: %s, %s", e.State, e.Item, e.Reason)
		}
		return fmt.Sprintf("put right: %s, %s", e.Item, e.State)
	case narrator.Counted:
		return "all tools back: " + yesNo(e.On)
	case narrator.Entered:
		return fmt.Sprintf("entered: %s: %s", e.Field, e.Value)
	case narrator.Corrected:
		return fmt.Sprintf("corrected: %s to %s", clockText(e.From), clockText(e.At))
	case narrator.Remarked:
		return "remark: " + e.Value
	case narrator.Dictated:
		if e.Number > 0 {
			return fmt.Sprintf("%s %d", e.Part, e.Number)
		}
		return fmt.Sprintf("%s %s", e.Part, e.Value)
	case narrator.Finished:
		return "job finished"
	case narrator.Listening:
		if e.On {
			return "listening"
		}
		return "not listening"
	}
	return ""
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

func seconds(s narrator.Span) string { return s.Duration().Round(100 * time.Millisecond).String() }

func (t *terminal) Says(at narrator.Moment, s narrator.Sentence, _ string) {
	t.line(at, "says", s.Text)
}

func (t *terminal) Said(int64, narrator.Moment, narrator.Moment, bool) {}

// News prints it as it is.
func (t *terminal) News(text string) { fmt.Fprintln(t.w, text) }

func (t *terminal) Trouble(err error) { fmt.Fprintf(t.w, "trouble: %v\n", err) }
