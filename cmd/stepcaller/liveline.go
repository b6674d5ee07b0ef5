package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"

	"golang.org/x/sys/unix"

	"stepcaller/narrator"
	"stepcaller/narrator/pages"
)

// liveLine is the last line of a terminal, which shows where the job is and its clock against the book. What is written goes above it. Nil
// shows nothing. It may be used from any goroutine.
type liveLine struct {
	w     io.Writer
	paper paper
	width func() int // letters in a line, 0 for not known

	mu   sync.Mutex
	text string // as it stands
}

// newLiveLine gives a terminal its live line; nil where the output is no terminal.
func newLiveLine(w io.Writer) *liveLine {
	f, ok := w.(*os.File)
	if !ok || columns(f) == 0 {
		return nil
	}
	return &liveLine{w: w, paper: paper{plain: plainText(os.Getenv)}, width: func() int { return columns(f) }}
}

// columns is the width of a terminal, 0 for what is none.
func columns(f *os.File) int {
	size, err := unix.IoctlGetWinsize(int(f.Fd()), unix.TIOCGWINSZ)
	if err != nil {
		return 0
	}
	return int(size.Col)
}

// wipe takes the line a terminal's cursor is in away (ECMA-48, EL).
const wipe = "\r\x1b[K"

// Write writes whole lines above the live line.
func (l *liveLine) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.text == "" {
		return l.w.Write(b)
	}
	if _, err := io.WriteString(l.w, wipe+string(b)+l.text); err != nil {
		return 0, err
	}
	return len(b), nil
}

// show draws the line anew where it reads otherwise than before.
func (l *liveLine) show(g pages.Glance) {
	if l == nil {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	text := l.paper.glance(g)
	if width := l.width(); width > 1 {
		text = strings.TrimRight(l.paper.fit(text, width-1), " ")
	}
	if text != l.text {
		l.text = text
		_, _ = io.WriteString(l.w, wipe+text)
	}
}

// end takes the line away.
func (l *liveLine) end() {
	if l != nil {
		l.show(pages.Glance{})
	}
}

// glance is a job on one line, "" for none.
func (p *paper) glance(g pages.Glance) string {
	if g.Job == "" {
		return ""
	}
	parts := []string{}
	if g.Steps > 0 {
		parts = append(parts, fmt.Sprintf("step %d of %d %s", g.Step, g.Steps, p.fit(p.bar(float64(g.Step-1), float64(g.Steps), 10), 10)))
	}
	if g.OnStep.Of > 0 {
		parts = append(parts, fmt.Sprintf("step %s of %s", spanClock(g.OnStep.Worked), spanClock(g.OnStep.Of)))
	}
	job := "job " + spanClock(g.Clock.Worked)
	if g.Clock.Of > 0 {
		job += fmt.Sprintf(" of %s in the book", spanClock(g.Clock.Of))
	}
	parts = append(parts, job)
	switch {
	case g.Held != nil:
		parts = append(parts, strings.TrimRight("on hold "+spanClock(g.Held.For)+" "+g.Held.Reason, " "))
	case g.Recording:
		parts = append(parts, "taking a note")
	case !g.Listening:
		parts = append(parts, "not listening")
	}
	return strings.Join(parts, "   ")
}

func spanClock(s narrator.Span) string { return stopwatch(s.Seconds() / 60) }
