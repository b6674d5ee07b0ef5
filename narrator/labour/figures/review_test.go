package figures_test

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/figures"
)

const dawn = narrator.Moment(946_713_600 * narrator.Rate) // 2000-01-01T08:00:00Z

const fan = `
id: fan
title: Fan
machine: Ostwick Pony
book: [{code: "0410", title: Fan, hours: 1.0}]
choices: [{id: hard, ask: Is the hose hard?}]
steps:
  - {id: cover, say: Cover off., minutes: 6}
  - id: swap
    say: Swap the fan.
    timers: [{name: the glue, minutes: 5}]
    readings: [{name: the gap, unit: mm, max: 0.4}]
  - {id: hose, say: Swap the hose., only_if: hard}
`

// script is a job's log; times are minutes from dawn.
type script []narrator.Event

func (s script) then(minute float64, kind narrator.Kind, d narrator.Detail) script {
	seq, at := int64(len(s))+1, dawn.Add(narrator.Minutes(minute))
	return append(s, narrator.Event{Job: "2000-01-01-1", Seq: seq, Act: seq, At: at, Noted: at, Kind: kind, Detail: d})
}

func (s script) arrived(minute float64, step string) script {
	return s.then(minute, narrator.Arrived, narrator.Detail{Step: step})
}

func opened(d narrator.Detail) script {
	d.Procedure, d.Text = "fan.yaml", fan
	return script{}.then(0, narrator.Opened, d)
}

func (s script) job(t *testing.T) (*narrator.Job, labour.Sheet) {
	t.Helper()
	j, err := narrator.NewJob(s)
	if err != nil {
		t.Fatal(err)
	}
	return j, labour.Of(j, j.End)
}

// eventful has something of everything in its second step.
func eventful() script {
	s := opened(narrator.Detail{Technician: "Ines"}).arrived(0, "cover").arrived(6, "swap")
	s = s.then(8, narrator.Held, narrator.Detail{Reason: "parts"}).then(18, narrator.Resumed, narrator.Detail{})
	s = s.then(20, narrator.Timed, narrator.Detail{Step: "swap", Timer: "the glue", Length: narrator.Minutes(5)})
	s = s.then(26, narrator.Measured, narrator.Detail{Step: "swap", Reading: "the gap", Amount: "0.6", Unit: "mm", Judged: "above"})
	s = s.then(27, narrator.Found, narrator.Detail{Finding: 1, Step: "swap", Reading: "the gap"})
	s = s.then(29, narrator.Recorded, narrator.Detail{File: "memos/a.wav", From: dawn.Add(narrator.Minutes(28)), Length: narrator.Minute, Finding: 1})
	s = s.arrived(30, "cover").arrived(31, "swap").then(33, narrator.Unsure, narrator.Detail{From: dawn.Add(narrator.Minutes(32))})
	s = s.then(40, narrator.Finished, narrator.Detail{})
	s = s.then(9, narrator.Corrected, narrator.Detail{From: dawn.Add(narrator.Minutes(7)), Reason: "phone", Why: "the phone rang", Technician: "Ines"})
	return s.then(50, narrator.Remarked, narrator.Detail{Step: "swap", Value: "clips brittle", Technician: "Ines"})
}

