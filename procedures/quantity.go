package procedures

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/shopspring/decimal"
)

// number is a plain number's text.
func (r *reader) number(path string, n node) (text string, ok bool) {
	switch n.(type) {
	case *ast.IntegerNode, *ast.FloatNode:
		return n.GetToken().Value, true
	}
	r.fail(path, n, nameOf(path)+" should be a number", "Write digits, such as 10 or 0.6, without quotes")
	return "", false
}

// formatValue is the format number; files newer than the program are refused.
func formatValue() value[int] {
	return value[int]{countShape(1, FormatVersion), func(r *reader, at string, n node) (int, bool) {
		text, ok := r.number(at, n)
		if !ok {
			return 0, false
		}
		format, err := strconv.Atoi(text)
		switch {
		case err != nil || format < 1:
			r.fail(at, n, fmt.Sprintf("format %s", text), fmt.Sprintf("Write a whole number from 1 to %d", FormatVersion))
		case format > FormatVersion:
			r.fail(at, n, fmt.Sprintf("the file is format %d, this program reads up to %d", format, FormatVersion),
				"Use a newer version of the program")
		default:
			return format, true
		}
		return 0, false
	}}
}

// hoursValue is book time.
func hoursValue() value[Hours] {
	s := shape{"title": "hours", "type": "number", "minimum": 0, "maximum": maxHours, "multipleOf": 0.01}
	return value[Hours]{s, func(r *reader, at string, n node) (Hours, bool) {
		text, ok := r.number(at, n)
		if !ok {
			return 0, false
		}
		h, err := ParseHours(text)
		switch {
		case err != nil:
			r.fail(at, n, nameOf(at)+": "+err.Error(), "Write tenths of an hour, such as 1.6")
		case h < 0:
			r.fail(at, n, fmt.Sprintf("%s of %s h is below zero", nameOf(at), h), "Write the hours without a minus")
		case !h.InTenths():
			r.report(at, placeOf(n), Question, fmt.Sprintf("%s of %s h is not in tenths", nameOf(at), h),
				"Check it against the labour time guide")
		}
		return h, err == nil && h >= 0
	}}
}

// maxMinutes bounds what one step may be expected to take: a day.
const maxMinutes = 24 * 60

// minutesValue is a time in minutes, 0 included.
func minutesValue() value[float64] {
	s := shape{"title": "minutes", "type": "number", "minimum": 0, "maximum": maxMinutes}
	return value[float64]{s, func(r *reader, at string, n node) (float64, bool) {
		text, ok := r.number(at, n)
		if !ok {
			return 0, false
		}
		m, err := strconv.ParseFloat(text, 64)
		switch {
		case err != nil || m > maxMinutes:
			r.fail(at, n, fmt.Sprintf("%q minutes", text), fmt.Sprintf("Write a number up to %d", maxMinutes))
		case m < 0:
			r.fail(at, n, fmt.Sprintf("%s minutes are below zero", text), "Write the minutes without a minus")
		default:
			return m, true
		}
		return 0, false
	}}
}

// waitValue is a time in minutes, above 0.
func waitValue() value[float64] {
	minutes := minutesValue()
	s := shape{"title": "minutes", "type": "number", "exclusiveMinimum": 0, "maximum": maxMinutes}
	return value[float64]{s, func(r *reader, at string, n node) (float64, bool) {
		m, ok := minutes.read(r, at, n)
		if ok && m == 0 {
			r.fail(at, n, "a wait of no minutes", "Write how many, or leave the entry out")
			return 0, false
		}
		return m, ok
	}}
}

// countValue is a whole number between two bounds, both included.
func countValue(least, most int) value[int] {
	return value[int]{countShape(least, most), func(r *reader, at string, n node) (int, bool) {
		text, ok := r.number(at, n)
		if !ok {
			return 0, false
		}
		value, ok := new(big.Rat).SetString(text)
		if !ok || !value.IsInt() || value.Cmp(big.NewRat(int64(least), 1)) < 0 || value.Cmp(big.NewRat(int64(most), 1)) > 0 {
			r.fail(at, n, fmt.Sprintf("%s of %s", nameOf(at), text), fmt.Sprintf("Write a whole number from %d to %d", least, most))
			return 0, false
		}
		return int(value.Num().Int64()), true
	}}
}

// The bounds of a reading's limits.
const (
	maxDecimal    = 1_000_000
	decimalPlaces = 4
)

// decimalValue is a limit of a reading, kept exactly as written.
func decimalValue() value[*decimal.Decimal] {
	s := shape{"title": "number", "type": "number", "minimum": -maxDecimal, "maximum": maxDecimal, "multipleOf": 0.0001}
	return value[*decimal.Decimal]{s, func(r *reader, at string, n node) (*decimal.Decimal, bool) {
		text, ok := r.number(at, n)
		if !ok {
			return nil, false
		}
		d, err := decimal.NewFromString(text)
		switch {
		case err != nil || len(text) > 40 || d.Exponent() > 6 || d.Abs().GreaterThan(decimal.NewFromInt(maxDecimal)):
			r.fail(at, n, fmt.Sprintf("%s of %s", nameOf(at), text), fmt.Sprintf("Write a number from -%d to %d", maxDecimal, maxDecimal))
		case !d.Equal(d.Truncate(decimalPlaces)):
			r.fail(at, n, fmt.Sprintf("%s of %s is finer than any gauge", nameOf(at), text), fmt.Sprintf("Write it with up to %d decimals", decimalPlaces))
		default:
			return &d, true
		}
		return nil, false
	}}
}

// torqueValue is a torque with its unit.
func torqueValue() value[Torque] {
	return value[Torque]{torqueShape(), func(r *reader, at string, n node) (Torque, bool) {
		text, ok := r.scalar(at, n)
		if !ok {
			return Torque{}, false
		}
		t, err := ParseTorque(text)
		if err != nil {
			what, mend, _ := strings.Cut(err.Error(), "; ")
			r.fail(at, n, what, strings.ToUpper(mend[:1])+mend[1:])
		}
		return t, err == nil
	}}
}

// orderValue is the name of a tightening pattern.
func orderValue() value[Order] { return choiceOf("tightening order", Orders()...) }

// handValue is the hand of a thread: true for a left-hand one.
func handValue() value[bool] {
	hand := choiceOf("hand of a thread", "left", "right")
	return value[bool]{hand.shape, func(r *reader, at string, n node) (bool, bool) {
		text, ok := hand.read(r, at, n)
		return text == "left", ok
	}}
}

// timerStartValue is the moment at which a timer starts.
func timerStartValue() value[TimerStart] {
	moment := choiceOf("start of a timer", AtBegin, "end", ByWord)
	return value[TimerStart]{moment.shape, func(r *reader, at string, n node) (TimerStart, bool) {
		text, ok := moment.read(r, at, n)
		if text == "end" {
			text = AtEnd
		}
		return text, ok
	}}
}
