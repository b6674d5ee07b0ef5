package figures_test

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/figures"
	"stepcaller/narrator/labour/study"
)

// belt is an invented procedure of an hour: one step with minutes, three without.
var belt = figures.Edition{Procedure: "belt", Title: "Belt", BookHours: 1, Outline: []figures.Outline{
	{ID: "cover", Number: 1, Title: "Cover off", Minutes: 6}, {ID: "swap", Number: 2, Title: "Swap"},
	{ID: "close", Number: 3, Title: "Close"}, {ID: "extra", Number: 4, Title: "Clean", Choice: true},
}}

// sample is a job on day n by Ines alone, with its steps' minutes in order.
func sample(n int, minutes ...float64) figures.Sample {
	s := figures.Sample{Job: fmt.Sprintf("job-%d", n), Started: time.Date(2000, 1, n+1, 8, 0, 0, 0, time.UTC), Technician: "Ines", Book: 100}
	for i, m := range minutes {
		s.Steps = append(s.Steps, figures.StepSample{ID: belt.Outline[i].ID, Worked: labour.Seconds(60 * m), Clean: true})
		s.Worked += labour.Seconds(60 * m)
	}
	s.Person = s.Worked
	return s
}

func gather(samples ...figures.Sample) *figures.Figures {
	g := figures.Gather(belt, 1, len(samples))
	for _, s := range samples {
		g.Add(s)
	}
	return g.Figures()
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// By hand: swaps of 20, 22, 24 and 30 minutes; their median is 23, their quartiles (type 7) 21.5 and 25.5, their mean 24.
func TestAStep(t *testing.T) {
	f := gather(sample(0, 5, 20, 10), sample(1, 6, 22, 10), sample(2, 7, 24, 10), sample(3, 8, 30, 10))
	s := f.Steps[1]
	if s.Count != 4 || s.Median != 23 || s.Lower != 21.5 || s.Upper != 25.5 || s.Shortest != 20 || s.Longest != 30 || s.Mean != 24 {
		t.Errorf("%+v", s.Spread)
	}
	if s.Next == nil || s.Next.Count != 4 || s.Next.Level != 0.8 || s.Next.Low >= 20 || s.Next.High <= 30 {
		t.Errorf("%+v", s.Next)
	}
	// 26 + 96 + 40 minutes are 162.
	near(t, "share of the swap", s.Share, 96.0/162, 1e-12)
	near(t, "share of closing", f.Steps[2].Share, 40.0/162, 1e-12)
	near(t, "cumulated with closing", f.Steps[2].Cumulated, 136.0/162, 1e-12)
	near(t, "cumulated with the cover", f.Steps[0].Cumulated, 1, 1e-12)
	if s.Rank != 1 || f.Steps[2].Rank != 2 || f.Steps[3].Count != 0 || f.Steps[3].Next != nil {
		t.Errorf("%+v", f.Steps)
	}
}

// An hour is booked. The file gives 6 minutes; 24 and 10 are learnt; the step that nobody has done yet gets what the book leaves, 20.
func TestExpected(t *testing.T) {
	expect := func(f *figures.Figures, want ...figures.Expected) {
		t.Helper()
		for i, w := range want {
			if got := f.Steps[i].Expected; got.Basis != w.Basis || math.Abs(got.Minutes-w.Minutes) > 1e-9 {
				t.Errorf("step %d is expected to take %+v, want %+v", i+1, got, w)
			}
		}
	}
	file, none := figures.Expected{Minutes: 6, Basis: figures.FromFile}, figures.Expected{Basis: figures.NoBasis}
	learnt := func(m float64) figures.Expected { return figures.Expected{Minutes: m, Basis: figures.Learnt} }
	book := func(m float64) figures.Expected { return figures.Expected{Minutes: m, Basis: figures.FromBook} }
	expect(gather(), file, book(18), book(18), book(18))
	expect(gather(sample(0, 5, 24, 10), sample(1, 5, 24, 10)), file, book(18), book(18), book(18))
	expect(gather(sample(0, 5, 24, 10), sample(1, 5, 24, 10), sample(2, 5, 24, 10)), file, learnt(24), learnt(10), book(20))
	expect(gather(sample(0, 5, 44, 10), sample(1, 5, 44, 10), sample(2, 5, 44, 10)), file, learnt(44), learnt(10), none)
}

// What is no sample is counted and shown; a comeback's time is the first job's cost.
func TestWhatIsNoSample(t *testing.T) {
	helped, comeback, unsure, first := sample(3, 6, 20, 10), sample(4, 6, 20, 4), sample(5, 6, 20, 30), sample(0, 6, 20, 10)
	helped.Why, helped.Technician, helped.Person = figures.Helped, "", 2*helped.Worked
	comeback.Why = figures.Comeback
	unsure.Why, unsure.Steps[2].Clean = figures.Unsure, false
	first.Comebacks = comeback.Person
	f := gather(first, sample(1, 6, 20, 10), sample(2, 6, 20, 10), helped, comeback, unsure)
	if f.Jobs != 6 || f.Whole.Count != 3 || f.Whole.Longest != 36 {
		t.Errorf("%d jobs, %+v", f.Jobs, f.Whole.Spread)
	}
	if got := fmt.Sprint(f.Steps[0].Count, f.Steps[1].Count, f.Steps[2].Count); got != "4 4 3" {
		t.Errorf("samples of the steps are %s", got)
	}
	if want := []figures.Passed{{Why: figures.Comeback, Jobs: 1}, {Why: figures.Helped, Jobs: 1}, {Why: figures.Unsure, Jobs: 1}}; !slices.Equal(f.Passed, want) {
		t.Errorf("%+v", f.Passed)
	}
	// 3 · 36 + 2 · 36 + 56 minutes of work on five jobs, and the 30 of the comeback.
	c := f.Cost
	near(t, "hours", c.Hours, (3*36+2*36+56)/60.0, 1e-9)
	near(t, "hours per job", c.PerJob, (3*36+2*36+56+30)/60.0/5, 1e-9)
	if c.Jobs != 5 || c.CameBack != 1 || c.Comebacks != 0.5 {
		t.Errorf("%+v", c)
	}
	near(t, "efficiency", *f.Whole.Efficiency, 180.0/108, 1e-12)
}

// The readings of the ILO's worked example, 8, 7, 8, 9, 7 (Introduction to Work Study), want 4 in all: five are enough by that form. By
// Niebel's, mean 7.8, s 0.836660 and t(0.975; 4) = 2.776 (Student's tables) want (2.776 · 0.836660 / 0.78)² = 8.87, so 9: four more.
func TestEnough(t *testing.T) {
	var all []figures.Sample
	for i, m := range []float64{8, 7, 8, 9, 7} {
		all = append(all, sample(i, m))
	}
	if e := gather(all...).Whole.Enough; e == nil || e.ILO != 4 || e.Niebel != 9 || e.More != 4 {
		t.Errorf("%+v", e)
	}
	if w := gather(all[:2]...).Whole; w.Enough != nil || w.Quote != nil || w.BeatBook != nil || w.Next != nil {
		t.Errorf("two jobs give %+v", w)
	}
}

// A step's mean is gonum's, its median between gonum's ranks.
func TestMeanAgainstGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		minutes := rapid.SliceOfN(rapid.Float64Range(0.1, 500), 1, 50).Draw(t, "minutes")
		var all []figures.Sample
		for i, m := range minutes {
			all = append(all, sample(i%28, m))
		}
		s := gather(all...).Steps[0]
		slices.Sort(minutes)
		if want := stat.Mean(minutes, nil); math.Abs(s.Mean-want) > 1e-9*want || s.Count != len(minutes) {
			t.Fatalf("the mean is %v of %d, want %v", s.Mean, s.Count, want)
		}
		// gonum's empirical quantile lies within one rank of any interpolated one.
		if low, high := stat.Quantile(0.5, stat.Empirical, minutes, nil), minutes[len(minutes)/2]; s.Median < low-1e-9 || s.Median > high+1e-9 {
			t.Fatalf("the median %v is not from %v to %v", s.Median, low, high)
		}
	})
}

