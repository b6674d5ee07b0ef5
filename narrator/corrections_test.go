package narrator_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
)

// correct is Ines saying that she waited for parts from one second to another.
func correct(r *rig, from, to, now float64) narrator.Correct {
	return narrator.Correct{At: at(now), Job: r.bay.Active, Technician: "Ines", From: at(from), To: at(to), What: narrator.Paused,
		Reason: "parts", Why: "forgot to say it"}
}

func TestTimeIsCorrectedAndPutBack(t *testing.T) {
	r := newRig(t)
	r.say(100, "hold the job")
	r.say(102, "phone")
	r.say(160, "carry on")
	wantTotals(t, r, 200, 140, 60, 0, 0)
	r.take(correct(r, 20, 110, 200))
	wantTotals(t, r, 200, 60, 140, 0, 0)
	worked := correct(r, 50, 130, 210)
	worked.What, worked.Reason = narrator.Working, ""
	r.take(worked)
	wantTotals(t, r, 220, 160, 60, 0, 0)
	if heard := narrator.Sum(r.job().AsHeard(at(220))); heard.Worked != 160*narrator.Second || heard.Paused != 60*narrator.Second {
		t.Errorf("as heard: %+v", heard)
	}
	wants(t, r.say(230, "undo that"), "carrying on")
	wantTotals(t, r, 240, 100, 140, 0, 0)

	withdraw := narrator.Withdraw{At: at(240), Job: r.bay.Active, Technician: "Ines", Seq: r.job().Corrections()[1].Seq}
	r.take(withdraw)
	wantTotals(t, r, 240, 20, 220, 0, 0)
	withdraw.Seq = r.job().Corrections()[0].Seq
	r.take(withdraw)
	wantTotals(t, r, 240, 100, 140, 0, 0)
	n := len(r.log)
	r.take(withdraw)
	if c := r.job().Corrections(); len(r.log) != n || len(c) != 2 || !c[0].Undone || !c[1].Undone || c[0].Why != "forgot to say it" || c[0].Made != at(200) {
		t.Errorf("%d events after %d, corrections %+v", len(r.log), n, c)
	}
}

func TestSilenceAndGapsLieUnderACorrection(t *testing.T) {
	r := newRig(t)
	r.take(correct(r, 10, 1000, 1200))
	r.take(narrator.Woke{At: at(1300), Alive: at(500)})
	r.say(2500, "next")
	r.say(2503, "no")
	r.say(2505, "phone")
	w, p, u, g := r.totals(2510)
	if w+p+u+g != 2510 || p < 990 {
		t.Errorf("worked %v paused %v unsure %v gap %v", w, p, u, g)
	}
	for _, s := range r.job().Timeline(at(2510)) {
		if s.From < at(1000) && s.To > at(10) && (s.What != narrator.Paused || s.Reason != "parts") {
			t.Errorf("stretch %+v", s)
		}
	}
}

func TestAFinishedJobIsCorrectedAndRemarkedOn(t *testing.T) {
	r := newRig(t)
	atTheEnd(r)
	r.say(60, "finish job")
	r.say(62, "yes")
	j := r.bay.Jobs["2023-11-14-1"]
	c := correct(r, 10, 60, 90_000)
	c.Job = j.ID
	r.take(c)
	r.take(narrator.Annotate{At: at(90_001), Job: j.ID, Technician: "Ines", Step: "belt", Text: "The tensioner wants a 15 mm key."})
	r.take(narrator.Annotate{At: at(90_002), Job: j.ID, Technician: "Ines", Text: "Bay 2 was full."})
	if sum := narrator.Sum(j.Timeline(0)); sum.Elapsed != 60*narrator.Second || sum.Paused != 50*narrator.Second || j.End != at(60) {
		t.Errorf("%+v, ended %v", sum, j.End)
	}
	remarks := j.Remarks()
	if len(remarks) != 2 || remarks[0].Step != "belt" || remarks[0].Text != "The tensioner wants a 15 mm key." || remarks[1].Step != "" {
		t.Fatalf("remarks %+v", remarks)
	}
	r.take(narrator.Withdraw{At: at(90_003), Job: j.ID, Technician: "Ines", Seq: remarks[1].Seq})
	if remarks = j.Remarks(); remarks[0].Undone || !remarks[1].Undone {
		t.Errorf("remarks %+v", remarks)
	}
}

