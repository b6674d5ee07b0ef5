package main

import (
	"fmt"
	"math"
	"os"
	"strings"
	"unicode/utf8"

	"stepcaller/narrator/labour"
)

// paper is what a review is drawn on: lines of text with small bars.
type paper struct {
	strings.Builder
	plain bool // no letters but ASCII for bars
}

func newPaper(invented bool) *paper {
	p := &paper{plain: plainText(os.Getenv)}
	if invented {
		p.line("These jobs are invented: nobody worked them.")
		p.line("")
	}
	return p
}

// plainText reports whether bars are to be drawn in ASCII: NO_COLOR asks for plain text, and a locale other than UTF-8 cannot show blocks.
func plainText(env func(string) string) bool {
	if env("NO_COLOR") != "" {
		return true
	}
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if value := env(name); value != "" {
			value = strings.ToLower(value)
			return !strings.Contains(value, "utf-8") && !strings.Contains(value, "utf8")
		}
	}
	return true
}

func (p *paper) line(format string, args ...any) {
	p.WriteString(strings.TrimRight(fmt.Sprintf(format, args...), " ") + "\n")
}

// bar is value of scale on a line of so many letters, to an eighth of a letter.
func (p *paper) bar(value, scale float64, width int) string {
	if scale <= 0 || value <= 0 {
		return ""
	}
	eighths := int(math.Round(8 * float64(width) * min(1, value/scale)))
	if p.plain {
		return strings.Repeat("#", max(1, (eighths+4)/8))
	}
	eighths = max(1, eighths)
	bar := strings.Repeat("█", eighths/8)
	if rest := eighths % 8; rest > 0 {
		bar += string([]rune("▏▎▍▌▋▊▉")[rest-1])
	}
	return bar
}

// spread draws an interval from low to high with a mark in it, on a line from 0 to scale.
func (p *paper) spread(low, mark, high, scale float64, width int) string {
	if scale <= 0 {
		return ""
	}
	at := func(v float64) int { return min(width-1, int(float64(width)*v/scale)) }
	line, dot := '─', '●'
	if p.plain {
		line, dot = '-', 'o'
	}
	letters := []rune(strings.Repeat(" ", width))
	for i := at(low); i <= at(high); i++ {
		letters[i] = line
	}
	letters[at(mark)] = dot
	return strings.TrimRight(string(letters), " ")
}

// fit makes a text so many letters wide.
func (p *paper) fit(text string, width int) string {
	letters := []rune(text)
	if len(letters) <= width {
		return text + strings.Repeat(" ", width-len(letters))
	}
	if p.plain {
		return string(letters[:width-2]) + ".."
	}
	return string(letters[:width-1]) + "…"
}

// right makes a text so many letters wide, at the right.
func right(text string, width int) string {
	return strings.Repeat(" ", max(0, width-utf8.RuneCountInString(text))) + text
}

// stopwatch writes minutes as a stopwatch does, m:ss, from an hour on h:mm:ss.
func stopwatch(minutes float64) string {
	seconds := int64(math.Round(60 * minutes))
	if seconds >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", seconds/3600, seconds/60%60, seconds%60)
	}
	return fmt.Sprintf("%d:%02d", seconds/60, seconds%60)
}

// inHours writes minutes as hours to a hundredth, for whole jobs.
func inHours(minutes float64) string { return fmt.Sprintf("%.2f h", minutes/60) }

// inMinutes are seconds in minutes.
func inMinutes(s labour.Seconds) float64 { return float64(s) / 60 }

// tenths writes seconds as hours in tenths.
func tenths(s labour.Seconds) string { return fmt.Sprintf("%.1f h", s.Hours()) }

// percent writes a share, "-" for none.
func percent(share *float64) string {
	if share == nil {
		return "-"
	}
	return fmt.Sprintf("%.0f %%", 100**share)
}

// bookHours writes hours as the book does: in tenths, finer where it must.
func bookHours(h float64) string {
	text := fmt.Sprintf("%.2f", h)
	return strings.TrimSuffix(text, "0") + " h"
}

// shownBook is bookHours, "-" where no hours are booked.
func shownBook(h float64) string {
	if h == 0 {
		return "-"
	}
	return bookHours(h)
}

// plural counts things in English.
func plural(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