func TestWhatHappened(t *testing.T) {
	_, sheet := eventful().job(t)
	var got []string
	for _, h := range figures.Happenings(sheet, 2) {
		got = append(got, strings.TrimRight(fmt.Sprintf("%v %s %v %s %s", h.At/60, h.What, h.Length/60, h.Text, h.Value), " "))
	}
	want := []string{
		"7 paused 2 phone", "7 corrected 2 the phone rang", "9 paused 9 parts", "20 timer 5 the glue", "26 out of limits 0 the gap, above 0.6 mm",
		"27 finding 0 noted", "28 note 1", "31 went back 0", "32 unaccounted 1 unsure", "40 remark 0 clips brittle",
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("happened\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if all := figures.Happenings(sheet, 9); all == nil || len(all) != 0 {
		t.Errorf("a step that is not there: %+v", all)
	}
}

func TestSampleOf(t *testing.T) {
	j, sheet := eventful().job(t)
	s := figures.SampleOf(j, sheet)
	// Of 40 minutes 11 stood still and one is unsure, 28 are worked: 7 in the cover, 21 in the swap.
	if s.Worked != 28*60 || s.Technician != "Ines" || !s.Corrected || s.Why != figures.IsSample || len(s.Steps) != 2 || !s.Steps[1].Clean {
		t.Errorf("%+v", s)
	}
	if got := s.Steps[1].Happened.Each(); !reflect.DeepEqual(got, figures.Whats()) {
		t.Errorf("happened %q", got)
	}
	if s.Steps[0].Happened != figures.SetOf(figures.WentBack) {
		t.Errorf("the cover: %q", s.Steps[0].Happened.Each())
	}
}

// Who joined a job that somebody unnamed began did not do it alone.
func TestWhoDidItAlone(t *testing.T) {
	for who, s := range map[string]script{
		"Ines": opened(narrator.Detail{Technician: "Ines"}).arrived(0, "cover").arrived(6, "swap"),
		"":     opened(narrator.Detail{}).arrived(0, "cover").then(6, narrator.Joined, narrator.Detail{Technician: "Ines"}).arrived(6, "swap"),
	} {
		j, sheet := s.then(20, narrator.Finished, narrator.Detail{}).job(t)
		if got := figures.SampleOf(j, sheet).Technician; got != who {
			t.Errorf("%q did it alone, want %q", got, who)
		}
	}
}

func TestWhy(t *testing.T) {
	check := func(want figures.Why, s script) {
		t.Helper()
		j, sheet := s.then(60, narrator.Finished, narrator.Detail{}).job(t)
		if got := figures.SampleOf(j, sheet).Why; got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	whole := func(d narrator.Detail) script { return opened(d).arrived(0, "cover").arrived(6, "swap") }
	ines := narrator.Detail{Technician: "Ines"}
	gap := func(from, to float64) script {
		return whole(ines).then(to, narrator.Gap, narrator.Detail{From: dawn.Add(narrator.Minutes(from))})
	}
	check(figures.IsSample, whole(narrator.Detail{}))
	check(figures.IsSample, whole(ines))
	check(figures.Helped, whole(ines).then(10, narrator.Joined, narrator.Detail{Technician: "Marek"}))
	check(figures.Comeback, whole(narrator.Detail{JobKind: "comeback", Earlier: "1999-12-31-1"}))
	check(figures.CutShort, opened(ines).arrived(0, "cover"))
	check(figures.IsSample, gap(10, 16))   // a tenth of the hour
	check(figures.Unsure, gap(10, 16.001)) // a little more
	check(figures.Dictated, opened(narrator.Detail{Technician: "Ines", Part: "job"}).arrived(0, "cover"))
}

// A job is held against the others: its own times are left out.
func TestReview(t *testing.T) {
	_, sheet := eventful().job(t)
	edition := figures.Edition{Procedure: "fan", BookHours: 1, Outline: []figures.Outline{{ID: "cover", Number: 1, Minutes: 6}, {ID: "swap", Number: 2}, {ID: "hose", Number: 3}}}
	g := figures.Gather(edition, 1, 0)
	one := func(id string, minutes float64) figures.Sample {
		return figures.Sample{Job: id, Worked: labour.Seconds(60 * minutes), Steps: []figures.StepSample{{ID: "swap", Worked: labour.Seconds(60 * minutes), Clean: true}}}
	}
	for i := range 10 {
		g.Add(one(fmt.Sprint("other-", i), 10+float64(i)/10))
	}
	own := one("2000-01-01-1", 21)
	own.Comebacks = 600
	g.Add(own)
	r := g.Figures().Review(sheet)
	swap := r.Steps[1]
	if swap.Count != 10 || swap.Next == nil || swap.Next.High != 10.9 || !swap.Long || swap.Expected.Basis != figures.Learnt {
		t.Errorf("%+v", swap)
	}
	near(t, "beyond", swap.Beyond, 21-10.9, 1e-9)
	near(t, "share", swap.Share, 21.0/28, 1e-9)
	near(t, "cumulated", r.Steps[0].Cumulated, 1, 1e-9)
	if cover := r.Steps[0]; cover.Expected != (figures.Expected{Minutes: 6, Basis: figures.FromFile}) || cover.Count != 0 || cover.Long {
		t.Errorf("%+v", cover)
	}
	if r.Count != 10 || !r.Long || r.Comebacks != 10 {
		t.Errorf("%+v", r)
	}
	var none *figures.Figures
	alone := none.Review(sheet)
	if alone.Worked != 28 || alone.Next != nil || alone.Long || len(alone.Steps) != 2 || alone.Steps[1].Expected.Basis != figures.FromBook {
		t.Errorf("%+v", alone)
	}
}

func TestHappenedIsAList(t *testing.T) {
	set := figures.SetOf(figures.Remarked, figures.Paused)
	text, err := json.Marshal(set)
	if err != nil || string(text) != `["paused","remark"]` {
		t.Errorf("%s, %v", text, err)
	}
	var back figures.Happened
	if err := json.Unmarshal(text, &back); err != nil || back != set {
		t.Errorf("%v, %v", back.Each(), err)
	}
}
