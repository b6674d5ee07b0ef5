package main

import (
	"testing"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// scheibe is the rotor job as a German shop writes it.
const scheibe = `
stepcaller: 2
id: scheibe
title: Bremsscheibe vorn
machine: Ostwick Pony
book:
  - {code: B-10, title: Bremsscheibe, hours: 0.8}
tools: [Ratsche, Messschieber]
steps:
  - {id: raise, say: Rad abnehmen., cautions: [{use: raised-vehicle}], off: Rad}
  - {id: hose, say: Neuen Schlauch einbauen., only_if: Ist der Schlauch rissig?}
  - id: measure
    say: Bremsscheibe messen.
    readings: [{name: Scheibendicke, unit: mm, min: 22.0, max: 24.2, wear: 21.4}]
  - {id: seal, say: Dichtmittel auftragen und das Loch zustopfen., stuff: Lappen, timers: [{name: Dichtmittel, minutes: 0.5}]}
  - id: fit
    say: Bremssattel anbauen.
    await: Dichtmittel
    torque: [{fastener: Sattelschraube, count: 2, value: 30 N·m, stages: [half, full], positions: [oben, unten]}]
  - {id: wheel, say: Lappen raus und Rad dran., out: Lappen, back: Rad}
`

// scheibeSays is what has to be said in answer to the script of the rotor job, as written and as spoken.
var scheibeSays = [][2]string{
	{"Bremsscheibe vorn, Ostwick Pony. 6 Schritte, Vorgabe 0,8 h.", "Bremsscheibe vorn, Ostwick Pony. 6 Schritte, Vorgabe 0,8 Stunden."},
	{"Ist der Schlauch rissig?", "Ist der Schlauch rissig?"},
	{"Scheibendicke, in mm?", "Scheibendicke, in Millimeter?"},
	{"21,5, unter 22: zu wenig.", "21,5, unter 22: zu wenig."},
	{"Als Befund notieren?", "Als Befund notieren?"},
	{"Von wem? 1, Kunde; 2, Annahme. Sag die Nummer.", "Von wem? 1, Kunde, 2, Annahme. Sag die Nummer."},
	{"Dichtmittel: die Zeit ist um.", "Dichtmittel: die Zeit ist um."},
	{"Stufe 1 von 2, 15 N·m. Keiner deiner Schlüssel taugt für 15 N·m; der lange taugt ab 25 N·m.", "Stufe 1 von 2, 15 Newtonmeter. Keiner deiner Schlüssel taugt für 15 Newtonmeter, der lange taugt ab 25 Newtonmeter."},
	{"Nummer 1, oben.", "Nummer 1, oben."},
	{"Zurückgenommen: Stufe 1, Nummer 2.", "Zurückgenommen: Stufe 1, Nummer 2."},
	{"Alle 2 fertig.", "Alle 2 fertig."},
	{"Angehalten: Teile.", "Angehalten: Teile."},
	{"2 Werkzeuge: Ratsche, Messschieber. Alles da?", "2 Werkzeuge: Ratsche, Messschieber. Alles da?"},
	{"Auftrag beenden?", "Auftrag beenden?"},
}

// The whole loop in German: the words are the trained ones, every sentence is German, and the German voice speaks each.
func TestAWholeJobIsSpokenInGerman(t *testing.T) {
	start := narrator.Start{Procedure: "scheibe.yaml", Text: scheibe, Technician: "Ines"}
	_, _, r := scriptedJob(t, start, 340, func(c *Config) {
		c.Language, c.Voice.Name = "de", "de"
		c.Approvers = []string{"customer", "service desk"}
		c.Wrenches = []procedures.WrenchText{{Name: "der lange", Span: "25 to 120 N·m"}}
	}, rotorScript()...)
	spoken := map[string]string{}
	for _, s := range r.said() {
		spoken[s.Written] = s.Text
		if s.Text == "" || s.AtS >= 0 && s.EndedS <= s.AtS {
			t.Errorf("%q as %q lasts from %v to %v s", s.Written, s.Text, s.AtS, s.EndedS)
		}
	}
	for _, want := range scheibeSays {
		if got := spoken[want[0]]; got != want[1] {
			t.Errorf("%q is spoken as %q, want %q", want[0], got, want[1])
		}
	}
	if t.Failed() {
		for _, s := range r.said() {
			t.Logf("%6.1f %s", s.AtS, s.Written)
		}
	}
}
