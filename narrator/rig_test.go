package narrator_test

import (
	"fmt"
	"strings"
	"testing"

	"stepcaller/narrator"
)

// threeSteps is an invented job whose book time is 0.6 h.
const threeSteps = `
stepcaller: 1
id: fan-belt
title: Fan belt
machine: Ostwick Pony
book:
  - {code: "0410", title: Fan belt, hours: 0.6}
tools: [ratchet]
parts: [belt]
cautions: [Engine off]
steps:
  - {id: cover, say: Take the cover off., minutes: 5, off: [cover]}
  - {id: belt, say: Swap the belt., minutes: 10, cautions: [Fingers clear of the pulleys], off: [old belt], back: [old belt]}
  - id: close
    say: Put the cover back.
    minutes: 6
    back: [cover]
    torque:
      - {fastener: cover bolts, count: 4, value: 10 N·m}
`

// dawn is when every test's day begins.
const dawn = narrator.Moment(1_700_000_000 * narrator.Rate)

// failer is what *testing.T and *rapid.T share.
type failer interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

// rig drives a bay as a session would, with time in seconds from dawn.
type rig struct {
	t    failer
	bay  *narrator.Bay
	last narrator.Outcome
	log  []narrator.Event
	jobs int
	file string // of the procedure that jobs are opened on

	heard func(narrator.Outcome) // told each outcome, when somebody listens
}

func newRig(t failer, settings ...func(*narrator.Settings)) *rig {
	return newRigOn(t, threeSteps, settings...)
}

// newRigOn is a rig for another procedure.
func newRigOn(t failer, file string, settings ...func(*narrator.Settings)) *rig {
	s := narrator.DefaultSettings()
	for _, change := range settings {
		change(&s)
	}
	r := &rig{t: t, bay: narrator.NewBay(s), file: file}
	r.open(0)
	return r
}

func at(seconds float64) narrator.Moment {
	return dawn.Add(narrator.Span(seconds * narrator.Rate))
}

func (r *rig) take(in narrator.Input) narrator.Outcome {
	r.last = narrator.Decide(r.bay, in)
	if err := r.bay.Apply(r.last); err != nil {
		r.t.Fatalf("%#v: %v", in, err)
	}
	r.log = append(r.log, r.last.Events...)
	if r.heard != nil {
		r.heard(r.last)
	}
	return r.last
}

// open starts another job on the rig's procedure.
func (r *rig) open(seconds float64) string {
	r.jobs++
	id := fmt.Sprintf("2023-11-14-%d", r.jobs)
	r.take(narrator.Start{At: at(seconds), Job: id, Procedure: "fan-belt.yaml", Text: r.file, Technician: "Ines"})
	if r.bay.Active != id {
		r.t.Fatalf("the job does not open: %s", text(r.last))
	}
	return id
}

// say has a word begin at a second; it lasts half a second and is decided 0.2 s later. All that was being said is then spoken.
func (r *rig) say(seconds float64, word string) string { return r.hear(seconds, word, true) }

func (r *rig) hear(seconds float64, word string, sure bool) string {
	r.tickTo(seconds)
	o := r.take(narrator.Heard{Word: word, From: at(seconds), To: at(seconds + 0.5), At: at(seconds + 0.7), Score: 0.9, Sure: sure})
	r.spoken(seconds + 1)
	return text(o)
}

// spoken ends every sentence of the last outcome at a second.
func (r *rig) spoken(seconds float64) {
	for _, s := range r.last.Sentences {
		narrator.Decide(r.bay, narrator.Spoken{Sentence: s.ID, At: at(seconds)})
		o := narrator.Decide(r.bay, narrator.Spoken{Sentence: s.ID, At: at(seconds)})
		if err := r.bay.Apply(o); err != nil {
			r.t.Fatal(err)
		}
	}
}

// tickTo lets everything fall due that is due before a second.
func (r *rig) tickTo(seconds float64) string {
	said := ""
	for due := r.bay.Due(); due != 0 && due < at(seconds); due = r.bay.Due() {
		said = strings.TrimSpace(said + " " + text(r.take(narrator.Tick{At: due})))
		if r.bay.Due() == due {
			r.t.Fatalf("a tick at %v changed nothing", due)
		}
		r.spoken(float64(due-dawn)/narrator.Rate + 1)
	}
	return said
}

// restored is the bay as a restart finds it, of a rig with one job.
func (r *rig) restored() *narrator.Bay {
	r.t.Helper()
	var own, job []narrator.Event
	for _, e := range r.log {
		if e.Job == "" {
			own = append(own, e)
		} else {
			job = append(job, e)
		}
	}
	bay, err := narrator.Restore(r.bay.Settings, own, job)
	if err != nil {
		r.t.Fatal(err)
	}
	return bay
}

func text(o narrator.Outcome) string {
	var parts []string
	for _, s := range o.Sentences {
		parts = append(parts, s.Text)
	}
	return strings.Join(parts, " ")
}

func (r *rig) job() *narrator.Job {
	j := r.bay.Job()
	if j == nil {
		r.t.Fatal("no job is active")
	}
	return j
}

// totals of the active job at a second, in seconds.
func (r *rig) totals(seconds float64) (worked, paused, unsure, gap float64) {
	t := narrator.Sum(r.job().Timeline(at(seconds)))
	return t.Worked.Seconds(), t.Paused.Seconds(), t.Unsure.Seconds(), t.Gap.Seconds()
}

func wants(t testing.TB, got, part string) {
	t.Helper()
	if !strings.Contains(strings.ToLower(got), strings.ToLower(part)) {
		t.Errorf("said %q, without %q", got, part)
	}
}

func wantTotals(t testing.TB, r *rig, seconds, worked, paused, unsure, gap float64) {
	t.Helper()
	w, p, u, g := r.totals(seconds)
	if w != worked || p != paused || u != unsure || g != gap {
		t.Errorf("at %v s: worked %v paused %v unsure %v gap %v, want %v %v %v %v", seconds, w, p, u, g, worked, paused, unsure, gap)
	}
}
