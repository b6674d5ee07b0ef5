package procedures

import (
	"cmp"
	"errors"
	"fmt"
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"unicode"
)

// TorqueUnit is a unit a torque may be written and spoken in.
type TorqueUnit int

// The torque units.
const (
	NewtonMetre TorqueUnit = iota
	PoundFoot
	PoundInch
	KilogramMetre // kilogram-force metre
)

// torqueUnit is what there is to know about a unit of torque.
type torqueUnit struct {
	symbol    string
	one, many string // spoken
	force     string // its force in newtons, exact
	arm       string // its lever arm in metres, exact
	spelling  string // pattern of the written unit in lower case; a blank stands for what may separate the halves
}

// torqueUnits is indexed by TorqueUnit. The pound-force, the kilogram-force, the
// foot and the inch are exact (NIST SP 811, appendix B).
var torqueUnits = [...]torqueUnit{
	NewtonMetre: {"N·m", "newton metre", "newton metres", "1", "1",
		"(?:n|newton) (?:m|met(?:re|er)s?)"},
	PoundFoot: {"lbf·ft", "foot pound", "foot pounds", "4.4482216152605", "0.3048",
		"(?:lbf?s?|pounds?) (?:ft|foot|feet)|(?:ft|foot|feet) (?:lbf?s?|pounds?)"},
	PoundInch: {"lbf·in", "inch pound", "inch pounds", "4.4482216152605", "0.0254",
		"(?:lbf?s?|pounds?) (?:in|inch|inches)|(?:in|inch|inches) (?:lbf?s?|pounds?)"},
	KilogramMetre: {"kgf·m", "kilogram metre", "kilogram metres", "9.80665", "1",
		"(?:kgf?|kilograms?) (?:m|met(?:re|er)s?)|(?:m|met(?:re|er)s?) (?:kgf?|kilograms?)"},
}

// TorqueUnits lists the units in the order of their constants.
func TorqueUnits() []TorqueUnit {
	return []TorqueUnit{NewtonMetre, PoundFoot, PoundInch, KilogramMetre}
}

// String is the unit's symbol.
func (u TorqueUnit) String() string { return torqueUnits[u].symbol }

// rat is the unit in newton metres, exactly.
func (u TorqueUnit) rat() *big.Rat {
	return new(big.Rat).Mul(mustRat(torqueUnits[u].force), mustRat(torqueUnits[u].arm))
}

// pattern matches every accepted spelling of the unit, in upper or lower case.
func (u TorqueUnit) pattern() string {
	var b strings.Builder
	for _, r := range torqueUnits[u].spelling {
		switch {
		case r == ' ':
			b.WriteString(`[\s.·⋅•*×/‑–-]*`)
		case unicode.IsLower(r):
			fmt.Fprintf(&b, "[%c%c]", r, unicode.ToUpper(r))
		default:
			b.WriteRune(r)
		}
	}
	return "(?:" + b.String() + ")"
}

// mustRat reads one of the constants above.
func mustRat(text string) *big.Rat {
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		panic("procedures: not a number: " + text)
	}
	return r
}

// unitPatterns matches a whole written unit, indexed by TorqueUnit.
var unitPatterns = func() (all []*regexp.Regexp) {
	for _, u := range TorqueUnits() {
		all = append(all, regexp.MustCompile(`^\s*`+u.pattern()+`\.?\s*$`))
	}
	return all
}()

// ParseTorqueUnit reads a unit as the trade writes it: "N·m", "Nm", "lb-ft",
// "ft-lb", "in-lb", "kgf·m" and the like, in upper or lower case.
func ParseTorqueUnit(text string) (TorqueUnit, error) {
	for _, u := range TorqueUnits() {
		if unitPatterns[u].MatchString(text) {
			return u, nil
		}
	}
	return 0, fmt.Errorf("%q is no unit of torque; use N·m, lbf·ft, lbf·in or kgf·m", strings.TrimSpace(text))
}

