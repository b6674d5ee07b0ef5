package pages

import (
	"bytes"
	"fmt"
	"net/http"
	"strings"
	"time"

	"stepcaller/narrator"
)

// Glance is what is going on in the bay, copied so that the session may go on.
type Glance struct {
	At    narrator.Moment
	Job   string // id; "" for none
	Title string
	Step  int // number from 1
	Steps int
	Say   string // what the step says to do
}

// GlanceAt copies what a glance shows out of a bay.
func GlanceAt(b *narrator.Bay, at narrator.Moment) Glance {
	g := Glance{At: at}
	j := b.Job()
	if j == nil || !j.Open() {
		return g
	}
	g.Job, g.Title, g.Step, g.Steps = j.ID, j.Procedure.Title, j.Step+1, len(j.Procedure.Steps)
	g.Say = j.Procedure.Steps[j.Step].Say
	return g
}

func (s *server) glance(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusOK, "glance", s.Tongue.F("Now"), s.Hub.Last())
}

// beat is how often a stream says that it lives.
const beat = 5 * time.Second

// stream sends the glance anew whenever it changes: server-sent events (HTML Living Standard, 9.2), each the page's part as HTML.
func (s *server) stream(w http.ResponseWriter, r *http.Request) {
	control := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	wake, done := s.Hub.watch()
	defer done()
	alive := time.NewTicker(beat)
	defer alive.Stop()
	for {
		var out bytes.Buffer
		if err := s.pages["glance"].ExecuteTemplate(&out, "glance", s.Hub.Last()); err != nil {
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
