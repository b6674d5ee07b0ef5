package pages_test

import (
	"slices"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/pages"
	"stepcaller/procedures"
	"stepcaller/procedures/tongue"
)

// dawn is when every test's day begins.
const dawn = narrator.Moment(1_700_000_000 * narrator.Rate)

// bay is a bay that is spoken to.
type bay struct {
	*narrator.Bay
	t  testing.TB
	at narrator.Moment
}

// newBay opens a job on a bundled procedure, in a bay that speaks a language, nil for English.
func newBay(t testing.TB, procedure string, language *tongue.Tongue) *bay {
	t.Helper()
	settings := narrator.DefaultSettings()
	settings.Tongue = language
	b := &bay{narrator.NewBay(settings), t, dawn}
	b.open(procedure, "20417")
	return b
}

// open opens another job.
func (b *bay) open(procedure, order string) {
	b.t.Helper()
	i := slices.IndexFunc(procedures.Bundled(), func(p *procedures.Procedure) bool { return p.ID == procedure })
	p := procedures.Bundled()[i]
	b.take(narrator.Start{At: b.at, Job: "2023-11-14-" + order, Procedure: p.Name(), Text: p.Text(), Order: order, Technician: "Ines"})
}

// dictate opens a job that is spoken while it is done.
func (b *bay) dictate() {
	b.t.Helper()
	b.say(5, "hold the job", "parts")
	text := procedures.Draft{Title: "Heater tap", Machine: "Hethering Skua 1.4", Steps: []procedures.DraftStep{{Step: procedures.Step{Say: "Say new step."}}}}.YAML()
	b.take(narrator.Start{At: b.at, Job: "2023-11-14-spoken", Procedure: "dictated", Text: string(text), Technician: "Ines", Dictate: true})
	b.say(30, "new step")
}

func (b *bay) take(in narrator.Input) {
	b.t.Helper()
	o := narrator.Decide(b.Bay, in)
	if err := b.Apply(o); err != nil {
		b.t.Fatal(err)
	}
}

// say has words said, each so many seconds after the one before.
func (b *bay) say(after float64, words ...string) {
	b.t.Helper()
	for _, word := range words {
		b.at = b.at.Add(narrator.Span(after * narrator.Rate))
		b.take(narrator.Heard{Word: word, From: b.at, To: b.at.Add(narrator.Second / 2), At: b.at.Add(narrator.Second), Score: 0.93, Sure: true})
	}
}

// until says next, and yes or the wanted word where something is asked, until the step is the current one.
func (b *bay) until(step string) {
	b.t.Helper()
	var seen []string
	for range 400 {
		j := b.Job()
		seen = append(seen, j.Procedure.Steps[j.Step].ID)
		if j.Procedure.Steps[j.Step].ID == step {
			return
		}
		word := "next"
		if answers := b.Answers(); len(answers) > 0 && b.Dialogue.Question.Kind != narrator.AskMeasure {
			word = answers[0]
		}
		b.say(50, word)
	}
	b.t.Fatalf("step %s is never reached; the bay asks %q after %q", step, b.Dialogue.Question.Text, slices.Compact(seen))
}

func (b *bay) glance() pages.Glance {
	g := pages.GlanceAt(b.Bay, b.at, procedures.DefaultWords())
	g.Mic = pages.Mic{Level: -21, Verdict: narrator.HearsWell}
	g.Heard = &pages.Word{Phrase: "next", Score: 0.93, Sure: true, At: b.at}
	return g
}
