package procedures

import (
	"maps"
	"regexp"
	"slices"
	"strings"
)

// measure is the spoken form of a unit.
type measure struct{ one, many string }

// unitWords gives the spoken form of written units other than torques.
var unitWords = map[string]measure{
	"mm": {"millimetre", "millimetres"}, "cm": {"centimetre", "centimetres"}, "m": {"metre", "metres"},
	"km": {"kilometre", "kilometres"}, "μm": {"micron", "microns"}, "ft": {"foot", "feet"}, `"`: {"inch", "inches"},
	"inch": {"inch", "inches"}, "thou": {"thou", "thou"},
	"mm^2": {"square millimetre", "square millimetres"}, "cm^2": {"square centimetre", "square centimetres"},
	"mm^3": {"cubic millimetre", "cubic millimetres"}, "cm^3": {"cubic centimetre", "cubic centimetres"}, "cc": {"C C", "C C"},
	"m^3": {"cubic metre", "cubic metres"}, "m^2": {"square metre", "square metres"}, "m/s^2": {"metre per second squared", "metres per second squared"},
	"mi": {"mile", "miles"}, "N·cm": {"newton centimetre", "newton centimetres"}, "Ncm": {"newton centimetre", "newton centimetres"},
	"cNm": {"centinewton metre", "centinewton metres"}, "N·mm": {"newton millimetre", "newton millimetres"},
	"kN·m": {"kilonewton metre", "kilonewton metres"}, "kNm": {"kilonewton metre", "kilonewton metres"},
	"kg·cm": {"kilogram centimetre", "kilogram centimetres"}, "kgf·cm": {"kilogram centimetre", "kilogram centimetres"},
	"inHg": {"inch of mercury", "inches of mercury"}, "in Hg": {"inch of mercury", "inches of mercury"},
	"mmHg": {"millimetre of mercury", "millimetres of mercury"}, "mm Hg": {"millimetre of mercury", "millimetres of mercury"},
	"cfm": {"C F M", "C F M"}, "VA": {"volt amp", "volt amps"}, "kVA": {"K V A", "K V A"}, "Wh": {"watt hour", "watt hours"},
	"MM": {"millimetre", "millimetres"}, "CM": {"centimetre", "centimetres"}, "KM": {"kilometre", "kilometres"},
	"KG": {"kilogram", "kilograms"}, "Kg": {"kilogram", "kilograms"}, "BAR": {"bar", "bar"}, "Bar": {"bar", "bar"},
	"PSI": {"P S I", "P S I"}, "KPA": {"kilopascal", "kilopascals"}, "KPa": {"kilopascal", "kilopascals"},
	"ML": {"millilitre", "millilitres"}, "RPM": {"R P M", "R P M"},
	"ml": {"millilitre", "millilitres"}, "mL": {"millilitre", "millilitres"}, "cl": {"centilitre", "centilitres"},
	"l": {"litre", "litres"}, "L": {"litre", "litres"}, "ltr": {"litre", "litres"}, "qt": {"quart", "quarts"}, "pt": {"pint", "pints"},
	"gal": {"gallon", "gallons"}, "fl oz": {"fluid ounce", "fluid ounces"}, "oz": {"ounce", "ounces"},
	"mg": {"milligram", "milligrams"}, "g": {"gram", "grams"}, "kg": {"kilogram", "kilograms"}, "t": {"tonne", "tonnes"},
	"lb": {"pound", "pounds"}, "lbs": {"pound", "pounds"},
	"N": {"newton", "newtons"}, "kN": {"kilonewton", "kilonewtons"}, "lbf": {"pound force", "pounds force"},
	"bar": {"bar", "bar"}, "mbar": {"millibar", "millibar"}, "psi": {"P S I", "P S I"}, "Pa": {"pascal", "pascals"},
	"hPa": {"hectopascal", "hectopascals"}, "kPa": {"kilopascal", "kilopascals"}, "MPa": {"megapascal", "megapascals"},
	"V": {"volt", "volts"}, "mV": {"millivolt", "millivolts"}, "kV": {"kilovolt", "kilovolts"},
	"A": {"amp", "amps"}, "mA": {"milliamp", "milliamps"}, "Ah": {"amp hour", "amp hours"},
	"W": {"watt", "watts"}, "kW": {"kilowatt", "kilowatts"}, "kWh": {"kilowatt hour", "kilowatt hours"}, "hp": {"horsepower", "horsepower"},
	"Ω": {"ohm", "ohms"}, "mΩ": {"milliohm", "milliohms"}, "kΩ": {"kilohm", "kilohms"}, "MΩ": {"megohm", "megohms"}, "ohm": {"ohm", "ohms"},
	"μA": {"microamp", "microamps"}, "nF": {"nanofarad", "nanofarads"}, "mH": {"millihenry", "millihenries"}, "μs": {"microsecond", "microseconds"},
	"μF": {"microfarad", "microfarads"}, "Hz": {"hertz", "hertz"}, "kHz": {"kilohertz", "kilohertz"}, "MHz": {"megahertz", "megahertz"},
	"°C": {"degree Celsius", "degrees Celsius"}, "° C": {"degree Celsius", "degrees Celsius"},
	"°F": {"degree Fahrenheit", "degrees Fahrenheit"}, "° F": {"degree Fahrenheit", "degrees Fahrenheit"},
	"°": {"degree", "degrees"}, "deg": {"degree", "degrees"}, "K": {"kelvin", "kelvin"},
	"rpm": {"R P M", "R P M"}, "1/min": {"R P M", "R P M"}, "r/min": {"R P M", "R P M"}, "min-1": {"R P M", "R P M"},
	"l/100km": {"litre per 100 kilometres", "litres per 100 kilometres"}, "l/100 km": {"litre per 100 kilometres", "litres per 100 kilometres"}, "mph": {"mile per hour", "miles per hour"},
	"ms": {"millisecond", "milliseconds"}, "s": {"second", "seconds"}, "sec": {"second", "seconds"}, "secs": {"second", "seconds"},
	"min": {"minute", "minutes"}, "mins": {"minute", "minutes"}, "h": {"hour", "hours"}, "hr": {"hour", "hours"}, "hrs": {"hour", "hours"},
	"%": {"percent", "percent"}, "dB": {"decibel", "decibels"},
}

