package procedures

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Hours counts hundredths of an hour (36 s each), the finest step in which book
// time is written. Sums of it are exact.
type Hours int64

// Duration is the same time as a duration.
func (h Hours) Duration() time.Duration { return time.Duration(h) * time.Hour / 100 }

// InTenths reports whether the time is a whole number of tenths, as the trade
// writes it.
func (h Hours) InTenths() bool { return h%10 == 0 }

// String is the time in hours with one decimal, or two where it needs them.
func (h Hours) String() string {
	if h.InTenths() {
		return Tenths(h / 10).String()
	}
	sign := ""
	if h < 0 {
		sign, h = "-", -h
	}
	return fmt.Sprintf("%s%d.%02d", sign, h/100, h%100)
}

// maxHours bounds the book time of one operation.
const maxHours = 1000

// ParseHours reads hours written with up to two decimals, such as "1.6".
func ParseHours(text string) (Hours, error) {
	whole, decimals, _ := strings.Cut(text, ".")
	if whole+decimals == "" {
		return 0, errors.New("no number of hours")
	}
	if len(strings.TrimRight(decimals, "0")) > 2 {
		return 0, errors.New("finer than a hundredth of an hour")
	}
	n, err := strconv.ParseInt(whole+(decimals + "00")[:2], 10, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is not a number of hours", text)
	}
	if n > maxHours*100 {
		return 0, fmt.Errorf("%s hours are more than %d", text, maxHours)
	}
	return Hours(n), nil
}

// Tenths counts tenths of an hour, 6 minutes each: the trade's unit of labour.
type Tenths int64

// TenthsIn rounds a duration to tenths of an hour, half up: 3 min 0 s is 0.1 h.
// A negative duration is rounded as its absolute value.
func TenthsIn(d time.Duration) Tenths {
	const tenth = 6 * time.Minute
	if d < 0 {
		return -TenthsIn(-d)
	}
	whole, rest := d/tenth, d%tenth
	if rest >= tenth/2 {
		whole++
	}
	return Tenths(whole)
}

// Duration is the same time as a duration.
func (t Tenths) Duration() time.Duration { return time.Duration(t) * 6 * time.Minute }

// String is the time in hours with one decimal.
func (t Tenths) String() string {
	sign := ""
	if t < 0 {
		sign, t = "-", -t
	}
	return fmt.Sprintf("%s%d.%d", sign, t/10, t%10)
}

// Hours is the same time in hundredths of an hour.
func (t Tenths) Hours() Hours { return Hours(t) * 10 }