// A job finished long ago has acts with higher numbers than the bay that it is brought back to.
func TestACorrectionIsAnActOfItsOwn(t *testing.T) {
	r := newRig(t)
	atTheEnd(r)
	r.say(60, "finish job")
	r.say(62, "yes")
	fresh := narrator.NewBay(narrator.DefaultSettings())
	old, err := narrator.NewJob(r.bay.Jobs["2023-11-14-1"].Log())
	if err != nil {
		t.Fatal(err)
	}
	fresh.Jobs[old.ID] = old
	c := correct(r, 10, 60, 90_000)
	c.Job = old.ID
	events := narrator.Decide(fresh, c).Events
	if len(events) != 1 || slices.ContainsFunc(old.Log(), func(e narrator.Event) bool { return e.Act >= events[0].Act }) {
		t.Errorf("events %+v", events)
	}
}

func TestWhatIsWrongWithWhatIsTyped(t *testing.T) {
	r := newRig(t, func(s *narrator.Settings) { s.Technicians = []string{"Ines", "Marek", "Tove"} })
	r.say(100, "joining in")
	r.say(102, "one")
	r.say(200, "stepping out")
	r.say(202, "two")
	good := correct(r, 20, 80, 300)
	change := func(f func(c *narrator.Correct)) narrator.Correct { c := good; f(&c); return c }
	note := narrator.Annotate{At: at(300), Job: good.Job, Technician: "Ines", Step: "belt", Text: "tight"}
	for _, c := range []struct {
		in   narrator.Typed
		says string
	}{
		{good, ""},
		{change(func(c *narrator.Correct) { c.To = at(300) }), ""},
		{change(func(c *narrator.Correct) { c.Reason = "help" }), ""},
		{change(func(c *narrator.Correct) { c.What, c.Reason = narrator.Working, "" }), ""},
		{change(func(c *narrator.Correct) { c.Technician, c.From, c.To = "Marek", at(100), at(200) }), ""},
		{change(func(c *narrator.Correct) { c.Job = "2023-11-14-9" }), `no job "2023-11-14-9"`},
		{change(func(c *narrator.Correct) { c.Technician = " " }), "name the technician"},
		{change(func(c *narrator.Correct) { c.Technician = "Tove" }), "Tove was not on it; that is for Ines, Marek to write"},
		{change(func(c *narrator.Correct) { c.Technician = "Marek" }), "Marek was not on job 2023-11-14-1 all the time"},
		{change(func(c *narrator.Correct) { c.Technician, c.From, c.To = "Marek", at(150), at(201) }), "whoever was on it"},
		{change(func(c *narrator.Correct) { c.To = at(301) }), "its time is known up to"},
		{change(func(c *narrator.Correct) { c.From = at(-1) }), "began"},
		{change(func(c *narrator.Correct) { c.From = c.To }), "the end comes after the start"},
		{change(func(c *narrator.Correct) { c.Why = " " }), "why it is corrected is missing"},
		{change(func(c *narrator.Correct) { c.Why = "\xff" }), "UTF-8"},
		{change(func(c *narrator.Correct) { c.Why = strings.Repeat("a", 4001) }), "write at most 4000"},
		{change(func(c *narrator.Correct) { c.Reason = "" }), `"" is no reason for a pause; use one of: approval, break`},
		{change(func(c *narrator.Correct) { c.What = narrator.Working }), `has no reason; leave "parts" out`},
		{change(func(c *narrator.Correct) { c.What = narrator.NotRunning }), `either "worked" or "paused", not "gap"`},
		{note, ""},
		{narrator.Annotate{Job: note.Job, Technician: "Ines", Step: "pump", Text: "x"}, `no step "pump"`},
		{narrator.Annotate{Job: note.Job, Technician: "Tove", Text: "x"}, "was not on it"},
		{narrator.Annotate{Job: note.Job, Technician: "Ines"}, "the remark is missing"},
		{narrator.Withdraw{Job: note.Job, Technician: "Ines", Seq: 1}, "event 1 is neither"},
		{narrator.Enter{Job: "x", Field: "cause", Value: "rust"}, `no job "x"`},
	} {
		err := c.in.Check(r.bay)
		events := narrator.Decide(r.bay, c.in).Events
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) || (len(events) > 0) != (err == nil) {
			t.Errorf("%+v: %v, events %+v; want %q", c.in, err, events, c.says)
		}
	}
	r.take(good)
	other := narrator.Withdraw{At: at(301), Job: good.Job, Technician: "Marek", Seq: r.job().Corrections()[0].Seq}
	if err := other.Check(r.bay); err == nil || !strings.Contains(err.Error(), "Ines wrote that") {
		t.Error(err)
	}
}

