package narrator

import (
	"fmt"

	"stepcaller/procedures/tongue"
)

// clock is the time of a moment on the wall, as one says it: "ten past two". Languages other than English write it in figures.
func (w wording) clock(m Moment) string {
	at := m.Time().Local()
	if w.Tag() != tongue.English {
		return at.Format("15:04")
	}
	names := [...]string{5: "five", 10: "ten", 15: "quarter", 20: "twenty", 25: "twenty-five", 30: "half"}
	hours := [...]string{"twelve", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven"}
	minute, hour, side := at.Minute(), at.Hour(), "past"
	if minute > 30 {
		minute, hour, side = 60-minute, hour+1, "to"
	}
	on := hours[hour%12]
	switch {
	case minute == 0:
		return on + " o'clock"
	case minute%5 == 0:
		return names[minute] + " " + side + " " + on
	case minute == 1:
		return "1 minute " + side + " " + on
	}
	return fmt.Sprintf("%d minutes %s %s", minute, side, on)
}
