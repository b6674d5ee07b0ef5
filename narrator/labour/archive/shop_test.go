package archive_test

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/labour/figures"
)

// inShop is a finished job of a bay that began so many minutes after dawn.
func inShop(bay string, minute int, d narrator.Detail, minutes ...float64) *script {
	at := dawn.Add(narrator.Minutes(float64(minute)))
	s := job(fmt.Sprintf("%s-%d.%s", at.Time().Format(time.DateOnly), minute, bay), 0, d, minutes...)
	for i := range s.events {
		s.events[i].At = s.events[i].At.Add(narrator.Minutes(float64(minute)))
		s.events[i].Noted = s.events[i].At
	}
	return s
}

// Whatever is asked, a shop's list finds what looking at every single job finds.
func TestAShopsListFindsWhatLookingAtEveryJobFinds(t *testing.T) {
	type kept struct {
		*script
		bay, text string
		narrator.Detail
		id, procedure string
	}
	store := &journal.Memory{}
	var all []kept
	orders := []string{"R 4711", "Zq-9", "äöü%", "\"quoted\" NEAR(x)", "x", ""}
	for n := range 60 {
		procedure := []string{"belt", "pump", "clutch"}[n%7%3]
		d := narrator.Detail{Procedure: procedure + ".yaml", Text: file(procedure, 1), Technician: []string{"Ines", "Marek", "Élodie"}[n*n%3], Order: orders[n%len(orders)],
			JobKind: narrator.JobKinds()[n%5%3]}
		bay := []string{"lift-1", "lift-2", "pit"}[n/4%3]
		s := inShop(bay, 100*n, d, 6)
		all = append(all, kept{s, bay, strings.ToLower(strings.Join([]string{s.id, procedure, "Job " + procedure, "Ostwick Pony", d.Order, d.Technician}, "\n")), d, s.id, procedure})
		add(t, store, s)
	}
	a := opened(t, t.TempDir(), store)
	refreshed(t, a)
	if bays, err := a.Bays(t.Context()); err != nil || !slices.Equal(bays, []string{"lift-1", "lift-2", "pit"}) {
		t.Errorf("bays %q, %v", bays, err)
	}
	rapid.Check(t, func(r *rapid.T) {
		maybe := func(name string, values ...string) string {
			return rapid.SampledFrom(append(values, "", "")).Draw(r, name)
		}
		of := rapid.SampledFrom(all).Draw(r, "like")
		letters := []rune(of.text)
		from := rapid.IntRange(0, len(letters)-1).Draw(r, "from")
		word := string(letters[from:min(len(letters), from+rapid.IntRange(1, 6).Draw(r, "letters"))])
		q := archive.Query{Text: maybe("text", word, word+" ines", "zzz", "rek ma", "q"), Procedure: maybe("procedure", "belt", "pump"), Technician: maybe("technician", "Ines", "Élodie", "Nobody"),
			Kind: maybe("kind", narrator.JobKinds()[:3]...), Bay: maybe("bay", "pit", "lift-2", "attic")}
		if rapid.Bool().Draw(r, "limited") {
			q.From = all[rapid.IntRange(0, 59).Draw(r, "first")].events[0].At.Time()
			q.To = all[rapid.IntRange(0, 59).Draw(r, "last")].events[0].At.Time()
		}
		var want []string
		for _, k := range slices.Backward(all) {
			at := k.events[0].At.Time()
			fits := (q.Procedure == "" || q.Procedure == k.procedure) && (q.Technician == "" || q.Technician == k.Technician) && (q.Kind == "" || q.Kind == k.JobKind) &&
				(q.Bay == "" || q.Bay == k.bay) && (q.From.IsZero() || !at.Before(q.From)) && (q.To.IsZero() || at.Before(q.To))
			for _, word := range strings.Fields(strings.ToLower(q.Text)) {
				fits = fits && strings.Contains(k.text, word)
			}
			if fits {
				want = append(want, k.id)
			}
		}
		total := len(want)
		q.Offset, q.Limit = rapid.IntRange(0, 61).Draw(r, "offset"), rapid.IntRange(0, 20).Draw(r, "limit")
		want = want[min(q.Offset, len(want)):]
		if q.Limit > 0 {
			want = want[:min(q.Limit, len(want))]
		}
		rows, n, err := a.Jobs(t.Context(), q)
		if err != nil || ids(rows) != strings.Join(want, " ") || n != total && (q.Limit > 0 || q.Offset < total) {
			r.Fatalf("%+v finds %s of %d, %v; want %s of %d", q, ids(rows), n, err, strings.Join(want, " "), total)
		}
	})
}