func TestAJobWithoutNamesIsCorrectedByAnybody(t *testing.T) {
	r := newRig(t)
	r.take(narrator.Start{At: at(10), Job: "2023-11-14-7", Procedure: "fan-belt.yaml", Text: threeSteps})
	if err := correct(r, 11, 12, 20).Check(r.bay); err != nil {
		t.Error(err)
	}
}

// Corrections at any time of any jobs: the totals still add up to the elapsed time, only the corrected stretch changes, replay gives the same,
// and withdrawing restores all.
func TestAnyCorrection(t *testing.T) {
	made := 0
	rapid.Check(t, func(t *rapid.T) {
		day(t, func(r *rig, seconds float64) {
			if rapid.IntRange(0, 5).Draw(t, "correct") > 0 {
				return
			}
			now := at(seconds + 1)
			for id, j := range r.bay.Jobs {
				long := int64(now.Since(j.Start))
				from := j.Start.Add(narrator.Span(rapid.Int64Range(-10, long).Draw(t, "from")))
				in := narrator.Correct{At: now, Job: id, Technician: rapid.SampledFrom([]string{"Ines", "Marek"}).Draw(t, "technician"), From: from,
					To: from.Add(narrator.Span(rapid.Int64Range(0, long+10).Draw(t, "length"))), What: narrator.Working, Why: "x"}
				if rapid.Bool().Draw(t, "paused") {
					in.What, in.Reason = narrator.Paused, "parts"
				}
				end := now
				if !j.Open() {
					end = j.End
				}
				fault := in.Check(r.bay)
				if fault == nil && (in.From < j.Start || in.To > end || in.From >= in.To) {
					t.Fatalf("%+v is allowed on a job from %v to %v", in, j.Start, end)
				}
				before, state := j.Timeline(now), facts(r.bay)
				r.take(in)
				if fault != nil {
					if len(r.last.Events) > 0 {
						t.Fatalf("%v, but %+v", fault, r.last.Events)
					}
					continue
				}
				made++
				after := j.Timeline(now)
				if a, b := narrator.Sum(before), narrator.Sum(after); a.Elapsed != b.Elapsed || b.Worked+b.Paused+b.Unsure+b.Gap != b.Elapsed {
					t.Fatalf("%+v became %+v", a, b)
				}
				changedOnlyBetween(t, before, after, in)
				again, err := narrator.NewJob(j.Log())
				if err != nil || !reflect.DeepEqual(again.Timeline(now), after) || !reflect.DeepEqual(again.AsHeard(now), j.AsHeard(now)) {
					t.Fatalf("replayed %+v, %v\nwas %+v", again.Timeline(now), err, after)
				}
				if rapid.Bool().Draw(t, "withdraw") {
					all := j.Corrections()
					r.take(narrator.Withdraw{At: now, Job: id, Technician: in.Technician, Seq: all[len(all)-1].Seq})
					if line := j.Timeline(now); !reflect.DeepEqual(line, before) || !reflect.DeepEqual(facts(r.bay), state) {
						t.Fatalf("withdrawn: %+v\nwas %+v", line, before)
					}
				}
			}
		})
	})
	if made == 0 {
		t.Error("no correction was made")
	}
	t.Logf("%d corrections", made)
}

// changedOnlyBetween looks at both timelines at each of their borders.
func changedOnlyBetween(t *rapid.T, before, after []narrator.Stretch, in narrator.Correct) {
	look := func(line []narrator.Stretch, m narrator.Moment) narrator.Stretch {
		i := slices.IndexFunc(line, func(s narrator.Stretch) bool { return s.From <= m && m < s.To })
		s := line[i]
		s.From, s.To = 0, 0
		return s
	}
	for _, s := range slices.Concat(before, after) {
		was, is := look(before, s.From), look(after, s.From)
		if in.From <= s.From && s.From < in.To {
			was.What, was.Reason = in.What, in.Reason
		}
		if was != is {
			t.Fatalf("at %v it was %+v, is %+v by %+v", s.From, was, is, in)
		}
	}
}
