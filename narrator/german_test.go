package narrator_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/procedures"
	"stepcaller/procedures/tongue"
)

// kuehlerschlauch is the job in which everything occurs, as a German shop writes it.
const kuehlerschlauch = `
stepcaller: 2
id: kuehlerschlauch
title: Oberer Kühlerschlauch
machine: Pellworth Drover 2.0 Diesel
book:
  - {code: C-2210, title: Oberer Schlauch, hours: 1.2}
tools: [Ratsche, 10-mm-Nuss]
parts: [Schlauch]
fluids:
  - {name: Kühlmittel, spec: Sorte P2, capacity: 8.4 l}
cautions:
  - Nur am kalten Motor arbeiten.
  - {use: airbag, wait: 10}
choices:
  - {id: hose-hard, ask: Ist der obere Schlauch hart oder rissig?}
  - {id: extra-hose, ask: Muss der Umgehungsschlauch neu?, approval: true}
steps:
  - id: up
    say: Fahrzeug anheben.
    minutes: 2
    cautions:
      - {use: raised-vehicle}
      - {say: Kettenzug eingehängt., answer: engine held}
      - Kopf einziehen.
    support: [2 Böcke]
  - id: drain
    say: Kühlmittel ablassen, links unten.
    minutes: 3
    cautions: [{use: raised-vehicle}, {use: fuel-pressure}]
    drain: [Kühlmittel]
    stuff: [4 Lappen]
    readings:
      - {name: Scheibendicke, unit: mm, min: 22.0, max: 24.2, wear: 21.4, positions: [links, rechts]}
      - {name: Kühlmittelstand, unit: mm, when: before}
  - id: hose-off
    say: Oberen Schlauch abziehen.
    minutes: 4
    only_if: hose-hard
    off: [oberer Schlauch]
  - id: bypass
    say: Umgehungsschlauch erneuern.
    title: Umgehungsschlauch
    minutes: 4
    only_if: extra-hose
    off: [Umgehungsschlauch]
    back: [Umgehungsschlauch]
  - id: seal
    say: Dichtmittel auftragen.
    minutes: 3
    timers:
      - {name: Dichtmittel, minutes: 10, say: Das Dichtmittel hat eine Haut.}
      - {name: Entlüften, minutes: 4, from: word}
    loosening:
      - {fastener: M8-Deckelschraube, count: 4, order: criss-cross}
  - id: hose-on
    say: Oberen Schlauch aufschieben.
    minutes: 4
    only_if: hose-hard
    await: [Dichtmittel]
    back: [oberer Schlauch]
  - id: fill
    say: Auffüllen und die Lappen herausnehmen.
    minutes: 5
    await: [Dichtmittel, Entlüften]
    fill: [Kühlmittel]
    out: [4 Lappen]
    level: [Kühlmittel]
    readings:
      - {name: Kühlmittelstand, unit: mm, min: 5, when: after}
    torque:
      - {fastener: Deckelschraube, count: 4, value: 20.5 N·m, stages: [half, full], order: criss-cross, again: after heat}
  - id: run
    say: Motor starten und warmlaufen lassen.
    minutes: 3
    starts_engine: true
    timers: [{name: Warmlauf, minutes: 60, from: begin}]
  - id: down
    say: Fahrzeug ablassen.
    minutes: 3
    clear: [2 Böcke]
  - {id: road, say: Eine Runde um den Block fahren., minutes: 8, road_test: true, cautions: [{use: wheels}]}
  - {id: last, say: Auf Lecks prüfen., minutes: 3, level: [Kühlmittel]}
`

func german(t failer) *tongue.Tongue {
	de, err := tongue.Named("de")
	if err != nil {
		t.Fatal(err)
	}
	return de
}

// englishIn finds words of an English reply in what is said in German, command words and those quoted apart.
type englishIn struct{ replies, commands *regexp.Regexp }

func newEnglishIn(de *tongue.Tongue) englishIn {
	holes := regexp.MustCompile(`%(?:\[\d+\])?[sd.0-9f%]+`)
	var pieces []string
	for _, text := range de.Texts() {
		for _, piece := range holes.Split(text, -1) {
			piece = strings.Trim(piece, " .,:;?!")
			if len(piece) >= 4 && !strings.Contains(de.F(text), piece) {
				pieces = append(pieces, regexp.QuoteMeta(piece))
			}
		}
	}
	phrases := append(procedures.TrainedPhrases(), "criss-cross")
	for _, list := range [][]string{pieces, phrases} {
		slices.SortFunc(list, func(a, b string) int { return len(b) - len(a) })
	}
	return englishIn{regexp.MustCompile(`\b(?:` + strings.Join(pieces, "|") + `)\b`),
		regexp.MustCompile(`(?i)„[^“]*“|\b(?:` + strings.Join(phrases, "|") + `)\b`)}
}

func (e englishIn) find(said string) string {
	return e.replies.FindString(e.commands.ReplaceAllString(said, ""))
}

// listen checks every sentence of an outcome.
func (e englishIn) listen(t failer, o narrator.Outcome, heard map[string]bool) {
	t.Helper()
	for _, s := range o.Sentences {
		heard[s.Text] = true
		if found := e.find(s.Text); found != "" {
			t.Fatalf("%q has English in it: %q", s.Text, found)
		}
	}
}

func TestEnglishIsFound(t *testing.T) {
	e := newEnglishIn(german(t))
	for said, want := range map[string]string{
		"Schritt 2. The job is on hold: Pause.": "The job is on hold",
		"Sag „finish job“.":                     "",
		"Du kannst sagen: next, torque.":        "",
		"Still off: Deckel.":                    "Still off",
	} {
		if got := e.find(said); got != want {
			t.Errorf("%q: found %q, want %q", said, got, want)
		}
	}
}

