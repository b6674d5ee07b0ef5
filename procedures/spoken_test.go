package procedures_test

import (
	"regexp"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

func TestSpeakable(t *testing.T) {
	seen := map[string]bool{}
	for _, pair := range spokenPairs {
		if seen[pair[0]] {
			t.Errorf("%q stands twice", pair[0])
		}
		seen[pair[0]] = true
		if got := procedures.Speakable(pair[0]); got != pair[1] {
			t.Errorf("%q is said %q, want %q", pair[0], got, pair[1])
		}
	}
	if len(seen) < 200 {
		t.Errorf("only %d pairs", len(seen))
	}
}

// What is said sounds like words that a person wrote out in full: espeak-ng reads
// both with the same sounds, and so spells no unit.
func TestSpeakable_soundsLikeWords(t *testing.T) {
	for written, words := range map[string]string{
		"10 N·m":              "ten newton metres",
		"7 lbf·ft":            "seven foot pounds",
		"84 in-lb":            "eighty-four inch pounds",
		"20 N·m + 90°":        "twenty newton metres plus ninety degrees",
		"2 kgf·m":             "two kilogram metres",
		"8.5 mm":              "eight point five millimetres",
		"0.25 ± 0.02 mm":      "zero point two five plus or minus zero point zero two millimetres",
		"0.2-0.3 mm":          "zero point two to zero point three millimetres",
		"20 µm":               "twenty microns",
		"30 cm":               "thirty centimetres",
		"M8×1.25":             "M eight by one point two five",
		"1/4-20 UNC":          "one quarter twenty U N C",
		`3/8" drive`:          "three eighths inch drive",
		"E10":                 "E ten",
		"88–92 °C":            "eighty-eight to ninety-two degrees celsius",
		"36 °F":               "thirty-six degrees fahrenheit",
		"2.4 bar":             "two point four bar",
		"250 kPa":             "two hundred fifty kilopascals",
		"12.6 V":              "twelve point six volts",
		"0.5 Ω":               "zero point five ohms",
		"10 A fuse":           "ten amp fuse",
		"20 mA":               "twenty milliamps",
		"2.2 kΩ":              "two point two kilohms",
		"4.5 L":               "four point five litres",
		"250 ml":              "two hundred fifty millilitres",
		"2 l/min":             "two litres per minute",
		"50 km/h":             "fifty kilometres per hour",
		"1.5 kg":              "one point five kilograms",
		"0.6 h":               "zero point six hours",
		"10 min":              "ten minutes",
		"5W-30":               "five W thirty",
		"P0301":               "P zero three zero one",
		"C-2210":              "C, two two one zero",
		"2026-11-25":          "twenty-five november two thousand twenty-six",
		"TDC":                 "T D C",
		"LH side, incl. assy": "left hand side, including assembly",
	} {
		said := procedures.Speakable(written)
		if got, want := sounds(t, said), sounds(t, words); !slices.Equal(got, want) {
			t.Errorf("%q is said %q, which sounds %v, want %v as of %q", written, said, got, want, words)
		}
	}
}

// sayable is what any voice can read.
var sayable = regexp.MustCompile(`^[a-zA-Z0-9 .,?!:'-]*$`)

func TestSpeakable_sayableAndStable(t *testing.T) {
	fragments := make([]string, len(spokenPairs))
	for i, pair := range spokenPairs {
		fragments[i] = pair[0]
	}
	text := rapid.OneOf(
		rapid.String(),
		rapid.StringMatching(`([A-Z]{0,3}[0-9]{0,4}[-./ x×°"%]{0,2}[a-zA-Z]{0,3} ?){0,8}`),
		rapid.Map(rapid.SliceOfN(rapid.SampledFrom(fragments), 0, 6), join),
	)
	rapid.Check(t, func(t *rapid.T) {
		written := text.Draw(t, "written")
		once := procedures.Speakable(written)
		if !sayable.MatchString(once) {
			t.Fatalf("%q is said %q, which not every voice can read", written, once)
		}
		if twice := procedures.Speakable(once); twice != once {
			t.Fatalf("%q is said %q, and that again %q", written, once, twice)
		}
	})
}

func join(parts []string) (text string) {
	for _, p := range parts {
		text += p + " "
	}
	return text
}
