package journal

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// dayPrefix begins the id of every job of a day, "2000-01-01-".
func dayPrefix(day time.Time) string { return day.Format(time.DateOnly) + "-" }

// NextID returns the id for a job that begins on a day, after those given, of which only the ones of that day count.
func NextID(day time.Time, ids []string) string {
	prefix, last := dayPrefix(day), 0
	for _, id := range ids {
		if number, ok := strings.CutPrefix(id, prefix); ok {
			if n, err := strconv.Atoi(number); err == nil {
				last = max(last, n)
			}
		}
	}
	return fmt.Sprintf("%s%d", prefix, last+1)
}
