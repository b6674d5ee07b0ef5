package pages

import (
	"bytes"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"
	"time"

	"stepcaller/narrator"
	"stepcaller/procedures"
	"stepcaller/procedures/tongue"
)

// beat is how often a stream says that it lives; the page's script calls it stale after more than twice as long.
const beat = 5 * time.Second

// glanceView is a glance as it is shown so long after it was published.
type glanceView struct {
	*Glance // nil where nothing was published
	Age     time.Duration
	tongue  *tongue.Tongue
}

func (s *server) view() glanceView {
	g, age := s.Hub.latest()
	return glanceView{g, age, s.Tongue}
}

func (s *server) glance(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusOK, "glance", s.Tongue.F("Now"), s.view())
}

// stream sends the glance anew whenever it changes: server-sent events (HTML Living Standard, 9.2), each the page's part as HTML.
func (s *server) stream(w http.ResponseWriter, r *http.Request) {
	control := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	wake, done := s.Hub.watch()
	defer done()
	alive := time.NewTicker(beat)
	defer alive.Stop()
	fmt.Fprintf(w, "retry: 1000\nevent: program\ndata: %s\n\n", s.started)
	for {
		var out bytes.Buffer
		if err := s.pages["glance"].ExecuteTemplate(&out, "glance", s.view()); err != nil {
			return
		}
		fmt.Fprintf(w, "event: glance\ndata: %s\n\n", strings.ReplaceAll(out.String(), "\n", "\ndata: "))
		if control.Flush() != nil {
			return
		}
	waiting:
		for {
			select {
			case <-r.Context().Done():
				return
			case <-wake:
				break waiting
			case <-alive.C:
				fmt.Fprint(w, "event: alive\ndata: \n\n")
				if control.Flush() != nil {
					return
				}
			}
		}
	}
}

// Tick is a length of time that the page's script counts on: up where rate is 1, down where it is -1, and not at all where it is 0.
func (v glanceView) Tick(s narrator.Span, rate int) template.HTML {
	s += narrator.Span(rate) * narrator.SpanOf(v.Age)
	return template.HTML(fmt.Sprintf(`<time data-ms="%d" data-rate="%d">%s</time>`, ms(s), rate, duration(s))) // #nosec G203 -- figures
}

// Rate is 1 where a clock runs.
func (v glanceView) Rate(runs bool) int {
	if runs {
		return 1
	}
	return 0
}

// Duration writes a length of time that does not run.
func (v glanceView) Duration(s narrator.Span) string { return duration(s) }

// duration writes a length of time as 4:05 or 1:04:05, what is below a second left out. What is negative is written without its sign.
func duration(s narrator.Span) string {
	n := int64(max(s, -s) / narrator.Second)
	if n < 3600 {
		return fmt.Sprintf("%d:%02d", n/60, n%60)
	}
	return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
}

// Share is how much of the width of the clock's bar is worked, in per cent: the bar is as long as the book, or as the work where that
// is longer.
func (c Clock) Share() string { return portion(c.Worked, c.whole()) }

// Mark is where on the bar the book ends.
func (c Clock) Mark() string { return portion(c.Of, c.whole()) }

func (c Clock) whole() narrator.Span { return max(c.Worked, c.Of, 1) }

// Hours is what is allowed, in hours, as the book counts.
func (c Clock) Hours() float64 { return c.Of.Duration().Hours() }

// Over reports whether more is worked than allowed.
func (c Clock) Over() bool { return c.Of > 0 && c.Worked > c.Of }

func portion(part, whole narrator.Span) string {
	return strconv.FormatFloat(100*float64(part)/float64(whole), 'f', 1, 64) + "%"
}

// Height of the level's bar, in per cent: silence is -60 dBFS, the end of the range 100.
func (m Mic) Height() string {
	if m.Level == 0 {
		return "0%"
	}
	return strconv.FormatFloat(min(100, max(0, 100+m.Level*100/60)), 'f', 0, 64) + "%"
}

// Percent is how sure the word is.
func (w Word) Percent() int { return int(100*w.Score + 0.5) }

// Hears words how well the microphone hears.
func (v glanceView) Hears() string {
	switch {
	case v.Mic.Cause == narrator.CauseSilent:
		return v.tongue.F("No sound from the microphone")
	case v.Mic.Verdict == narrator.NotYetHeard:
		return v.tongue.F("Nobody spoke lately")
	case v.Mic.Verdict == narrator.HearsWell:
		return v.tongue.F("Hears well")
	case v.Mic.Cause == narrator.CauseNoise:
		return v.tongue.F("Too much noise")
	case v.Mic.Cause == narrator.CauseWeak:
		return v.tongue.F("Speak up, or bring the microphone closer")
	case v.Mic.Cause == narrator.CauseClipped:
		return v.tongue.F("The microphone is turned up too far")
	}
	return v.tongue.F("Hears poorly")
}

// Out reports whether the reading is out of its limits.
func (r Reading) Out() bool { return r.Judged != "" && r.Judged != procedures.Inside }

// Judgement words what a reading's limits say, with its sign.
func (v glanceView) Judgement(r Reading) string {
	switch r.Judged {
	case "inside":
		return "✓ " + v.tongue.F("inside")
	case "below":
		return "▼ " + v.tongue.F("too low")
	case "above":
		return "▲ " + v.tongue.F("too high")
	case "worn":
		return "✕ " + v.tongue.F("worn out")
	}
	return ""
}

// Box is the size of the pattern's drawing.
func (t *Torque) Box() string {
	w, h := Box(t.Spots)
	return fmt.Sprintf("0 0 %.2f %.2f", w, h)
}

// Path goes from the next fastener through those that follow it; "" where there is no order, or nothing follows.
func (t *Torque) Path() string { return t.through(len(t.Spots)) }

// Then goes from the next fastener to the one after it.
func (t *Torque) Then() string { return t.through(2) }

// through goes through the first so many fasteners that are not done.
func (t *Torque) through(most int) string {
	var path strings.Builder
	n := 0
	for _, number := range t.Order.Sequence(t.Count) {
		if s := t.Spots[number-1]; s.State != Done && n < most {
			fmt.Fprintf(&path, "%c%.3f %.3f", "ML"[min(n, 1)], s.X, s.Y)
			n++
		}
	}
	return path.String()
}

// Tally counts the fasteners of the round that are tight.
func (t *Torque) Tally() int {
	n := 0
	for _, s := range t.Spots {
		if s.State == Done {
			n++
		}
	}
	return n
}

// At is the index of the round that is next.
func (t *Torque) At() int { return t.Stage - 1 }
