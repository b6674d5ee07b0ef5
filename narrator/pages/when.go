package pages

import (
	"fmt"
	"html/template"
	"math"
	"strings"
	"time"

	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"

	"stepcaller/narrator/labour"
	"stepcaller/procedures/tongue"
)

// writer writes figures and times as the shop's language does.
type writer struct {
	*tongue.Tongue
	print *message.Printer
	zone  *time.Location
}

func newWriter(t *tongue.Tongue, zone *time.Location) writer {
	return writer{t, message.NewPrinter(language.Make(t.Tag())), zone}
}

// funcs are what the review's templates write with.
func (w writer) funcs() template.FuncMap {
	return template.FuncMap{
		"num": w.number, "decimal": w.decimal, "clock": clock, "hm": w.hoursMinutes, "minutes": w.minutes, "signed": w.signed, "day": w.day, "time": w.time,
		"moment": w.moment, "pc": percent, "reason": w.reason, "kind": w.kind, "share": w.share, "local": w.local, "activity": w.activity, "why": w.why, "tenths": w.tenths, "date": w.date, "name": fileName,
	}
}

// number is a figure with so many decimals.
func (w writer) number(value float64, decimals int) string {
	return w.print.Sprint(number.Decimal(value, number.Scale(decimals)))
}

// decimal is a decimal number as it was said, with the language's own mark.
func (w writer) decimal(number string) string {
	mark := strings.Trim(w.number(0.5, 1), "05")
	return strings.Replace(number, ".", mark, 1)
}

// share is a share of 1 as a percentage.
func (w writer) share(value float64) string { return w.F("%s %%", w.number(100*value, 0)) }

// clock is a length of time as a stopwatch shows it, m:ss.
func clock(s labour.Seconds) string {
	whole := int64(math.Round(math.Abs(float64(s))))
	sign := ""
	if s < 0 && whole > 0 {
		sign = "−"
	}
	return fmt.Sprintf("%s%d:%02d", sign, whole/60, whole%60)
}

// signed is a difference of times, m:ss with its sign.
func (w writer) signed(s labour.Seconds) string {
	if text := clock(s); s < 0 || text == "0:00" {
		return text
	}
	return "+" + clock(s)
}

// hoursMinutes is a length of time in hours and minutes.
func (w writer) hoursMinutes(s labour.Seconds) string {
	whole := int64(math.Round(float64(s) / 60))
	if whole < 60 {
		return w.F("%d min", whole)
	}
	return w.F("%d h %02d min", whole/60, whole%60)
}

// minutes is a length of time given in minutes.
func (w writer) minutes(m float64) string {
	if m < 10 {
		return w.F("%s min", w.number(m, 1))
	}
	return w.F("%s min", w.number(m, 0))
}

// tenths is a length of time given in minutes, in hours and tenths.
func (w writer) tenths(minutes float64) string { return w.F("%s h", w.number(minutes/60, 1)) }

// date is a date, short.
func (w writer) date(t time.Time) string { return t.In(w.zone).Format(w.F("2006-01-02")) }

// day is a date in words.
func (w writer) day(t time.Time) string {
	t = t.In(w.zone)
	return w.F("%s %d %s %d", w.F(t.Weekday().String()), t.Day(), w.F(t.Month().String()), t.Year())
}

// time is the time of a day.
func (w writer) time(t time.Time) string { return t.In(w.zone).Format("15:04") }

// moment is a date, short, with the time.
func (w writer) moment(t time.Time) string { return t.In(w.zone).Format(w.F("2006-01-02 15:04")) }

// localLayout is what a datetime-local input holds (HTML Living Standard, 2.3.5.7).
const localLayout = "2006-01-02T15:04:05"

func (w writer) local(t time.Time) string { return t.In(w.zone).Format(localLayout) }

// percent places something in a drawing that is as wide as its page.
func percent(x float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", x), "0"), ".") + "%"
}

// reason is why a job stood still.
func (w writer) reason(name string) string {
	if name == "" {
		name = labour.Unstated
	}
	return w.F(name)
}

// kind is who pays for a job.
func (w writer) kind(name string) string { return w.F(name) }

func (w writer) activity(name string) string {
	switch name {
	case "worked":
		return w.F("Worked")
	case "paused":
		return w.F("Paused")
	case "unsure":
		return w.F("Unsure")
	case "gap":
		return w.F("Gap")
	}
	return name
}
