package procedures_test

import (
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

// The units are written as in DIN 1301 and said as in German workshops (common practice).
var germanPairs = [][2]string{
	{"Ventildeckelschrauben: 10 N·m", "Ventildeckelschrauben: 10 Newtonmeter"},
	{"12,5 N·m, dann 90° weiter", "12,5 Newtonmeter, dann 90 Grad weiter"},
	{"12.5 Nm", "12,5 Newtonmeter"},
	{"1 N·m", "ein Newtonmeter"},
	{"Wie viel, in N·m? Ziffer für Ziffer.", "Wie viel, in Newtonmeter? Ziffer für Ziffer."},
	{"Dicke vorher, links, in mm?", "Dicke vorher, links, in Millimeter?"},
	{"in °C?", "in Grad Celsius?"},
	{"74 lbf·ft", "74 Fußpfund"},
	{"120 lbf·in", "120 Zollpfund"},
	{"Öl auf 80 °C", "Öl auf 80 Grad Celsius"},
	{"-10 °C bis +40 °C", "minus 10 Grad Celsius bis plus 40 Grad Celsius"},
	{"2,4 bar", "2,4 Bar"},
	{"1 bar", "ein Bar"},
	{"0,8–1,2 mm", "0,8 bis 1,2 Millimeter"},
	{"10-12 mm", "10 bis 12 Millimeter"},
	{"22 ± 0,1 mm", "22 plus minus 0,1 Millimeter"},
	{"Leistungsgrad 92 %.", "Leistungsgrad 92 Prozent."},
	{"12 Schritte, Vorgabe 1,6 h.", "12 Schritte, Vorgabe 1,6 Stunden."},
	{"1 h", "eine Stunde"},
	{"15 min warten", "15 Minuten warten"},
	{"1 Minute 30 Sekunden", "eine Minute 30 Sekunden"},
	{"Noch 1 Stunde.", "Noch eine Stunde."},
	{"1 Schritt nicht gemacht.", "ein Schritt nicht gemacht."},
	{"11 Minuten", "11 Minuten"},
	{"50 km/h", "50 Kilometer pro Stunde"},
	{"3 l/min", "3 Liter pro Minute"},
	{"800 U/min", "800 Umdrehungen pro Minute"},
	{"8 l/100 km", "8 Liter auf 100 Kilometer"},
	{"M8×1,25", "M 8 mal 1,25"},
	{"Schraube M8x1.25x40 10.9", "Schraube M 8 mal 1,25 mal 40, Festigkeit 10 Punkt 9"},
	{"M6", "M 6"},
	{"Festigkeitsklasse 8.8", "Festigkeitsklasse 8 Punkt 8"},
	{"1/2 Umdrehung zurück", "eine halbe Umdrehung zurück"},
	{"1/4 Umdrehung", "eine viertel Umdrehung"},
	{"3/8-Zoll-Ratsche", "3 Achtel Zoll Ratsche"},
	{`1/2" Antrieb`, "ein halb Zoll Antrieb"},
	{"1½ Umdrehungen", "eineinhalb Umdrehungen"},
	{"Schlüssel 10/13 mm", "Schlüssel 10 oder 13 Millimeter"},
	{"links/rechts", "links oder rechts"},
	{"10-mm-Nuss", "10 Millimeter Nuss"},
	{"12-V-Batterie", "12 Volt Batterie"},
	{"SW13", "Schlüsselweite 13"},
	{"Ø 22 mm", "Durchmesser 22 Millimeter"},
	{"20 × 35 mm", "20 mal 35 Millimeter"},
	{"1.250 mm", "1250 Millimeter"},
	{"0.125 mm", "0,125 Millimeter"},
	{"ca. 5 l Öl, z.B. das alte", "zirka 5 Liter Öl, zum Beispiel das alte"},
	{"max. 3 mm, min. 2 mm", "maximal 3 Millimeter, mindestens 2 Millimeter"},
	{"Nr. 4 und li. davon", "Nummer 4 und links davon"},
	{"ABS-Sensor", "A B S-Sensor"},
	{"Kolben auf OT", "Kolben auf oberen Totpunkt"},
	{"den 2. Gang einlegen", "den zweiten Gang einlegen"},
	{"Schritt 2. Deckel abnehmen.", "Schritt 2. Deckel abnehmen."},
	{"Sag „carry on“.", "Sag carry on."},
	{"Dichtung (neu); fetten", "Dichtung, neu, fetten"},
	{"um 12:30 Uhr", "um 12 Uhr 30"},
	{"Verhältnis 1:50", "Verhältnis 1 zu 50"},
	{"4,7 kΩ", "4,7 Kiloohm"},
	{"12,6 V", "12,6 Volt"},
	{"Spiel ≤ 0,3 mm", "Spiel höchstens 0,3 Millimeter"},
	{"16-Zoll-Rad", "16-Zoll-Rad"},
	{"Öl & Filter", "Öl und Filter"},
	{"„“", ""},
}

func TestGermanSpeakable(t *testing.T) {
	german := procedures.NewAloud("de")
	if len(germanPairs) < 40 {
		t.Fatalf("%d pairs", len(germanPairs))
	}
	for _, pair := range germanPairs {
		if got := german.Speakable(pair[0]); got != pair[1] {
			t.Errorf("%q: got %q, want %q", pair[0], got, pair[1])
		}
		if again := german.Speakable(pair[1]); again != pair[1] {
			t.Errorf("%q said again: %q", pair[1], again)
		}
	}
	if got := procedures.NewAloud("de-AT").Speakable("3 mm"); got != "3 Millimeter" {
		t.Errorf("de-AT: %q", got)
	}
}

// What any text becomes holds only what a voice can say.
func TestGermanSpeakable_anyText(t *testing.T) {
	german := procedures.NewAloud("de")
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringMatching(`[ 0-9.,/xM×°%„“"-]{0,20}(N·m|mm|°C|h)?`)).Draw(t, "text")
		said := german.Speakable(text)
		if strings.ContainsFunc(said, func(r rune) bool {
			return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune(" .,?!:'-", r)
		}) {
			t.Fatalf("%q: %q", text, said)
		}
	})
}

// English goes the way it always went, and a language without rules is left as it is written.
func TestAloud_otherLanguages(t *testing.T) {
	if got, want := procedures.NewAloud("en").Speakable("8 mm, approx. 3/8\""), procedures.Speakable("8 mm, approx. 3/8\""); got != want {
		t.Errorf("English: %q, want %q", got, want)
	}
	if got, want := procedures.NewAloud("pl").Speakable("Śruba (nowa) 10 mm"), "Śruba, nowa, 10 mm"; got != want {
		t.Errorf("Polish: %q, want %q", got, want)
	}
}

// BenchmarkGermanSpeakable puts a long reply into German words.
func BenchmarkGermanSpeakable(b *testing.B) {
	german := procedures.NewAloud("de")
	for b.Loop() {
		german.Speakable("Stufe 2 von 3, 20,5 N·m. Schlüssel: der lange, eingestellt auf 18,5 N·m. Nummer 3, links oben, M8×1,25.")
	}
}
