package procedures

import (
	"regexp"
	"strconv"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// germanUnits gives the spoken form of written units: of one of them, and of several.
var germanUnits = map[string]measure{
	"mm": {"ein Millimeter", "Millimeter"}, "cm": {"ein Zentimeter", "Zentimeter"}, "m": {"ein Meter", "Meter"},
	"km": {"ein Kilometer", "Kilometer"}, "µm": {"ein Mikrometer", "Mikrometer"}, `"`: {"ein Zoll", "Zoll"}, "in": {"ein Zoll", "Zoll"},
	"mm²": {"ein Quadratmillimeter", "Quadratmillimeter"}, "cm²": {"ein Quadratzentimeter", "Quadratzentimeter"},
	"cm³": {"ein Kubikzentimeter", "Kubikzentimeter"}, "ccm": {"ein Kubikzentimeter", "Kubikzentimeter"}, "m³": {"ein Kubikmeter", "Kubikmeter"},
	"l": {"ein Liter", "Liter"}, "L": {"ein Liter", "Liter"}, "ml": {"ein Milliliter", "Milliliter"}, "cl": {"ein Zentiliter", "Zentiliter"},
	"g": {"ein Gramm", "Gramm"}, "mg": {"ein Milligramm", "Milligramm"}, "kg": {"ein Kilogramm", "Kilogramm"}, "t": {"eine Tonne", "Tonnen"},
	"N": {"ein Newton", "Newton"}, "kN": {"ein Kilonewton", "Kilonewton"},
	"N·m": {"ein Newtonmeter", "Newtonmeter"}, "Nm": {"ein Newtonmeter", "Newtonmeter"}, "N·cm": {"ein Newtonzentimeter", "Newtonzentimeter"},
	"Ncm": {"ein Newtonzentimeter", "Newtonzentimeter"}, "kN·m": {"ein Kilonewtonmeter", "Kilonewtonmeter"}, "kNm": {"ein Kilonewtonmeter", "Kilonewtonmeter"},
	"lbf·ft": {"ein Fußpfund", "Fußpfund"}, "lbf·in": {"ein Zollpfund", "Zollpfund"}, "kgf·m": {"ein Kilopondmeter", "Kilopondmeter"},
	"kpm": {"ein Kilopondmeter", "Kilopondmeter"},
	"bar": {"ein Bar", "Bar"}, "mbar": {"ein Millibar", "Millibar"}, "psi": {"ein P S I", "P S I"}, "Pa": {"ein Pascal", "Pascal"},
	"hPa": {"ein Hektopascal", "Hektopascal"}, "kPa": {"ein Kilopascal", "Kilopascal"}, "MPa": {"ein Megapascal", "Megapascal"},
	"V": {"ein Volt", "Volt"}, "mV": {"ein Millivolt", "Millivolt"}, "kV": {"ein Kilovolt", "Kilovolt"},
	"A": {"ein Ampere", "Ampere"}, "mA": {"ein Milliampere", "Milliampere"}, "Ah": {"eine Amperestunde", "Amperestunden"},
	"W": {"ein Watt", "Watt"}, "kW": {"ein Kilowatt", "Kilowatt"}, "kWh": {"eine Kilowattstunde", "Kilowattstunden"}, "PS": {"ein P S", "P S"},
	"Ω": {"ein Ohm", "Ohm"}, "mΩ": {"ein Milliohm", "Milliohm"}, "kΩ": {"ein Kiloohm", "Kiloohm"}, "MΩ": {"ein Megaohm", "Megaohm"},
	"Hz": {"ein Hertz", "Hertz"}, "kHz": {"ein Kilohertz", "Kilohertz"}, "dB": {"ein Dezibel", "Dezibel"},
	"°C": {"ein Grad Celsius", "Grad Celsius"}, "° C": {"ein Grad Celsius", "Grad Celsius"}, "°F": {"ein Grad Fahrenheit", "Grad Fahrenheit"},
	"°": {"ein Grad", "Grad"}, "K": {"ein Kelvin", "Kelvin"}, "%": {"ein Prozent", "Prozent"},
	"U/min": {"eine Umdrehung pro Minute", "Umdrehungen pro Minute"}, "1/min": {"eine Umdrehung pro Minute", "Umdrehungen pro Minute"},
	"l/100 km": {"ein Liter auf 100 Kilometer", "Liter auf 100 Kilometer"}, "l/100km": {"ein Liter auf 100 Kilometer", "Liter auf 100 Kilometer"},
	"ms": {"eine Millisekunde", "Millisekunden"}, "s": {"eine Sekunde", "Sekunden"}, "min": {"eine Minute", "Minuten"}, "h": {"eine Stunde", "Stunden"},
	"Sek.": {"eine Sekunde", "Sekunden"}, "Min.": {"eine Minute", "Minuten"}, "Std.": {"eine Stunde", "Stunden"},
}

// germanPer is what stands below the stroke: km/h, l/min.
var germanPer = map[string]string{"h": "Stunde", "min": "Minute", "s": "Sekunde", "m": "Meter", "km": "Kilometer", "l": "Liter"}

// germanLexicon is the trade's usual abbreviations.
var germanLexicon = Lexicon{
	"z.B": "zum Beispiel", "d.h": "das heißt", "u.a": "unter anderem", "o.ä": "oder ähnlich", "ca": "zirka", "ggf": "gegebenenfalls",
	"bzw": "beziehungsweise", "usw": "und so weiter", "inkl": "inklusive", "einschl": "einschließlich", "evtl": "eventuell", "max": "maximal",
	"Nr": "Nummer", "Stk": "Stück", "Abb": "Abbildung", "vgl": "vergleiche", "li": "links", "re": "rechts", "mind": "mindestens",
	"Fzg": "Fahrzeug", "Hst": "Hersteller", "Pos": "Position", "Tab": "Tabelle", "Kap": "Kapitel", "bes": "besonders", "SW": "Schlüsselweite",
	"ABS": "A B S", "ESP": "E S P", "ASR": "A S R", "OBD": "O B D", "ECU": "E C U", "LED": "L E D", "USB": "U S B", "ATF": "A T F", "HU": "H U",
	"AU": "A U", "AGR": "A G R", "ZKD": "Zylinderkopfdichtung", "OT": "oberen Totpunkt", "UT": "unteren Totpunkt", "KFZ": "K F Z", "Kfz": "K F Z",
	"PKW": "P K W", "Pkw": "P K W", "LKW": "L K W", "Lkw": "L K W", "DIN": "Din", "ISO": "Iso", "SAE": "S A E", "DPF": "D P F", "ZMS": "Z M S", "TÜV": "Tüf",
	"PSI": "P S I", "VIN": "Fahrgestellnummer", "OEM": "O E M", "RDKS": "R D K S", "EPB": "E P B", "BKV": "Bremskraftverstärker",
}

// germanSigns are characters that are said wherever they stand.
var germanSigns = map[rune]string{
	'&': " und ", '+': " plus ", '=': " gleich ", '<': " kleiner als ", '>': " größer als ", '≤': " höchstens ", '≥': " mindestens ",
	'~': " etwa ", '≈': " etwa ", '±': " plus minus ", '%': " Prozent ", '°': " Grad ", '/': " oder ", '×': " mal ", '÷': " geteilt durch ",
	'→': " nach ", 'Ø': " Durchmesser ", '⌀': " Durchmesser ", 'Ω': " Ohm ", 'µ': " Mikro ", '²': " Quadrat ", '³': " Kubik ",
}

// germanFolded brings what stands for the same thing to one form.
var germanFolded = strings.NewReplacer(
	"„", "", "“", "", "”", "", "»", "", "«", "", "‚", "", "‘", "", "’", "'", "″", `"`, "\u00a0", " ", "\u202f", " ",
	"−", "-", "‐", "-", "‑", "-", "⋅", "·", "∙", "·", "μ", "µ", "<=", "≤", ">=", "≥", "->", "→", "™", "", "®", "",
	"½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅓", " 1/3", "⅔", " 2/3", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
)

// germanFigure is a whole number or a decimal one, with a comma or a point.
const germanFigure = `\d+(?:[.,]\d+)?`

// germanUnit matches a unit, the longest first.
var germanUnit = func() string {
	return "(?:" + strings.Join(symbolPatterns(germanUnits), "|") + ")"
}()

// germanRule says one form of written text; groups are those of its pattern.
type germanRule struct {
	written *regexp.Regexp
	say     func(groups []string) string
}

// germanRules are applied one after the other, each to the whole text.
var germanRules = []germanRule{
	{regexp.MustCompile(`\bmin\. ?(\d)`), func(g []string) string { return "mindestens " + g[1] }},
	{regexp.MustCompile(`\b(\d{1,2}):(\d\d) ?(?:Uhr|h)\b`), func(g []string) string { return g[1] + " Uhr " + strings.TrimLeft(g[2], "0") }},
	{regexp.MustCompile(`\b(\d+) ?: ?(\d+)\b`), func(g []string) string { return g[1] + " zu " + g[2] }},
	{regexp.MustCompile(`\b(\d{1,2}\.\d{1,2}\.\d{4})\b`), func(g []string) string { return strings.ReplaceAll(g[1], ".", ". ") }},
	{regexp.MustCompile(`\b(\d{1,3})((?:\.\d{3})+)\b`), sayGermanThousands},
	{regexp.MustCompile(`\bM(\d{1,2}(?:[.,]\d)?)((?: ?[x×*] ?` + germanFigure + `)*)(?: (\d{1,2}\.\d)\b)?`), sayGermanThread},
	{regexp.MustCompile(`\b(Festigkeitsklasse|Festigkeit|Klasse|Güte) (\d{1,2})\.(\d)\b`), func(g []string) string { return g[1] + " " + g[2] + " Punkt " + g[3] }},
	{regexp.MustCompile(`\bSW ?(\d{1,2})\b`), func(g []string) string { return "Schlüsselweite " + g[1] }},
	{regexp.MustCompile(`\b(\d{1,3})/(\d{1,3}) ?(mm)\b`), func(g []string) string { return g[1] + " oder " + g[2] + " Millimeter" }},
	{regexp.MustCompile(`(?:\b(\d{1,2}) )?\b(\d{1,2})/(\d{1,2})\b(?:("|-Zoll(?:-|\b)| ?Zoll\b)| (Umdrehung))?`), sayGermanFraction},
	{regexp.MustCompile(`\b(` + germanFigure + `)-(` + germanUnit + `)-`), func(g []string) string { return germanDecimal(g[1]) + " " + germanUnits[g[2]].many + " " }},
	{regexp.MustCompile(`(^|[^\pL\d])([-±+] ?|\+/- ?)?(` + germanFigure + `)(?:( ?(?:-|–|—|±|\+/-|x|×|\bbis\b) ?)(` + germanFigure + `))?[ -]?(` + germanUnit + `)(?:/(h|min|s|m|km|l)\b)?`), sayGermanMeasure},
	{regexp.MustCompile(`(^|[(:=<>≤≥ ])([-±])(\d)`), func(g []string) string {
		return g[1] + map[string]string{"-": " minus ", "±": " plus minus "}[g[2]] + g[3]
	}},
	{regexp.MustCompile(`(\d) ?[x×*] ?(\d)`), func(g []string) string { return g[1] + " mal " + g[2] }},
	{regexp.MustCompile(`(\d) ?– ?(\d)|(\d)…(\d)`), func(g []string) string { return g[1] + g[3] + " bis " + g[2] + g[4] }},
	{regexp.MustCompile(`(\d)[.,](\d)`), func(g []string) string { return g[1] + decimalMark + g[2] }},
	{regexp.MustCompile(`\b(N·m|lbf·ft|lbf·in|kgf·m)`), func(g []string) string { return germanUnits[g[1]].many }},
	{regexp.MustCompile(`\bin (` + germanUnit + `)([?.,;]|$)`), func(g []string) string { return "in " + germanUnits[g[1]].many + g[2] }},
	{regexp.MustCompile(`(^|[^\pL\d` + decimalMark + `])1 (Minute|Stunde|Sekunde|Umdrehung|Stufe|Schraube|Mutter|Dichtung)\b`), func(g []string) string { return g[1] + "eine " + g[2] }},
	{regexp.MustCompile(`(^|[^\pL\d` + decimalMark + `])1 (Schritt|Werkzeug|Befund|Bolzen|Auftrag|anderer)\b`), func(g []string) string { return g[1] + "ein " + g[2] }},
	{regexp.MustCompile(`\b(der|die|das|den|dem|des|im|am|zum|zur|beim|vom) (\d{1,2})\. (\pL)`), func(g []string) string { return g[1] + " " + germanOrdinal(g[1], g[2]) + " " + g[3] }},
}

// sayGerman is written German trade text in words.
func sayGerman(l Lexicon, text string) string {
	text = l.words(germanFolded.Replace(norm.NFC.String(strings.ToValidUTF8(text, " "))))
	for _, rule := range germanRules {
		text = rule.written.ReplaceAllStringFunc(text, func(found string) string { return rule.say(rule.written.FindStringSubmatch(found)) })
	}
	return settle(text, germanSigns)
}

// germanDecimal is a figure with the comma that survives the settling of punctuation.
func germanDecimal(figure string) string {
	return strings.NewReplacer(".", decimalMark, ",", decimalMark).Replace(figure)
}

// sayGermanThousands takes the points out of a large number; behind a lone zero they are decimals.
func sayGermanThousands(g []string) string {
	if g[1] == "0" {
		return germanDecimal(g[0])
	}
	return strings.ReplaceAll(g[0], ".", "")
}

// sayGermanThread is a metric thread with pitch, length and property class: "M 8 mal 1,25".
func sayGermanThread(g []string) string {
	said := "M " + germanDecimal(g[1])
	for _, size := range regexp.MustCompile(germanFigure).FindAllString(g[2], -1) {
		said += " mal " + germanDecimal(size)
	}
	if g[3] != "" {
		said += ", Festigkeit " + strings.Replace(g[3], ".", " Punkt ", 1)
	}
	return said
}

// germanParts names the parts of a whole.
var germanParts = map[int]string{2: "halb", 3: "Drittel", 4: "Viertel", 5: "Fünftel", 8: "Achtel", 16: "Sechzehntel", 32: "Zweiunddreißigstel", 64: "Vierundsechzigstel"}

// sayGermanFraction is a fraction of a turn, of an inch or of anything else. What is no usual fraction is a choice of two.
func sayGermanFraction(g []string) string {
	whole, inch, turn := g[1], g[4], g[5]
	top, _ := strconv.Atoi(g[2])
	bottom, _ := strconv.Atoi(g[3])
	part, usual := germanParts[bottom]
	if !usual || top == 0 || top >= bottom {
		return strings.TrimLeft(whole+" ", " ") + g[2] + " oder " + g[3] + strings.Replace(inch, `"`, " Zoll", 1) + strings.TrimRight(" "+turn, " ")
	}
	said := map[bool]string{true: "ein", false: g[2]}[top == 1] + " " + part
	switch {
	case turn != "" && top == 1 && bottom == 2 && whole == "":
		said = "eine halbe"
	case turn != "" && top == 1 && whole == "":
		said = "eine " + strings.ToLower(part)
	case bottom == 2 && whole == "1":
		said = "eineinhalb"
	case bottom == 2 && whole != "":
		said = whole + " einhalb"
	case whole != "":
		said = whole + " " + said
	}
	if inch != "" {
		said += " Zoll" + strings.Repeat(" ", strings.Count(inch, "Zoll-"))
	}
	if turn != "" {
		said += " " + turn
	}
	return said
}

// sayGermanMeasure is a number, or a range of two, with its unit.
func sayGermanMeasure(g []string) string {
	before, sign, first, between, second, unit, per := g[1], strings.TrimSpace(g[2]), g[3], strings.TrimSpace(g[4]), g[5], g[6], g[7]
	m := germanUnits[unit]
	said := germanDecimal(first) + " " + m.many
	switch {
	case second != "" && (between == "x" || between == "×"):
		said = germanDecimal(first) + " mal " + germanDecimal(second) + " " + m.many
	case second != "" && (between == "±" || between == "+/-"):
		said = germanDecimal(first) + " plus minus " + germanDecimal(second) + " " + m.many
	case second != "":
		said = germanDecimal(first) + " bis " + germanDecimal(second) + " " + m.many
	case first == "1":
		said = m.one
	}
	switch sign {
	case "-":
		said = "minus " + said
	case "±", "+/-":
		said = "plus minus " + said
	case "+":
		said = "plus " + said
	}
	if per != "" {
		said += " pro " + germanPer[per]
	}
	return before + said
}

// germanOrdinal is a place in a row behind an article: "den zweiten". Beyond the twelfth the figure stays.
func germanOrdinal(article, digits string) string {
	stems := [...]string{"", "erste", "zweite", "dritte", "vierte", "fünfte", "sechste", "siebte", "achte", "neunte", "zehnte", "elfte", "zwölfte"}
	n, _ := strconv.Atoi(digits)
	switch {
	case n == 0 || n >= len(stems):
		return digits + "."
	case article == "der" || article == "die" || article == "das":
		return stems[n]
	}
	return stems[n] + "n"
}