func TestAWholeJobInGerman(t *testing.T) {
	de := german(t)
	r := newRigOn(t, kuehlerschlauch, func(s *narrator.Settings) { s.Tongue = de })
	for _, want := range []string{"Oberer Kühlerschlauch, Pellworth Drover 2.0 Diesel. 11 Schritte, Vorgabe 1,2 h.", "Achtung. Airbags,", "Dann sag „power down“. 10 Minuten warten"} {
		if !strings.Contains(text(r.last), want) {
			t.Errorf("the opening lacks %q: %s", want, text(r.last))
		}
	}
	r.say(5, "power down")
	for _, c := range []struct{ word, want string }{
		{"power down", "Böcke an die Abstützpunkte"}, {"stands set", "engine held"}, {"engine held", "Schritt 1. Fahrzeug anheben."},
		{"where am i", "Schritt 1 von 11, Fahrzeug anheben. Bisher 12 Minuten von 2 Minuten. Der Auftrag, 12 Minuten von 1 Stunde 12 Minuten."},
		{"tool list", "Für den ganzen Auftrag: Ratsche, 10-mm-Nuss."},
		{"what's left", "Noch abgestützt: 2 Böcke."},
		{"hold the job", "Angehalten. Weswegen?"}, {"phone", "Angehalten: Telefon."}, {"carry on", "Weiter nach 4 Sekunden: Telefon."},
		{"undo that", "Zurückgenommen: das Weitermachen. Der Auftrag ist angehalten: Telefon."}, {"carry on", "Weiter nach"},
		{"finish job", "2 Böcke: noch als Stütze. Jetzt weggeräumt?"}, {"no", "Warum bleibt es so?"}, {"parts", "Nicht beendet."},
	} {
		if said := r.say(700+float64(len(r.log)), c.word); !strings.Contains(said, c.want) {
			t.Errorf("%s: said %q, want %q", c.word, said, c.want)
		}
	}
}

func TestEveryAnswerToAnObligingTechnicianIsGerman(t *testing.T) {
	de := german(t)
	e := newEnglishIn(de)
	r := newRigOn(t, kuehlerschlauch, func(s *narrator.Settings) { s.Tongue = de })
	r.heard = func(o narrator.Outcome) { e.listen(t, o, map[string]bool{}) }
	id := r.bay.Active
	obliging(t, r, map[string]string{"hose-hard": "yes", "extra-hose": "yes"})
	if r.bay.Jobs[id].Open() || !strings.HasPrefix(text(r.last), "Auftrag fertig. Gearbeitet ") {
		t.Errorf("the end: %s", text(r.last))
	}
}

// Whatever is said, sure or not, nothing English comes back.
func TestEveryAnswerIsGerman(t *testing.T) {
	de := german(t)
	e, heard := newEnglishIn(de), map[string]bool{}
	wrench, err := procedures.NewWrench(procedures.WrenchText{Name: "der lange", Span: "15 to 120 N·m", Step: "5 N·m"})
	if err != nil {
		t.Fatal(err)
	}
	dictated := procedures.Draft{Title: "Thermostat", Machine: "Ostwick Pony", Steps: []procedures.DraftStep{{Step: procedures.Step{Say: "Sag, was war."}}}}.YAML()
	rapid.Check(t, func(t *rapid.T) {
		r := newRigOn(t, kuehlerschlauch, func(s *narrator.Settings) {
			s.Tongue, s.Wrenches, s.Technicians = de, []procedures.Wrench{wrench}, []string{"Ines", "Piet", "Jule"}
		})
		r.heard = func(o narrator.Outcome) { e.listen(t, o, heard) }
		r.take(narrator.Sending{Joined: rapid.Bool().Draw(t, "shop"), Events: rapid.IntRange(0, 2).Draw(t, "unsent"), Jobs: 1, Notes: rapid.IntRange(0, 2).Draw(t, "notes"),
			Last: narrator.Moment(rapid.IntRange(0, 1).Draw(t, "reached")) * at(0)})
		r.take(narrator.Offered{Offers: []narrator.Offer{{Job: "2023-11-14-1.pit", Bay: "pit", Title: "Wasserpumpe", Order: "R 1", Step: 2}}})
		if rapid.Bool().Draw(t, "dictated") {
			r.jobs++
			r.take(narrator.Start{At: at(1), Job: "2023-11-14-2", Procedure: "dictated", Text: string(dictated), Technician: "Ines", Dictate: true})
		}
		seconds := 700.0
		for range rapid.IntRange(20, 60).Draw(t, "words") {
			seconds += rapid.SampledFrom([]float64{2, 3, 9, 900}).Draw(t, "later")
			if r.bay.Dialogue.Recording {
				length := narrator.Span(rapid.IntRange(0, 9).Draw(t, "length")) * narrator.Second
				r.take(narrator.NoteEnded{At: at(seconds), From: at(seconds - 1), Length: length, File: "n.wav"})
				continue
			}
			words := r.bay.Live()
			if j := r.bay.Job(); j != nil && j.Wants() != "" && rapid.Bool().Draw(t, "answer") {
				words = []string{string(j.Wants())}
			} else if rapid.IntRange(0, 2).Draw(t, "go on") == 0 {
				words = []string{"next", "torque", "reading", "undo that"}
			}
			r.hear(seconds, rapid.SampledFrom(words).Draw(t, "word"), rapid.IntRange(0, 5).Draw(t, "sure") > 0)
		}
	})
	t.Logf("%d different sentences", len(heard))
	if len(heard) < 100 {
		t.Errorf("only %d different sentences were heard", len(heard))
	}
}