// measured names what a measure stands before as an adjective: a 10 millimetre
// socket, a 12 volt supply.
var measured = regexp.MustCompile(`(?i)^[ -](?:deep |long |short |ring |open |ball |flare |torx |hex |impact |combination |wheel |crow |drain |filter |cap |spark |plug |oil |strap |thin |offset |square |hub |union |brake |hydraulic )*` +
	`(?:sockets?|spanners?|wrench(?:es)?|hex|allen|key|bits?|drive|ratchet|extensions?|drill|punch|screws?|bolts?|nuts?|studs?|plugs?|` +
	`fuses?|supply|feed|relay|battery|lamp|bulb|hoses?|pipes?|tubes?|rings?|washers?|shims?|gap|gauge|bead|cable|adapter|bar|heads?|elbows?|bends?|angle|fittings?|breaker)\b`)

// symbolPatterns are the patterns of a table's symbols, the longest first.
func symbolPatterns[Words any](units map[string]Words) []string {
	symbols := slices.Collect(maps.Keys(units))
	slices.SortFunc(symbols, func(a, b string) int {
		if len(a) != len(b) {
			return len(b) - len(a)
		}
		return strings.Compare(a, b)
	})
	for i, symbol := range symbols {
		symbols[i] = regexp.QuoteMeta(symbol)
		if endsInWord(symbol) {
			symbols[i] += `\b`
		}
	}
	return symbols
}

// unitPattern matches any unit, the longest first.
var unitPattern = func() string {
	symbols := symbolPatterns(unitWords)
	var torques []string
	for _, u := range TorqueUnits() {
		torques = append(torques, u.pattern()+`\b`)
	}
	return "(?:" + strings.Join(append(torques, symbols...), "|") + ")"
}()

// measureOf is the spoken form of a written unit, or of one unit per another.
func measureOf(symbol string) (measure, bool) {
	if m, ok := unitWords[symbol]; ok {
		return m, true
	}
	if u, err := ParseTorqueUnit(symbol); err == nil {
		return measure{torqueUnits[u].one, torqueUnits[u].many}, true
	}
	if top, bottom, ok := strings.Cut(symbol, "/"); ok {
		t, ok := measureOf(top)
		if b, ok2 := measureOf(bottom); ok && ok2 {
			return measure{t.one + " per " + b.one, t.many + " per " + b.one}, true
		}
	}
	return measure{}, false
}

// sayMeasure is the unit as said after a number, in the singular for one of it
// and before what it measures.
func sayMeasure(symbol string, one bool, rest string) (string, bool) {
	m, ok := measureOf(symbol)
	switch {
	case !ok || ambiguous(symbol, rest):
		return "", false
	case one || measured.MatchString(rest):
		return m.one, true
	default:
		return m.many, true
	}
}

var (
	spelledNext = regexp.MustCompile(`^ [A-Z]\b`)
	figureNext  = regexp.MustCompile(`^[ -]\d`)
)

// ambiguous reports whether a single letter after a number is more likely the
// first of several letters, or part of an oil grade.
func ambiguous(symbol, rest string) bool {
	if len(symbol) != 1 || !isWord(rune(symbol[0])) {
		return false
	}
	return spelledNext.MatchString(rest) || strings.HasPrefix(rest, "-") && !measured.MatchString(rest) ||
		symbol == "W" && figureNext.MatchString(rest)
}
