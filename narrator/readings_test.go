package narrator_test

import (
	"slices"
	"testing"

	"stepcaller/narrator"
)

const measuring = `
id: rotors
title: Rotors
machine: Ostwick Pony
book: [{code: "1", title: Rotors, hours: 1}]
steps:
  - id: a
    say: Measure the rotors.
    minutes: 5
    readings:
      - {name: rotor thickness, unit: mm, min: 22.0, max: 24.2, wear: 21.4, positions: [left, right]}
      - {name: oil pressure, unit: bar, when: before}
      - {name: temperature rise, unit: °F, difference: true, when: before}
  - id: b
    say: Measure again.
    minutes: 5
    readings:
      - {name: oil pressure, unit: bar, min: 8, max: 9, when: after}
      - {name: temperature rise, unit: °C, max: 25, difference: true, when: after}
      - {name: charge, unit: V, min: -4}
  - {id: c, say: Wipe it., minutes: 2}
`

// figure says digits from a second on and lets the number close.
func (r *rig) figure(seconds float64, words ...string) string {
	for i, w := range words {
		r.say(seconds+float64(i)*0.8, w)
	}
	return r.tickTo(seconds + float64(len(words)) + 4)
}

func TestReadingsAreAskedForJudgedAndCompared(t *testing.T) {
	r := newRigOn(t, measuring)
	wants(t, r.say(20, "reading"), "Rotor thickness, left, in millimetres?")
	said := r.figure(60, "two", "three", "point", "five", "oh")
	wants(t, said, "23.50, inside 22 to 24.2.")
	wants(t, said, "Rotor thickness, right, in millimetres?")
	wants(t, r.figure(70, "two", "two"), "22, inside 22 to 24.2. Oil pressure before, in bar?")
	wants(t, r.figure(80, "six", "point", "one"), "6.1 bar, noted. Temperature rise before, in degrees Fahrenheit?")
	wants(t, r.figure(90, "three", "six"), "36 °F, noted.")
	if r.job().Step != 0 {
		t.Error("left the step by itself")
	}
	wants(t, r.say(100, "next"), "Step 2. Measure again.")
	wants(t, r.say(120, "next"), "Oil pressure after, in bar?")
	wants(t, r.figure(125, "eight", "point", "four"), "8.4, inside 8 to 9. Was 6.1, now 8.4.")
	wants(t, r.figure(135, "one", "nine"), "19, good: at most 25. Was 20, now 19.") // a rise of 36 °F is one of 20 °C: NIST SP 811, appendix B.8
	wants(t, r.figure(145, "minus", "four"), "-4, good: at least -4. Step 3. Wipe it.")
	if a := r.job().Arrivals[2]; a.At != at(145) {
		t.Errorf("step 2 ended at %v s, its last reading was said at 145", a.At.Since(dawn).Seconds())
	}
	var got []string
	for _, m := range r.job().Measurements {
		got = append(got, m.Reading+" "+m.Position+" "+m.Amount+" "+string(m.Judged))
	}
	want := []string{"rotor thickness left 23.50 inside", "rotor thickness right 22 inside", "oil pressure  6.1 ", "temperature rise  36 ",
		"oil pressure  8.4 inside", "temperature rise  19 inside", "charge  -4 inside"}
	if !slices.Equal(got, want) {
		t.Errorf("measured %q", got)
	}
}

func TestLimitsAreExact(t *testing.T) {
	for figures, says := range map[string]string{
		"two two": "22, inside",
		"two one point nine nine nine nine nine nine": "below 22: too low",
		"two four point two":                          "inside 22 to 24.2",
		"two four point two oh oh oh oh oh one":       "above 24.2: too high",
		"two one point four":                          "worn out: the limit is 21.4",
		"two one point four oh oh oh oh oh oh oh one": "below 22: too low",
		"oh":              "worn out",
		"point five":      "0.5, worn out",
		"minus two two":   "-22, worn out",
		"two point point": "which is no number",
	} {
		t.Run(figures, func(t *testing.T) {
			r := newRigOn(t, measuring)
			r.say(20, "reading")
			r.take(narrator.Heard{Word: figures, From: at(30), To: at(34), At: at(34.2), Score: 1, Sure: true})
			wants(t, r.tickTo(50), says)
		})
	}
}

func TestAReadingOutOfLimitsIsOfferedAsAFinding(t *testing.T) {
	r := newRigOn(t, measuring)
	r.say(20, "next")
	wants(t, r.figure(30, "two", "one"), "21, worn out: the limit is 21.4. Note it as a finding?")
	wants(t, r.say(36, "yes"), "Finding 1, rotor thickness, left. Ask the customer?")
	wants(t, r.say(40, "no"), "Finding 1 is kept. Rotor thickness, right")
	wants(t, r.figure(44, "two", "five"), "above 24.2: too high. Note it as a finding?")
	wants(t, r.say(52, "no"), "Oil pressure before")
	if f := r.job().Findings; len(f) != 1 || f[0].Reading != "rotor thickness" || f[0].Position != "left" || f[0].Step != "a" {
		t.Errorf("findings %+v", f)
	}
	r.say(56, "undo that")
	r.say(58, "undo that")
	if m, f := r.job().Measurements, r.job().Findings; len(m) != 1 || len(f) != 0 {
		t.Errorf("after undo: %+v, %+v", m, f)
	}
}

func TestNoLeavesAReadingOut(t *testing.T) {
	r := newRigOn(t, measuring)
	wants(t, r.say(20, "next"), "Rotor thickness, left")
	wants(t, r.say(24, "no"), "Rotor thickness, right")
	wants(t, r.say(28, "no"), "Oil pressure")
	wants(t, r.say(32, "next"), "Step 2") // who says it twice does not want to take any
	wants(t, r.say(40, "next"), "Oil pressure after")
	r.say(44, "no")
	r.say(46, "no")
	wants(t, r.say(48, "no"), "Step 3")
	wants(t, r.say(60, "finish job"), "No reading: rotor thickness left on step 1; rotor thickness right on step 1; oil pressure on step 1")
}

func TestAWordCutsAFigureShortAndKeepsIt(t *testing.T) {
	r := newRigOn(t, measuring)
	r.say(20, "next")
	r.say(30, "two")
	r.say(30.8, "three")
	wants(t, r.say(31.6, "next"), "23, inside 22 to 24.2. Rotor thickness, right")
	if r.job().Step != 0 || len(r.job().Measurements) != 1 {
		t.Errorf("step %d, measured %+v", r.job().Step, r.job().Measurements)
	}
}

func TestReadingsAreTakenOverAgain(t *testing.T) {
	r := newRigOn(t, measuring)
	r.say(10, "next")
	r.say(12, "next")
	r.say(20, "reading")
	r.figure(22, "eight")
	r.figure(30, "one")
	r.figure(38, "one")
	wants(t, r.say(50, "reading"), "Oil pressure after")
	wants(t, r.figure(52, "nine"), "Temperature rise after")
	wants(t, r.say(60, "stop"), "")
	if m := r.job().Measurements; len(m) != 4 || m[3].Amount != "9" {
		t.Errorf("measured %+v", m)
	}
	r.say(70, "next")
	wants(t, r.say(72, "reading"), "No readings on this step")
}
