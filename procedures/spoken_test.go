package procedures_test

import (
	"regexp"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

// spokenPairs are written trade texts and what is said for them.
var spokenPairs = [][2]string{
	// Torque.
	{"7 lbf·ft", "7 foot pounds"},
	{"7 lb-ft", "7 foot pounds"},
	{"18 ft-lb", "18 foot pounds"},
	{"18 ft·lbf", "18 foot pounds"},
	{"1 ft lb", "1 foot pound"},
	{"84 lbf·in", "84 inch pounds"},
	{"84 in-lb", "84 inch pounds"},
	{"10 N·m", "10 newton metres"},
	{"10 Nm", "10 newton metres"},
	{"10 N m", "10 newton metres"},
	{"10N-m", "10 newton metres"},
	{"1 N·m", "1 newton metre"},
	{"8.5 N·m", "8 point 5 newton metres"},
	{"1.0 N·m", "1 point zero newton metres"},
	{"2 kgf·m", "2 kilogram metres"},
	{"2 kg-m", "2 kilogram metres"},
	{"8–9 N·m", "8 to 9 newton metres"},
	{"8-9 N·m", "8 to 9 newton metres"},
	{"8 – 9 N·m", "8 to 9 newton metres"},
	{"10 ± 2 N·m", "10 plus or minus 2 newton metres"},
	{"10 N·m ±10%", "10 newton metres plus or minus 10 percent"},
	{"50 N·m + 90°", "50 newton metres plus 90 degrees"},
	{"Tighten to 10 N·m.", "Tighten to 10 newton metres."},
	{"8.1 N·m", "8 point 1 newton metres"},
	{"10 newton metres", "10 newton metres"},
	// Length.
	{"10 mm", "10 millimetres"},
	{"1 mm", "1 millimetre"},
	{"10mm socket", "10 millimetre socket"},
	{"8 mm Allen key", "8 millimetre Allen key"},
	{"10 mm deep socket", "10 millimetre deep socket"},
	{"0.05 mm", "zero point zero 5 millimetres"},
	{".5 mm", "zero point 5 millimetres"},
	{"a 3 mm bead", "a 3 millimetre bead"},
	{"40 cm", "40 centimetres"},
	{"2 m of hose", "2 metres of hose"},
	{"20 µm", "20 microns"},
	{"12 × 40 mm", "12 by 40 millimetres"},
	{"12x40 mm", "12 by 40 millimetres"},
	{"5 thou", "5 thou"},
	{"3 ft", "3 feet"},
	{"Ø 8 mm", "diameter 8 millimetres"},
	// Fractions and inches.
	{"3/8", "three eighths"},
	{`3/8"`, "three eighths inch"},
	{`3/8" drive ratchet`, "three eighths inch drive ratchet"},
	{`1/2" drive`, "half inch drive"},
	{"1/2 in drive", "half inch drive"},
	{"1/4-inch drive", "quarter inch drive"},
	{"¼ turn", "a quarter turn"},
	{"½ turn back", "a half turn back"},
	{"¾ of a turn", "three quarters of a turn"},
	{"1/2", "one half"},
	{"1 1/2", "1 and a half"},
	{`1½"`, "1 and a half inches"},
	{"2 3/4 turns", "2 and three quarters turns"},
	{"7/16 spanner", "seven sixteenths spanner"},
	{"17/64", "seventeen sixty-fourths"},
	{`1"`, "1 inch"},
	{`6" extension`, "6 inch extension"},
	{"50/50 mix", "50 50 mix"},
	{"1/2 l of oil", "one half litre of oil"},
	// Temperature.
	{"88 °C", "88 degrees Celsius"},
	{"88°C", "88 degrees Celsius"},
	{"1 °C", "1 degree Celsius"},
	{"-10 °C", "minus 10 degrees Celsius"},
	{"−10 °C", "minus 10 degrees Celsius"},
	{"36 °F", "36 degrees Fahrenheit"},
	{"88–92 °C", "88 to 92 degrees Celsius"},
	{"-10 to -5 °C", "minus 10 to minus 5 degrees Celsius"},
	// Time.
	{"0.6 h", "zero point 6 hours"},
	{"1.6 h", "1 point 6 hours"},
	{"1 h", "1 hour"},
	{"5 min", "5 minutes"},
	{"1 min", "1 minute"},
	{"30 s", "30 seconds"},
	{"Wait 10 min.", "Wait 10 minutes."},
	{"at 14:30", "at 14 30"},
	{"at 08:00", "at 8 o'clock"},
	{"at 9:05", "at 9 oh 5"},
	{"2026-03-14", "14 March 2026"},
	{"14/03/2026", "14 March 2026"},
	{"14.03.2026", "14 March 2026"},
	{"03/14/2026", "14 March 2026"},
	// Angles.
	{"90°", "90 degrees"},
	{"1°", "1 degree"},
	{"90° ± 5°", "90 degrees plus or minus 5 degrees"},
	{"45 deg", "45 degrees"},
	// Threads.
	{"M6", "M 6"},
	{"M6×1.0", "M 6 by 1 point zero"},
	{"M6x1.0 8.8", "M 6 by 1 point zero, class 8 point 8"},
	{"M8x1.25-8.8", "M 8 by 1 point 2 5, class 8 point 8"},
	{"M8 x 1.25 bolt", "M 8 by 1 point 2 5 bolt"},
	{"M10×1.5×40", "M 10 by 1 point 5 by 40"},
	{"M6x20 bolts", "M 6 by 20 bolts"},
	{"4 × M6", "4 times M 6"},
	// Pressure.
	{"2.4 bar", "2 point 4 bar"},
	{"35 psi", "35 P S I"},
	{"240 kPa", "240 kilopascals"},
	{"1.2 MPa", "1 point 2 megapascals"},
	// Electrics.
	{"12 V", "12 volts"},
	{"12 V supply", "12 volt supply"},
	{"12-volt supply", "12 volt supply"},
	{"10 A fuse", "10 amp fuse"},
	{"5 A", "5 amps"},
	{"20 mA", "20 milliamps"},
	{"5 Ω", "5 ohms"},
	{"5 mΩ", "5 milliohms"},
	{"2.2 kΩ", "2 point 2 kilohms"},
	{"21 W bulb", "21 watt bulb"},
	{"45 Ah battery", "45 amp hour battery"},
	{"50 Hz", "50 hertz"},
	{"12 V 5 A", "12 volts 5 amps"},
	// Fluids, masses, speeds.
	{"4.5 L", "4 point 5 litres"},
	{"1 l", "1 litre"},
	{"250 ml", "250 millilitres"},
	{"500 g", "500 grams"},
	{"1.5 kg", "1 point 5 kilograms"},
	{"1600 cm³", "1600 cubic centimetres"},
	{"50 mm²", "50 square millimetres"},
	{"800 rpm", "800 R P M"},
	{"750–850 rpm", "750 to 850 R P M"},
	{"50 km/h", "50 kilometres per hour"},
	{"2 l/min", "2 litres per minute"},
	{"5W-30", "5 W 30"},
	{"0W-20 oil", "zero W 20 oil"},
	{"DOT 4 fluid", "DOT 4 fluid"},
	{"DOT4", "DOT 4"},
	{"20%", "20 percent"},
	{"20 %", "20 percent"},
	// Numbers.
	{"1.5", "1 point 5"},
	{"12,500 km", "12500 kilometres"},
	{"0", "zero"},
	{"2nd gear", "second gear"},
	{"21st", "twenty-first"},
	{"#2", "number 2"},
	{"cylinder #1", "cylinder number 1"},
	{"No. 3 cylinder", "number 3 cylinder"},
	{"8.8", "8 point 8"},
	{"4-cylinder", "4 cylinder"},
	{"6-point socket", "6 point socket"},
	{"~5 mm", "about 5 millimetres"},
	{"≤ 0.1 mm", "at most zero point 1 millimetres"},
	{"≥ 2 mm", "at least 2 millimetres"},
	{"3-4 turns", "3 to 4 turns"},
	{"2×", "2 times"},
	// Tools and codes.
	{"E10", "E 10"},
	{"E10 socket", "E 10 socket"},
	{"T30", "T 30"},
	{"PH2", "P H 2"},
	{"hex 5 mm", "hex 5 millimetres"},
	{"5 mm hex", "5 millimetre hex"},
	{"R134a", "R 134 a"},
	{"205/55 R16", "205 55 R 16"},
	{"AB12V4", "A B, 1 2, V, 4"},
	{"06K-103-483", "zero 6, K, 1 zero 3, 4 8 3"},
	{"12-345-67", "1 2, 3 4 5, 6 7"},
	{"part TB4471-20", "part T B, 4 4 7 1, 2 zero"},
	{"0412345678", "zero 4 1 2 3 4 5 6 7 8"},
	// Abbreviations.
	{"TDC", "T D C"},
	{"ABS sensor", "A B S sensor"},
	{"2 ABS sensors", "2 A B S sensors"},
	{"the ECU.", "the E C U."},
	{"PCV hose", "P C V hose"},
	{"approx. 5 mm", "approximately 5 millimetres"},
	{"incl. gasket", "including gasket"},
	{"e.g. a rag", "for example a rag"},
	{"i.e. dry", "that is dry"},
	{"etc.", "and so on."},
	{"max. 5 mm", "maximum 5 millimetres"},
	{"Fill to max. Then stop.", "Fill to maximum. Then stop."},
	{"L/H side", "left hand side"},
	{"RH", "right hand"},
	{"R/H bolt", "right hand bolt"},
	{"A/C pipe", "air conditioning pipe"},
	{"w/o oil", "without oil"},
	{"and/or", "and or"},
	{"nuts & bolts", "nuts and bolts"},
	{"inlet/outlet", "inlet or outlet"},
	{"PSI", "P S I"},
	{"100psi", "100 P S I"},
	{"DO NOT DROP IT", "DO NOT DROP IT"},
	// Signs and layout.
	{"red + black", "red plus black"},
	{"off → on", "off to on"},
	{"• Clean the face", "Clean the face"},
	{"- Clean the face", "Clean the face"},
	{"- 5 bolts", "5 bolts"},
	{"the \"long\" bolt", "the long bolt"},
	{"the “long” bolt", "the long bolt"},
	{"the cover (left)", "the cover, left"},
	{"the cover (left).", "the cover, left."},
	{"bolts [x4]", "bolts, times 4"},
	{"don't", "don't"},
	{"don’t", "don't"},
	{"finger-tight", "finger-tight"},
	{"wait – then go", "wait, then go"},
	{"oil; water", "oil, water"},
	{"Careful 🔥 hot!", "Careful hot!"},
	{"✅ done", "done"},
	{"première", "premiere"},
	{"first\nsecond", "first, second"},
	{"tight...", "tight"},
	{"snake_case", "snake case"},
	{"  two   spaces ", "two spaces"},
	{"Turn it 90° (¼ turn).", "Turn it 90 degrees, a quarter turn."},
	{"Fit bolt 3. Then stop.", "Fit bolt 3. Then stop."},
	{"bolts 1,2 and 3", "bolts 1, 2 and 3"},
	{"8 bolts: 10 mm heads", "8 bolts: 10 millimetre heads"},
	{"Put 2 in the box", "Put 2 in the box"},
	{"a 1/2 in the box", "a one half in the box"},
	{"wait 5 min. longer", "wait 5 minutes longer"},
	{"1:50", "1 to 50"},
	{"20:1 ratio", "20 to 1 ratio"},
	{"1,5 bar", "1 point 5 bar"},
	{"10 000 km", "10000 kilometres"},
	{"7 mm (0.28 in)", "7 millimetres, zero point 2 8 inches"},
	{"2.5 in total", "2 point 5 in total"},
	{"12.4V–12.8V", "12 point 4 volts to 12 point 8 volts"},
	{"values in N·m", "values in newton metres"},
	{"2x M8", "2 times M 8"},
	{"the 1.6i engine", "the 1 point 6 I engine"},
	{"8 l/100 km", "8 litres per 100 kilometres"},
	{"No 2 cylinder", "number 2 cylinder"},
	{"No 2 bolts are alike", "No 2 bolts are alike"},
	{"L.H. side", "left hand side"},
	{"10° BTDC", "10 degrees before top dead centre"},
	{"7 lbf·ft (9.5 N·m)", "7 foot pounds, 9 point 5 newton metres"},
	{"12V 55W H7", "12 volts 55 watts H 7"},
	{"2 V-belts", "2 V-belts"},
	{"O-ring", "O-ring"},
	{"100 mm long", "100 millimetres long"},
	{"", ""},
	{"🔧", ""},
}

func TestSpeakable(t *testing.T) {
	for _, pair := range spokenPairs {
		if got := procedures.Speakable(pair[0]); got != pair[1] {
			t.Errorf("%q is said %q, want %q", pair[0], got, pair[1])
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
