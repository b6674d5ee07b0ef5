package procedures

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

var (
	smallNumbers = [...]string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
		"eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"}
	tens          = [...]string{"", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"}
	smallOrdinals = map[string]string{"one": "first", "two": "second", "three": "third", "five": "fifth",
		"eight": "eighth", "nine": "ninth", "twelve": "twelfth"}
)

// cardinal is a whole number from 0 to 999 in words.
func cardinal(n int) string {
	switch {
	case n < 20:
		return smallNumbers[n]
	case n < 100 && n%10 == 0:
		return tens[n/10]
	case n < 100:
		return tens[n/10] + "-" + smallNumbers[n%10]
	case n%100 == 0:
		return smallNumbers[n/100] + " hundred"
	default:
		return smallNumbers[n/100] + " hundred and " + cardinal(n%100)
	}
}

// Ordinal is a place in a row in words, "twenty-first", for 1 to 999; outside it
// is "number" and the figure.
func Ordinal(n int) string {
	if n < 1 || n > 999 {
		return fmt.Sprintf("number %d", n)
	}
	words := cardinal(n)
	cut := strings.LastIndexAny(words, " -") + 1
	head, last := words[:cut], words[cut:]
	switch irregular, ok := smallOrdinals[last]; {
	case ok:
		return head + irregular
	case strings.HasSuffix(last, "y"):
		return head + strings.TrimSuffix(last, "y") + "ieth"
	default:
		return head + last + "th"
	}
}

// fractionWords is a common fraction in words: "three eighths". It knows the
// denominators that stand on spanners and drawings.
func fractionWords(top, bottom int) (string, bool) {
	if top < 1 || top >= bottom {
		return "", false
	}
	var part string
	switch bottom {
	case 2:
		part = "half"
	case 4:
		part = "quarter"
	case 3, 5, 6, 8, 10, 12, 16, 32, 64:
		part = Ordinal(bottom)
	default:
		return "", false
	}
	if top > 1 {
		part += "s"
	}
	return cardinal(top) + " " + part, true
}

// Say is a torque ready to speak, in the technician's unit. A value that has to
// be converted is rounded to three significant figures and, unless that is exact,
// said with "about".
func Say(t Torque, in TorqueUnit) string {
	if in == t.unit {
		return sayTorque(t.figures(), in)
	}
	exact := t.In(in)
	figures := significant(exact, 3)
	if rounded, ok := new(big.Rat).SetString(figures); ok && rounded.Cmp(exact) == 0 {
		return sayTorque(figures, in)
	}
	return "about " + sayTorque(figures, in)
}

func sayTorque(figures string, unit TorqueUnit) string {
	word := torqueUnits[unit].many
	if figures == "1" {
		word = torqueUnits[unit].one
	}
	return sayDecimal(figures) + " " + word
}

// significant is a positive number rounded half up to so many significant figures,
// without zeros at the end of its decimals.
func significant(value *big.Rat, figures int) string {
	f, _ := value.Float64()
	decimals := figures - 1 - int(math.Floor(math.Log10(f)))
	if decimals >= 0 {
		text := value.FloatString(decimals)
		if strings.Contains(text, ".") {
			text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
		}
		return text
	}
	scale := new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(-decimals)), nil))
	return new(big.Rat).Quo(value, scale).FloatString(0) + strings.Repeat("0", -decimals)
}

// SayDuration is a length of time as people say it: seconds below a minute,
// minutes and seconds below ten minutes, then minutes, then hours and minutes.
// What is left out is rounded to the nearest.
func SayDuration(d time.Duration) string {
	d = max(d, -d)
	switch {
	case d < 10*time.Minute-time.Second/2:
		d = d.Round(time.Second)
	default:
		d = d.Round(time.Minute)
	}
	hours, minutes, seconds := int(d/time.Hour), int(d%time.Hour/time.Minute), int(d%time.Minute/time.Second)
	var parts []string
	for _, p := range []struct {
		n    int
		unit string
	}{{hours, "hour"}, {minutes, "minute"}, {seconds, "second"}} {
		if p.n > 0 {
			parts = append(parts, counted(p.n, p.unit))
		}
	}
	if len(parts) == 0 {
		return "0 seconds"
	}
	return strings.Join(parts, " ")
}

func counted(n int, unit string) string {
	if n == 1 {
		return "1 " + unit
	}
	return strconv.Itoa(n) + " " + unit + "s"
}

// SayHours is labour time ready to speak: "1 point 6 hours".
func SayHours(t Tenths) string { return SayBook(t.Hours()) }

// SayBook is book time ready to speak: "1 point 6 hours".
func SayBook(h Hours) string {
	figures := strings.TrimSuffix(h.String(), ".0")
	sign := ""
	if strings.HasPrefix(figures, "-") {
		sign, figures = "minus ", figures[1:]
	}
	if figures == "1" {
		return sign + "1 hour"
	}
	return sign + sayDecimal(figures) + " hours"
}

// SayList joins entries as in a sentence: "pads, discs and bolts".
func SayList(entries []string) string {
	if len(entries) < 2 {
		return strings.Join(entries, "")
	}
	last := len(entries) - 1
	return strings.Join(entries[:last], ", ") + " and " + entries[last]
}

// Number is what heard digits mean: "eight five point two" is 85.2, "minus one"
// is -1. It refuses no digits, two points, and a minus that does not come first.
func Number(words []string) (float64, error) {
	digits, err := heardDigits(words)
	if err != nil {
		return 0, err
	}
	value, err := strconv.ParseFloat(digits, 64)
	if err != nil || math.IsInf(value, 0) {
		return 0, fmt.Errorf("%q is no number; say digits, such as eight five point two", strings.Join(words, " "))
	}
	return value, nil
}

// Decimal is what heard digits mean, exactly, and the figures as said: "eight point five oh" is 8.50. It refuses what Number
// refuses.
func Decimal(words []string) (figures string, value decimal.Decimal, err error) {
	figures, err = heardDigits(words)
	if err != nil {
		return "", decimal.Zero, err
	}
	if strings.HasPrefix(strings.TrimPrefix(figures, "-"), ".") {
		figures = strings.Replace(figures, ".", "0.", 1)
	}
	figures = strings.TrimSuffix(figures, ".")
	value, err = decimal.NewFromString(figures)
	if err != nil {
		return "", decimal.Zero, fmt.Errorf("%q is no number; say digits, such as eight five point two", strings.Join(words, " "))
	}
	return figures, value, nil
}

// heardDigits writes the words down in figures.
func heardDigits(words []string) (string, error) {
	var b strings.Builder
	for i, word := range words {
		switch word {
		case "minus":
			if i > 0 {
				return "", errors.New("minus comes before the first digit")
			}
			b.WriteByte('-')
		case "point":
			if strings.Contains(b.String(), ".") {
				return "", errors.New("a number has one point")
			}
			b.WriteByte('.')
		case "oh":
			b.WriteByte('0')
		default:
			digit := slices.Index(smallNumbers[:10], word)
			if digit < 0 {
				return "", fmt.Errorf("%q is no digit", word)
			}
			b.WriteByte('0' + byte(digit))
		}
	}
	return b.String(), nil
}