// A quote is in whole tenths, rounded up, and is beaten at least as often as it says.
func TestQuote(t *testing.T) {
	f := gather(sample(0, 6, 30, 20), sample(1, 6, 34, 20), sample(2, 6, 32, 20), sample(3, 6, 33, 20))
	times := []float64{56, 60, 58, 59}
	exact, _ := study.Quote(times, 0.8, study.Prior{})
	q := f.Whole.Quote
	if q == nil || q.Chance != 0.8 || q.Hours*60 < exact || q.Hours*60-exact >= 6 || math.Abs(q.Hours*10-math.Round(q.Hours*10)) > 1e-9 {
		t.Errorf("%+v of %v minutes", q, exact)
	}
	beat, _ := study.Beat(times, 60, study.Prior{})
	near(t, "chance to beat the book", *f.Whole.BeatBook, beat, 0)
}

// Each time is held against all the others just as study.Next would rank them.
func TestUpperWithout(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sorted := rapid.SliceOfN(rapid.SampledFrom([]float64{1, 2, 2.5, 3, 4, 8, 20}), 1, 40).Draw(t, "times")
		slices.Sort(sorted)
		prior := study.Prior{Spread: 0.3, Freedom: 4}
		for i, m := range sorted {
			want := m
			if next, ok := study.Next(slices.Delete(slices.Clone(sorted), i, i+1), figures.Level, prior); ok {
				want = next.High
			}
			if got := figures.UpperWithout(sorted, m, prior); got != want {
				t.Fatalf("%v of %v is held against %v, want %v", m, sorted, got, want)
			}
		}
	})
}

