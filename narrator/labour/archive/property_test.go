package archive_test

import (
	"cmp"
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/labour/figures"
)

// Whatever jobs there are, in whatever order they became known and however often they were worked in, the archive tells of a procedure just
// what the jobs' own sheets tell.
func TestTheArchiveTellsWhatTheSheetsTell(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		store := &journal.Memory{}
		a, err := archive.Open(t.TempDir(), store)
		if err != nil {
			r.Fatal(err)
		}
		defer a.Close()
		latest := rapid.IntRange(1, 14).Draw(r, "looked at")
		archive.LookAt(a, latest)
		var all []*script
		days := rapid.Permutation([]int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}).Draw(r, "days")
		for _, day := range days[:rapid.IntRange(1, len(days)).Draw(r, "jobs")] {
			d := narrator.Detail{Procedure: "belt.yaml", Text: file("belt", 3), Technician: rapid.SampledFrom([]string{"", "Ines", "Marek"}).Draw(r, "who")}
			if day > 6 {
				d.Text += "  - {id: step-4, say: Do one more., minutes: 3}\n"
			}
			if day > 0 && rapid.IntRange(0, 5).Draw(r, "comeback") == 0 {
				d.JobKind, d.Earlier = "comeback", nth(rapid.IntRange(0, day-1).Draw(r, "earlier"))
			}
			s := begun(nth(day), day, d)
			for n := 1; n <= rapid.IntRange(1, 4).Draw(r, "steps") && (n < 4 || day > 6); n++ {
				s.then(0, narrator.Arrived, narrator.Detail{Step: fmt.Sprint("step-", n)})
				s.then(rapid.Float64Range(0.5, 5000).Draw(r, "seconds"), narrator.Word, narrator.Detail{Word: "repeat"})
				switch rapid.IntRange(0, 7).Draw(r, "event") {
				case 0:
					s.then(1, narrator.Held, narrator.Detail{Reason: "parts"}).then(100, narrator.Resumed, narrator.Detail{})
				case 1:
					s.then(200, narrator.Unsure, narrator.Detail{From: s.now.Add(10 * narrator.Second)})
				case 2:
					s.then(1, narrator.Joined, narrator.Detail{Technician: "Élodie"})
				}
			}
			if rapid.IntRange(0, 9).Draw(r, "open") > 0 {
				s.then(1, narrator.Finished, narrator.Detail{})
			}
			all = append(all, s)
			add(t, store, s)
			if rapid.Bool().Draw(r, "refresh") {
				refreshed(t, a)
			}
		}
		refreshed(t, a)
		for _, s := range all {
			if last := len(s.events); rapid.IntRange(0, 3).Draw(r, "correct") == 0 {
				at := s.events[0].At
				s.now = at.Add(narrator.Second / 4)
				s.then(0, narrator.Corrected, narrator.Detail{From: at, Reason: "phone", Why: "it rang", Technician: "Ines"})
				if err := store.Append(t.Context(), s.events[last:]); err != nil {
					r.Fatal(err)
				}
			}
		}
		refreshed(t, a)
		want := gathered(t, all, latest)
		got, err := a.Procedure(t.Context(), "belt")
		if want.Jobs == 0 {
			if err == nil {
				r.Fatalf("no job gives %+v", got)
			}
			return
		}
		if err != nil {
			r.Fatal(err)
		}
		if !reflect.DeepEqual(got, want) {
			r.Fatalf("the archive tells\n%+v\nthe sheets tell\n%+v", got, want)
		}
	})
}

// gathered works the figures out from the sheets alone.
func gathered(t *testing.T, scripts []*script, latest int) *figures.Figures {
	t.Helper()
	var samples []figures.Sample
	var newest *narrator.Job
	texts := map[string]bool{}
	earlier, person := map[string]string{}, map[string]labour.Seconds{}
	for _, s := range scripts {
		j, err := narrator.NewJob(s.events)
		if err != nil {
			t.Fatal(err)
		}
		if j.Open() {
			continue
		}
		if newest == nil || j.Start > newest.Start {
			newest = j
		}
		texts[j.Procedure.Text()] = true
		sample := figures.SampleOf(j, labour.Of(j, j.End))
		samples = append(samples, sample)
		earlier[j.ID], person[j.ID] = j.Earlier, sample.Person
	}
	if newest == nil {
		return &figures.Figures{}
	}
	slices.SortFunc(samples, func(a, b figures.Sample) int { return cmp.Or(a.Started.Compare(b.Started), cmp.Compare(a.Job, b.Job)) })
	for _, back := range slices.Clone(samples) {
		id := back.Job
		for from := earlier[id]; from != ""; from = earlier[from] {
			if i := slices.IndexFunc(samples, func(s figures.Sample) bool { return s.Job == from }); i >= 0 {
				samples[i].Comebacks = labour.Seconds(math.Round(1000*float64(samples[i].Comebacks+person[id]))) / 1000
			}
		}
	}
	sums := figures.Sums{}
	for _, s := range samples {
		sums.Add(s)
	}
	g := figures.Gather(figures.EditionOf(newest.Procedure), len(texts), 0)
	for _, s := range samples[max(0, len(samples)-latest):] {
		g.Add(s)
	}
	g.Among(sums)
	return g.Figures()
}
