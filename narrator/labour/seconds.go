package labour

import (
	"fmt"

	"stepcaller/narrator"
)

// Seconds is a length of time on a sheet, a whole number of milliseconds.
type Seconds float64

// secondsIn rounds a span to the millisecond, half away from zero.
func secondsIn(s narrator.Span) Seconds {
	const unit = narrator.Second / 1000
	half := unit / 2
	if s < 0 {
		half = -half
	}
	return Seconds((s+half)/unit) / 1000
}

// clock writes a length of time as a stopwatch shows it, m:ss.
func (s Seconds) clock() string {
	sign := ""
	if s < 0 {
		sign, s = "-", -s
	}
	whole := int64(s + 0.5)
	if whole == 0 {
		sign = ""
	}
	return fmt.Sprintf("%s%d:%02d", sign, whole/60, whole%60)
}

// Hours is the same length in hours.
func (s Seconds) Hours() float64 { return float64(s) / 3600 }
