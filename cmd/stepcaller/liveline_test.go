package main

import (
	"bytes"
	"fmt"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/pages"
)

func TestLiveLine(t *testing.T) {
	var out bytes.Buffer
	l := &liveLine{w: &out, width: func() int { return 80 }}
	written := func(want string) {
		t.Helper()
		if got := out.String(); got != want {
			t.Errorf("written %q, want %q", got, want)
		}
		out.Reset()
	}
	g := pages.Glance{Job: "2000-01-01-1", Listening: true, Step: 6, Steps: 10, OnStep: pages.Clock{Worked: 130 * narrator.Second, Of: 5 * narrator.Minute},
		Clock: pages.Clock{Worked: 23 * narrator.Minute, Of: 48 * narrator.Minute}}
	const line = "step 6 of 10 █████        step 2:10 of 5:00   job 23:00 of 48:00 in the book"
	fmt.Fprintln(l, "before a job")
	written("before a job\n")
	l.show(g)
	written("\r\x1b[K" + line)
	l.show(g)
	written("")
	fmt.Fprintln(l, "heard next")
	written("\r\x1b[Kheard next\n" + line)
	g.Held = &pages.Hold{Reason: "parts", For: 61 * narrator.Second}
	l.width = func() int { return 30 }
	l.show(g)
	written("\r\x1b[Kstep 6 of 10 █████        st…")
	l.end()
	written("\r\x1b[K")
	if newLiveLine(&out) != nil {
		t.Error("a buffer has a live line")
	}
	var none *liveLine
	none.show(g)
	none.end()
}