func TestRanLong(t *testing.T) {
	var all []figures.Sample
	for i := range 12 {
		all = append(all, sample(i, 6, 20+float64(i%3), 10))
	}
	long := sample(12, 8.9, 40, 10)
	long.Steps[1].Happened = figures.SetOf(figures.Paused, figures.Noted)
	f := gather(append(all, long)...)
	if len(f.Long) != 1 || f.Long[0].Run != 12 || f.Long[0].Step != 1 || f.Long[0].Minutes != 40 || f.Long[0].Beyond != 18 {
		t.Errorf("%+v", f.Long)
	}
	// The cover took 2.9 minutes beyond the others: within the floor.
	if f.Steps[0].RanLong != 0 || f.Steps[1].RanLong != 1 || !f.Steps[1].Times[12].Long {
		t.Errorf("%+v", f.Steps[:2])
	}
	if want := []figures.Tally{{What: figures.Paused, Times: 1}, {What: figures.Noted, Times: 1}}; !slices.Equal(f.Steps[1].Why, want) {
		t.Errorf("%+v", f.Steps[1].Why)
	}
	// Two others tell nothing, however long it takes.
	if f := gather(all[0], all[1], sample(2, 6, 300, 10)); len(f.Long) != 0 {
		t.Errorf("%+v", f.Long)
	}
}

// Nobody is ranked: technicians stand by name, each with their own runs in order.
func TestLearners(t *testing.T) {
	var all []figures.Sample
	for i := range 8 {
		s := sample(i, 100*math.Pow(float64(i+1), math.Log2(0.8))) // T. P. Wright's 80 % curve, 1936
		s.Technician = "Marek"
		all = append(all, s)
	}
	other := sample(9, 20)
	f := gather(append(all, other)...)
	if len(f.Learners) != 2 || f.Learners[0].Technician != "Ines" || f.Learners[0].Curve != nil {
		t.Fatalf("%+v", f.Learners)
	}
	l := f.Learners[1]
	if len(l.Runs) != 8 || l.Curve == nil || l.Doubt != "" {
		t.Fatalf("%+v", l)
	}
	near(t, "the rate", l.Curve.Rate, 0.8, 1e-9)
	near(t, "the fourth run", l.Curve.At(4), 64, 1e-9)
}

// What figures hold can always be written as JSON, and no list of it is null.
func TestFiguresAreJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []figures.Sample
		for i := range rapid.IntRange(0, 15).Draw(t, "jobs") {
			s := sample(i, rapid.SliceOfN(rapid.SampledFrom([]float64{0, 0.01, 5, 5, 6, 90}), 0, 4).Draw(t, "minutes")...)
			s.Why = rapid.SampledFrom(append(figures.Whys(), figures.IsSample, figures.IsSample)).Draw(t, "why")
			for k := range s.Steps {
				s.Steps[k].Clean = s.Steps[k].Worked > 0
			}
			all = append(all, s)
		}
		f := gather(all...)
		text, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		var fields map[string]any
		if err := json.Unmarshal(text, &fields); err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{"passed", "steps", "learners", "ran_long", "runs", "outline"} {
			if _, ok := fields[name].([]any); !ok {
				t.Fatalf("%s is %v", name, fields[name])
			}
		}
		var sum float64
		for _, s := range f.Steps {
			sum += s.Share
		}
		if sum != 0 && math.Abs(sum-1) > 1e-9 {
			t.Fatalf("the shares add up to %v", sum)
		}
	})
}