// Torque is a torque as it was written: a decimal number and a unit. The zero
// value is 0 N·m. Torques are compared by what was written with ==, and by size
// with Cmp.
type Torque struct {
	digits int64 // the number without its decimal point
	places int   // digits after the decimal point
	unit   TorqueUnit
}

// torqueText splits a torque into number and unit.
var torqueText = regexp.MustCompile(`^\s*` + torqueNumber + `\s*([^\s0-9.,].*?)\s*$`)

// torqueNumber matches the number of a torque: its whole part and its decimals.
const torqueNumber = `([0-9]{1,6})(?:\.([0-9]{1,4}))?`

// ParseTorque reads a number with an optional decimal point, followed by a unit
// of torque. The error says what to write instead.
func ParseTorque(text string) (Torque, error) {
	m := torqueText.FindStringSubmatch(text)
	if m == nil {
		if _, err := strconv.ParseFloat(strings.TrimSpace(text), 64); err == nil {
			return Torque{}, fmt.Errorf("torque %q has no unit; write it with one, such as 10 N·m or 7 lbf·ft", text)
		}
		return Torque{}, fmt.Errorf("%q is no torque; write a number and a unit, such as 10 N·m or 7 lbf·ft", text)
	}
	unit, err := ParseTorqueUnit(m[3])
	if err != nil {
		return Torque{}, err
	}
	digits, err := strconv.ParseInt(m[1]+m[2], 10, 64)
	if err != nil {
		return Torque{}, fmt.Errorf("reading torque %q: %w", text, err)
	}
	if digits == 0 {
		return Torque{}, errors.New("a torque of zero; give the value, or leave the entry out")
	}
	return Torque{digits, len(m[2]), unit}, nil
}

// Unit is the unit the torque was written in.
func (t Torque) Unit() TorqueUnit { return t.unit }

// number is the written number, exactly.
func (t Torque) number() *big.Rat {
	scale := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(t.places)), nil)
	return new(big.Rat).SetFrac(big.NewInt(t.digits), scale)
}

// figures is the written number as decimal digits.
func (t Torque) figures() string { return t.number().FloatString(t.places) }

// In is the torque in another unit, exactly.
func (t Torque) In(unit TorqueUnit) *big.Rat {
	r := new(big.Rat).Mul(t.number(), t.unit.rat())
	return r.Quo(r, unit.rat())
}

// NewtonMetres is the torque in N·m, to the nearest float64.
func (t Torque) NewtonMetres() float64 {
	f, _ := t.In(NewtonMetre).Float64()
	return f
}

// Cmp compares two torques by size: -1, 0 or 1.
func (t Torque) Cmp(o Torque) int { return t.In(NewtonMetre).Cmp(o.In(NewtonMetre)) }

// String is the torque as written, with the unit's standard symbol.
func (t Torque) String() string { return t.figures() + " " + t.unit.String() }

// MarshalText writes the torque as String does.
func (t Torque) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// UnmarshalText reads what ParseTorque reads.
func (t *Torque) UnmarshalText(text []byte) (err error) {
	*t, err = ParseTorque(string(text))
	return err
}

// Degrees is a unit of temperature, and of temperature difference.
type Degrees int

// The units of temperature.
const (
	Celsius Degrees = iota
	Fahrenheit
)

// Temperature converts a temperature from one scale to the other: 212 °F is
// 100 °C.
func Temperature(value float64, from, to Degrees) float64 {
	switch cmp.Compare(from, to) {
	case 1:
		return (value - 32) * 5 / 9
	case -1:
		return value*9/5 + 32
	default:
		return value
	}
}

// TemperatureDifference converts a rise or fall in temperature, to which the
// offset of 32 does not apply: a rise of 36 °F is one of 20 °C.
func TemperatureDifference(value float64, from, to Degrees) float64 {
	switch cmp.Compare(from, to) {
	case 1:
		return value * 5 / 9
	case -1:
		return value * 9 / 5
	default:
		return value
	}
}
