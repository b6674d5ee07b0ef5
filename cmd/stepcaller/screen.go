package main

import (
	"math"

	"stepcaller/narrator"
	"stepcaller/narrator/pages"
	"stepcaller/procedures"
)

// screen shows a session on the glance page and the terminal's live line: at once when something is decided, and every second for its clocks and its level. Nil shows
// nothing. It belongs to the session's goroutine.
type screen struct {
	hub   *pages.Hub
	line  *liveLine // of the terminal; nil without
	words procedures.Words

	heard *pages.Word
	mic   pages.Mic
	loud  int // largest sample since the last second
	due   narrator.Moment
}

func newScreen(hub *pages.Hub, words procedures.Words) *screen {
	if hub == nil {
		return nil
	}
	return &screen{hub: hub, words: words}
}

// done shows what an input led to.
func (s *screen) done(b *narrator.Bay, at narrator.Moment, in narrator.Input, o narrator.Outcome) {
	if s == nil {
		return
	}
	if h, ok := in.(narrator.Heard); ok && o.Took {
		phrase := s.words.Phrase(procedures.Command(h.Word))
		if phrase == "" { // a number of several words
			phrase = h.Word
		}
		s.heard = &pages.Word{Phrase: phrase, Score: h.Score, Sure: h.Sure, At: h.From}
	}
	s.show(b, at, "")
}

// hear takes the level of a block, and shows it when a second has passed.
func (s *screen) hear(b *narrator.Bay, at narrator.Moment, pcm []int16, ears Hearer) {
	if s == nil {
		return
	}
	for _, v := range pcm {
		s.loud = max(s.loud, int(v), -int(v))
	}
	if at < s.due {
		return
	}
	r := receptionAt(at, ears.Reception())
	s.mic = pages.Mic{Verdict: r.Verdict, Cause: r.Cause}
	if s.loud > 0 {
		s.mic.Level = 20 * math.Log10(float64(s.loud)/math.MaxInt16)
	}
	s.loud, s.due = 0, at.Add(narrator.Second)
	s.show(b, at, "")
}

// show publishes the bay; trouble is what keeps it from hearing, "" for nothing.
func (s *screen) show(b *narrator.Bay, at narrator.Moment, trouble string) {
	if s == nil {
		return
	}
	g := pages.GlanceAt(b, at, s.words)
	g.Heard, g.Mic, g.Trouble = s.heard, s.mic, trouble
	s.hub.Publish(g)
	s.line.show(g)
}
