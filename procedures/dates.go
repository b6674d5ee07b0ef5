package procedures

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

var months = [...]string{"January", "February", "March", "April", "May", "June", "July", "August",
	"September", "October", "November", "December"}

// sayDate is a date as people say it: "14 March 2026". Day first, unless only
// month first makes a date.
func sayDate(day, month, year string) (string, bool) {
	d, _ := strconv.Atoi(day)
	m, _ := strconv.Atoi(month)
	if m > 12 && d <= 12 {
		d, m = m, d
	}
	if d < 1 || d > 31 || m < 1 || m > 12 {
		return "", false
	}
	return fmt.Sprintf("%d %s %s", d, months[m-1], year), true
}

// sayMonth is a month of a year: "November 2026".
func sayMonth(p phrase) (string, bool) {
	m, _ := strconv.Atoi(p.part[1])
	return months[m-1] + " " + p.part[2], true
}

// sayMonthName is a shortened month beside a figure.
func sayMonthName(p phrase) (string, bool) {
	for _, month := range months {
		if strings.HasPrefix(month, p.part[1][:3]) {
			return month, dayBefore.MatchString(p.before) || strings.HasPrefix(p.rest, " ") && startsInDigit(p.rest[1:])
		}
	}
	return "", false
}

var dayBefore = regexp.MustCompile(`\d $`)

// sayClock is a time of day: "14 30", "8 o'clock", "9 oh 5". A single figure before
// the colon is an hour only after a word such as "at"; else it is a ratio.
func sayClock(p phrase) (string, bool) {
	hour, minute := strings.TrimPrefix(p.part[1], "0"), p.part[2]
	if hour == "" {
		hour = "zero"
	}
	half := ""
	if p.part[3] != "" {
		half = " " + spell(p.part[3]+"m")
	}
	switch {
	case half != "" && minute == "00":
		return hour + half, true
	case half != "" && minute[0] == '0':
		return hour + " oh " + minute[1:] + half, true
	case half != "":
		return hour + " " + minute + half, true
	case strings.HasPrefix(p.rest, ":"), len(p.part[1]) == 1 && !timeBefore.MatchString(p.before):
		return "", false
	case minute == "00":
		return hour + " o'clock", true
	case minute[0] == '0':
		return hour + " oh " + minute[1:], true
	default:
		return hour + " " + minute, true
	}
}

// timeBefore finds that a single figure and a colon begin a time of day and no
// ratio.
var timeBefore = regexp.MustCompile(`\b(?:at|by|until|till|from|before|after) $`)
