package procedures

import (
	"maps"
	"regexp"
	"strings"
)

// Lexicon gives the spoken form of whole written words. A key with a capital
// letter fits only as it stands, a key in lower case fits any case. Keys may hold
// dots and slashes: "e.g", "l/h". It goes before every rule of Speakable.
type Lexicon map[string]string

// DefaultLexicon is the trade's usual abbreviations. The caller may add to it.
func DefaultLexicon() Lexicon { return maps.Clone(defaultLexicon) }

var defaultLexicon = Lexicon{
	"approx": "approximately", "incl": "including", "excl": "excluding", "e.g": "for example",
	"eg": "for example", "i.e": "that is", "ie": "that is", "etc": "and so on", "max": "maximum", "min": "minimum",
	"qty": "quantity", "assy": "assembly", "fig": "figure", "vs": "versus", "temp": "temperature",
	"w/": "with", "w/o": "without", "ok": "okay", "spec": "specification", "gen": "generation",
	"l.h": "left hand", "r.h": "right hand", "l/h": "left hand", "lh": "left hand", "r/h": "right hand", "rh": "right hand",
	"lhs": "left hand side", "rhs": "right hand side",
	"n/s": "near side", "o/s": "off side", "n/s/f": "near side front", "o/s/f": "off side front",
	"n/s/r": "near side rear", "o/s/r": "off side rear", "a/c": "air conditioning", "and/or": "and or",
	"a/f": "across flats", "n/a": "not applicable", "i/d": "inside diameter", "o/d": "outside diameter",
	"cyl": "cylinder", "dia": "diameter", "deg": "degrees", "mins": "minutes", "secs": "seconds",
	"hrs": "hours",
	"p/n": "part number", "s/n": "serial number", "PN": "part number", "a/t": "automatic transmission", "m/t": "manual transmission",
	"ca": "about", "nb": "note", "n.b": "note", "pcs": "pieces", "pc": "piece", "yrs": "years", "op": "operation", "ops": "operations",
	"pos": "position", "figs": "figures", "mtg": "mounting", "brkt": "bracket", "hyd": "hydraulic", "elec": "electrical", "aux": "auxiliary",
	"sec": "second", "fwd": "forward", "ref": "reference", "kl": "terminal", "bhd": "bulkhead", "thk": "thick", "lg": "long", "opp": "opposite",
	"alt": "alternator", "batt": "battery", "lub": "lubricant", "rad": "radiator", "trans": "transmission", "susp": "suspension",
	"PSI": "P S I", "psi": "P S I", "rpm": "R P M", "kPa": "kilopascals", "Nm": "newton metres",
	"cc": "C C", "VIN": "vin", "MIL": "M I L", "EGR": "E G R", "MAF": "M A F", "OEM": "O E M",
	"ABS": "A B S", "ECU": "E C U", "ATF": "A T F", "LED": "L E D", "USB": "U S B", "PAS": "P A S", "EPB": "E P B",
	"ESC": "E S C", "OBD": "O B D", "UV": "U V", "ID": "I D", "OD": "O D", "AC": "A C", "EV": "E V",
	"IAT": "I A T", "EVAP": "evap", "OHC": "O H C", "DOHC": "D O H C", "SOHC": "S O H C", "TCU": "T C U", "BCM": "B C M",
	"AWD": "A W D", "ATDC": "after top dead centre", "BTDC": "before top dead centre", "RTV": "R T V", "PPE": "P P E",
	"SDS": "S D S", "EOL": "E O L", "IR": "I R", "AF": "across flats", "UNC": "U N C", "UNF": "U N F", "BSP": "B S P", "NPT": "N P T",
	"UNEF": "U N E F", "SAE": "S A E", "API": "A P I", "ISO": "I S O", "PTO": "P T O", "NLGI": "N L G I", "AGM": "A G M", "GND": "ground",
	"CCA": "C C A", "TDI": "T D I", "GDI": "G D I", "EFI": "E F I", "ECM": "E C M", "AFM": "A F M", "ESP": "E S P", "TIG": "tig", "MIG": "mig",
	"OBD-II": "O B D 2", "NOx": "N O X", "EN": "E N", "IEC": "I E C", "RCCB": "R C C B", "AVR": "A V R", "OAT": "O A T", "ULEV": "U L E V",
	"ECT":  "E C T", //nolint:misspell // engine coolant temperature
	"HVAC": "H V A C", "EPS": "E P S", "ESD": "E S D", "ISG": "I S G", "ICE": "I C E", "IAC": "I A C", "DTC": "D T C",
}

// lexiconWord is what may be a key: letters and digits, with dots, slashes,
// apostrophes and hyphens between them.
var lexiconWord = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9]*(?:[./'-][A-Za-z0-9]+)*[./]?`)

// maxLexiconWord bounds the length of a key in bytes.
const maxLexiconWord = 40

// lookUp finds the longest key that text begins with, up to the end of a part of
// the word. An abbreviation's dot goes with it unless the sentence ends there.
func (l Lexicon) lookUp(text string) (said, rest string, ok bool) {
	for word := lexiconWord.FindString(text[:min(len(text), maxLexiconWord)]); word != ""; word = shorten(word) {
		if said, ok = l.find(word); !ok {
			continue
		}
		rest = text[len(word):]
		if endsInWord(word) && (startsInWord(rest) || codeNumber.MatchString(rest)) {
			continue
		}
		if dotted := strings.TrimPrefix(rest, "."); dotted != rest && !sentenceEnds(dotted) {
			rest = dotted
		}
		return said, rest, true
	}
	return "", text, false
}

// codeNumber finds that a word is the first part of a code: OP-1420-2.
var codeNumber = regexp.MustCompile(`^-\d`)

// shorten takes the last part off a word: "l/h-side", "l/h", "l/", "l".
func shorten(word string) string {
	if cut := strings.TrimRight(word, "./'-"); cut != word {
		return cut
	}
	return word[:strings.LastIndexAny(word, "./'-")+1]
}

func (l Lexicon) find(word string) (string, bool) {
	if said, ok := l[word]; ok {
		return said, true
	}
	said, ok := l[strings.ToLower(word)]
	return said, ok
}

var nextSentence = regexp.MustCompile(`^\s*$|^\s+[A-Z][a-z]`)

// sentenceEnds reports whether a dot before rest is a full stop.
func sentenceEnds(rest string) bool { return nextSentence.MatchString(rest) }
