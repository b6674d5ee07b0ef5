package labour_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
)

// crew are the technicians of random jobs.
var crew = []string{"Ines", "Marek", "Tove"}

// drawJob makes a job from any events in order of time, with whatever they refer to, and a moment to look at it. Its times
// are a few samples apart or a few minutes.
func drawJob(t *rapid.T) (*narrator.Job, narrator.Moment) {
	s := opened(pump, rapid.SampledFrom(append(crew, "")).Draw(t, "first"))
	unit := rapid.SampledFrom([]float64{1.0 / narrator.Rate, 61}).Draw(t, "unit")
	now := 0.0
	past := func() narrator.Moment { return at(float64(rapid.IntRange(0, int(now/unit)).Draw(t, "from")) * unit) }
	word := func() int64 { return int64(rapid.IntRange(1, len(s.log)).Draw(t, "ref")) }
	for range rapid.IntRange(0, 30).Draw(t, "events") {
		now += float64(rapid.IntRange(0, 12).Draw(t, "pause")) * unit
		d := narrator.Detail{Reason: rapid.SampledFrom([]string{"", "parts", "phone"}).Draw(t, "reason")}
		kind := rapid.SampledFrom([]narrator.Kind{narrator.Word, narrator.Arrived, narrator.Arrived, narrator.Held, narrator.Resumed,
			narrator.Away, narrator.Unsure, narrator.Settled, narrator.Because, narrator.Gap, narrator.Joined, narrator.Left,
			narrator.Undone, narrator.Corrected, narrator.Finished}).Draw(t, "kind")
		switch kind {
		case narrator.Arrived:
			d.Step = rapid.SampledFrom([]string{"drain", "belt", "pump", "fill", "run", "no such step"}).Draw(t, "step")
		case narrator.Away, narrator.Unsure, narrator.Gap:
			d.From = past()
		case narrator.Corrected:
			d.From, d.Worked = past(), rapid.Bool().Draw(t, "worked")
		case narrator.Settled, narrator.Because:
			d.Ref, d.Worked = word(), rapid.Bool().Draw(t, "worked")
		case narrator.Undone:
			d.Ref = max(3, word())
		case narrator.Joined, narrator.Left:
			d.Technician = rapid.SampledFrom(crew).Draw(t, "technician")
		}
		s.then(now, kind, d)
		if kind == narrator.Finished {
			break
		}
	}
	j, err := narrator.NewJob(s.log)
	if err != nil {
		t.Fatal(err)
	}
	return j, at(now + float64(rapid.IntRange(0, 100).Draw(t, "later"))*unit)
}

func TestStepsAddUpToTheTotals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j, now := drawJob(t)
		end := now
		if !j.Open() {
			end = j.End
		}
		total := narrator.Sum(j.Timeline(now))
		var sum narrator.Totals
		for _, s := range labour.StepSums(j, now) {
			sum.Elapsed += s.Elapsed
			sum.Worked += s.Worked
			sum.Paused += s.Paused
			sum.Unsure += s.Unsure
			sum.Gap += s.Gap
		}
		if sum != total || total.Elapsed != end.Since(j.Start) || total.Worked+total.Paused+total.Unsure+total.Gap != total.Elapsed {
			t.Fatalf("steps add up to %+v, the job to %+v, from start to end %d", sum, total, end.Since(j.Start))
		}
	})
}

func TestASheetIsConsistent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j, now := drawJob(t)
		s := labour.Of(j, now)
		near := func(a, b labour.Seconds, parts int) bool {
			return math.Abs(float64(a-b)) <= 0.0005*float64(parts+1)+1e-9
		}
		visits := 0
		for _, step := range s.Steps {
			visits += step.Visits
			whole := step.Worked + step.Paused + step.Unsure + step.Gap
			if step.Started < 0 || step.Ended < step.Started || step.Ended > s.Elapsed || whole > step.Ended-step.Started+0.0021 {
				t.Fatalf("step %+v", step)
			}
		}
		if visits != len(j.Arrivals) {
			t.Fatalf("%d visits, %d arrivals", visits, len(j.Arrivals))
		}
		var paused, byReason labour.Seconds
		for i, p := range s.Pauses {
			paused += p.To - p.From
			if p.To < p.From || i > 0 && p.From < s.Pauses[i-1].To {
				t.Fatalf("pauses %+v", s.Pauses)
			}
		}
		for _, r := range s.PausesByReason {
			byReason += r.Paused
		}
		if !near(paused, s.Paused, 2*len(s.Pauses)) || !near(byReason, s.Paused, len(s.PausesByReason)) {
			t.Fatalf("paused %v, spells %+v, by reason %+v", s.Paused, s.Pauses, s.PausesByReason)
		}
	})
}

// Each technician's time is counted sample by sample, and nobody's is longer than the worked time.
func TestTechniciansTimeCountedOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j, now := drawJob(t)
		line := j.Timeline(now)
		total := narrator.Sum(line)
		if total.Elapsed > 500 {
			return // minutes apart: too many samples to count
		}
		counted := map[string]narrator.Span{}
		for _, s := range line {
			for m := s.From; m < s.To && s.What == narrator.Working; m++ {
				present := map[string]bool{}
				for _, shift := range j.Crew {
					if shift.From <= m && (shift.To == 0 || m < shift.To) && !present[shift.Technician] {
						present[shift.Technician] = true
						counted[shift.Technician]++
					}
				}
			}
		}
		for _, p := range labour.Of(j, now).Technicians {
			want := labour.Seconds(math.Round(float64(counted[p.Name])/16)) / 1000
			if p.Worked != want || counted[p.Name] > total.Worked {
				t.Fatalf("%s worked %v, counted %d samples; all worked %d", p.Name, p.Worked, counted[p.Name], total.Worked)
			}
		}
	})
}