// Only what a job tells of is worked out again: its procedure, and that of the job from which it came back.
func TestFiguresOfOtherProceduresStay(t *testing.T) {
	store := shop(t)
	a := opened(t, t.TempDir(), store)
	refreshed(t, a)
	of := func(id string) *figures.Figures {
		t.Helper()
		f, err := a.Procedure(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	belt, pump := of("belt"), of("pump")
	add(t, store, job(nth(20), 20, narrator.Detail{Procedure: "clutch.yaml", Text: file("clutch", 1), JobKind: "comeback", Earlier: nth(5), Technician: "Ines"}, 10))
	refreshed(t, a)
	if of("belt") != belt {
		t.Error("a comeback of a pump changes the belt's figures")
	}
	if f := of("pump"); f == pump || f.Cost.CameBack != 1 || math.Abs(f.Cost.Comebacks-10.0/60) > 1e-9 {
		t.Errorf("the pump came back, and its figures tell %+v", f.Cost)
	}
	if all, err := a.Procedures(t.Context()); err != nil || len(all) != 3 || all[2].CameBack != 1 {
		t.Errorf("%+v, %v", all, err)
	}
}

// A day has of finished jobs the very times that their logs tell, and of their steps that ran long what the figures tell.
func TestADayTellsWhatTheJobsTell(t *testing.T) {
	store := &journal.Memory{}
	var all []*script
	for n := range 40 {
		s := begun(fmt.Sprintf("%s.pit", nth(n)), n, narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 2), Technician: "Ines"})
		s.then(0, narrator.Arrived, narrator.Detail{Step: "step-1"}).then(60*float64(5+n%7+40*(n/39)), narrator.Held, narrator.Detail{Reason: "parts"}).then(100.25, narrator.Resumed, narrator.Detail{})
		s.then(30, narrator.Arrived, narrator.Detail{Step: "step-2"}).then(60*float64(20+n*n%11), narrator.Finished, narrator.Detail{})
		all = append(all, s)
		add(t, store, s)
	}
	a := opened(t, t.TempDir(), store)
	refreshed(t, a)
	worked, err := a.Between(t.Context(), dawn.Time().AddDate(0, 0, -1), dawn.Time().AddDate(0, 0, 45), "pit")
	if err != nil || len(worked) != 40 {
		t.Fatalf("%d jobs, %v", len(worked), err)
	}
	for i, w := range worked {
		j, err := narrator.NewJob(all[39-i].events)
		if err != nil {
			t.Fatal(err)
		}
		var want []narrator.Stretch
		for _, s := range j.Timeline(j.End) {
			s.Step, s.Visit = 0, 0
			if n := len(want); n > 0 && want[n-1].What == s.What && want[n-1].Reason == s.Reason {
				want[n-1].To = s.To
				continue
			}
			want = append(want, s)
		}
		if w.Bay != "pit" || w.Job != j.ID || !reflect.DeepEqual(w.Line, want) {
			t.Errorf("%s: %v, want %v", w.Job, w.Line, want)
		}
	}
	if some, err := a.Between(t.Context(), dawn.Time().AddDate(0, 0, 3), dawn.Time().AddDate(0, 0, 4), ""); err != nil || len(some) != 1 || some[0].Job != all[3].id {
		t.Errorf("%d jobs on one day, %v", len(some), err)
	}
	if none, err := a.Between(t.Context(), dawn.Time(), dawn.Time().AddDate(0, 0, 9), "attic"); err != nil || len(none) != 0 {
		t.Errorf("%d jobs at no bay, %v", len(none), err)
	}
	f, err := a.Procedure(t.Context(), "belt")
	if err != nil {
		t.Fatal(err)
	}
	want, got := map[string]float64{}, map[string]float64{}
	for _, l := range f.Long {
		want[f.Runs[l.Run].Job+" "+f.Steps[l.Step].ID] = l.Beyond
	}
	long, missing, err := a.RanLong(t.Context(), worked)
	for _, l := range long {
		got[l.Job.Job+" "+l.ID] = l.Beyond
	}
	if err != nil || missing != 0 || len(want) == 0 || !reflect.DeepEqual(got, want) {
		t.Errorf("ran long %v, %v; the figures have %v", got, err, want)
	}
}
