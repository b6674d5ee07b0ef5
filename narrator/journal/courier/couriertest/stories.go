package couriertest

import (
	"slices"
	"sync"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/storetest"
)

// within receives from a channel, for at most 30 s.
func within[T any](t *testing.T, from <-chan T) T {
	t.Helper()
	select {
	case got := <-from:
		return got
	case <-time.After(30 * time.Second):
		t.Fatal("waited 30 s for nothing")
		panic("unreachable")
	}
}

func testOnce(t *testing.T, r *rig) {
	job := storetest.NewJob("2026-11-25-1", storetest.Dawn).Then(3, narrator.Recorded, narrator.Detail{File: "memos/2026-11-25-1-1.wav", Length: 7})
	bay := storetest.NewBay(storetest.Dawn).Then(0, narrator.Switched, narrator.Detail{Work: "2026-11-25-1"})
	r.append("lift-2", job.Events[0], bay.Events[0], job.Events[1], job.Events[2])
	r.append("pit", storetest.NewJob("2026-11-25-1", storetest.Dawn.Add(narrator.Minute)).Events...)
	r.send("lift-2")
	r.send("pit")
	r.want("2026-11-25-1.lift-2 1 lift-2 0: 1-3", "2026-11-25-1.pit 1 pit 0: 1-2", "@lift-2 1 lift-2 0: 1-1")
	r.wantRaw("lift-2")
	r.wantRaw("pit")
	mark, mine, err := r.Bay("lift-2").Arrived(t.Context(), "journal of lift-2")
	if last := r.batch("lift-2", 0).Events[3]; err != nil || mark != last.Mark || mine != courier.Print(last) {
		t.Errorf("arrived up to %d %q, %v; want %d", mark, mine, err, last.Mark)
	}
	if mark, last, err := r.Bay("pit").Arrived(t.Context(), "journal of lift-2"); mark != 0 || last != "" || err != nil {
		t.Errorf("of another bay's journal %d %q, %v arrived", mark, last, err)
	}
}

func testDuplicates(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 4)
	r.send("lift-2")
	again := r.batch("lift-2", 0)
	again.Journal = "another"
	r.is(r.Bay("lift-2").Send(t.Context(), again), nil)
	r.want("1.lift-2 1 lift-2 0: 1-4")
	if mark, _, err := r.Bay("lift-2").Arrived(t.Context(), "another"); mark != 4 || err != nil {
		t.Errorf("what was passed over has not arrived: %d, %v", mark, err)
	}
	r.is(r.Bay("lift-2").Send(t.Context(), courier.Batch{Journal: "another", After: 4}), nil)
}

func testOverlap(t *testing.T, r *rig) {
	s := r.begin("lift-2", "1", 4)
	r.append("lift-2", r.more(s, 3)...)
	r.is(r.Bay("lift-2").Send(t.Context(), r.batch("lift-2", 2)), nil)
	r.want("1.lift-2 1 lift-2 0: 1-7")
	r.wantRaw("lift-2")
}

func testHole(t *testing.T, r *rig) {
	s := r.begin("lift-2", "1", 4)
	r.append("lift-2", r.more(s, 3)...)
	r.hole(r.Bay("lift-2").Send(t.Context(), r.batch("lift-2", 6)), 4)
	late := r.batch("lift-2", 5)
	late.After = 4 // a journal that lies about its order
	r.hole(r.Bay("lift-2").Send(t.Context(), late), 4)
	r.want("1.lift-2 1 lift-2 0: 1-4")
	r.is(r.Bay("lift-2").Send(t.Context(), r.batch("lift-2", 4)), nil)
	r.want("1.lift-2 1 lift-2 0: 1-7")
	r.append("lift-2", r.more(s, 1)...)
	r.append("lift-2", storetest.NewJob("2", storetest.Dawn).Events...)
	r.hole(r.Bay("lift-2").Send(t.Context(), r.batch("lift-2", 8)), 7) // each job is whole, the journal is not
	r.append("pit", storetest.NewJob("1", storetest.Dawn).Events...)
	headless := r.batch("pit", 1)
	headless.After = 0
	r.hole(r.Bay("pit").Send(t.Context(), headless), 0)
}

func testAllOrNothing(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 3)
	r.append("lift-2", storetest.NewJob("2", storetest.Dawn).Events...)
	bad := r.batch("lift-2", 3)
	bad.Events = append(bad.Events, journal.Marked{Mark: 6, Event: narrator.Event{Job: "3.pit", Seq: 1, Kind: narrator.Opened}, Raw: "{}"})
	r.is(r.Bay("lift-2").Send(t.Context(), bad), courier.ErrNotOwner)
	r.want("1.lift-2 1 lift-2 0: 1-3")
	if mark, _, err := r.Bay("lift-2").Arrived(t.Context(), "journal of lift-2"); mark != 3 || err != nil {
		t.Errorf("arrived up to %d, %v; want 3", mark, err)
	}
}

func testNotOwner(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 3)
	send := func(job string, seq int64) error {
		return r.Bay("pit").Send(t.Context(), courier.Batch{Journal: "bad", Events: []journal.Marked{{Mark: 1, Raw: "{}",
			Event: narrator.Event{Job: job, Seq: seq, Kind: narrator.Word}}}})
	}
	r.is(send("1.lift-2", 4), courier.ErrNotOwner)
	r.is(send("9.lift-2", 1), courier.ErrNotOwner)
	r.is(send("@lift-2", 1), courier.ErrNotOwner)
	r.is(r.Bay("pit").Release(t.Context(), "1.lift-2", 3, "pit"), courier.ErrNotOwner)
	r.is(r.Bay("pit").Release(t.Context(), "9.pit", 3, ""), courier.ErrNoSuchJob)
	r.is(r.Bay("pit").Branch(t.Context(), "1.lift-2", 1), courier.ErrNotOwner)
	r.is(r.Bay("pit").Branch(t.Context(), "9.pit", 0), courier.ErrNoSuchJob)
	for _, job := range []string{"9.pit", "@lift-2"} {
		_, err := r.Bay("pit").Claim(t.Context(), job, true)
		r.is(err, courier.ErrNoSuchJob)
	}
	_, err := r.Bay("pit").Claim(t.Context(), "1.lift-2", false)
	r.is(err, courier.ErrNotOwner)
	r.want("1.lift-2 1 lift-2 0: 1-3")
}

// other makes every event of a batch after a seq one that it was not.
func other(b courier.Batch, after int64) courier.Batch {
	b.Events = slices.Clone(b.Events)
	for i := range b.Events {
		if b.Events[i].Seq > after {
			b.Events[i].At++
		}
	}
	return b
}

func testConflict(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 5)
	for i, b := range []courier.Batch{other(r.batch("lift-2", 0), 3), r.batch("lift-2", 0)} {
		b.Journal = "another"
		if i == 1 { // the same but for a byte
			b.Events[3].Raw = `{"score":0.75,"word":"repeat"}`
		}
		r.conflict(r.Bay("lift-2").Send(t.Context(), b), "1.lift-2", 4)
	}
	r.want("1.lift-2 1 lift-2 0: 1-5")
	r.wantRaw("lift-2")
}

func testBackup(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 5)
	b := other(r.batch("lift-2", 0), 3)
	b.Journal = "after the backup"
	shop := r.Bay("lift-2")
	r.conflict(shop.Send(t.Context(), b), "1.lift-2", 4)
	r.is(shop.Branch(t.Context(), "1.lift-2", 3), nil)
	r.is(shop.Send(t.Context(), b), nil)
	r.is(shop.Send(t.Context(), b), nil)
	r.want("1.lift-2 1 lift-2 0: 1-5", "1.lift-2 2 lift-2 3: 4-5")
	r.is(shop.Release(t.Context(), "1.lift-2", 5, ""), nil)
	log := r.claim("pit", "1.lift-2", false)
	if len(log) != 5 || log[3].At != b.Events[3].At || log[2].At != b.Events[2].At {
		t.Errorf("the story that goes on is not the one handed over: %+v", log)
	}
	if lost, err := shop.Lost(t.Context()); len(lost) != 0 || err != nil {
		t.Errorf("lost %+v, %v", lost, err)
	}
}

func testBranchOnce(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 5)
	for range 2 {
		r.is(r.Bay("lift-2").Branch(t.Context(), "1.lift-2", 3), nil)
	}
	r.want("1.lift-2 1 lift-2 0: 1-5", "1.lift-2 2 lift-2 3: none")
	r.is(r.Bay("lift-2").Branch(t.Context(), "1.lift-2", 4), courier.ErrNotArrived)
}

func testNumberAgain(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 5)
	b := other(r.batch("lift-2", 0), 0)
	b.Journal = "after the backup"
	r.conflict(r.Bay("lift-2").Send(t.Context(), b), "1.lift-2", 1)
	r.is(r.Bay("lift-2").Branch(t.Context(), "1.lift-2", 0), nil)
	r.is(r.Bay("lift-2").Send(t.Context(), b), nil)
	r.want("1.lift-2 1 lift-2 0: 1-5", "1.lift-2 2 lift-2 0: 1-5")
	r.append("lift-2", storetest.NewBay(storetest.Dawn).Then(0, narrator.Listening, narrator.Detail{}).Events...)
	r.send("lift-2")
	own := other(r.batch("lift-2", 5), 0)
	own.Journal, own.After = "after another", 0
	r.conflict(r.Bay("lift-2").Send(t.Context(), own), "@lift-2", 1)
	r.is(r.Bay("lift-2").Branch(t.Context(), "@lift-2", 0), nil)
	r.is(r.Bay("lift-2").Send(t.Context(), own), nil)
}

func testReleaseWaits(t *testing.T, r *rig) {
	s := r.begin("lift-2", "1", 3)
	shop := r.Bay("lift-2")
	r.is(shop.Release(t.Context(), "1.lift-2", 4, "pit"), courier.ErrNotArrived)
	_, err := r.Bay("pit").Claim(t.Context(), "1.lift-2", false)
	r.is(err, courier.ErrNotOwner)
	r.append("lift-2", r.more(s, 1)...)
	r.send("lift-2")
	for range 2 {
		r.is(shop.Release(t.Context(), "1.lift-2", 4, "pit"), nil)
	}
	if log := r.claim("pit", "1.lift-2", false); len(log) != 4 {
		t.Errorf("%d events were handed over", len(log))
	}
	r.is(shop.Release(t.Context(), "1.lift-2", 4, "pit"), nil) // it is how it ended
	r.is(r.Bay("lift-2").Release(t.Context(), "@lift-2", 1, ""), courier.ErrNoSuchJob)
	r.begin("lift-2", "2", 3)
	r.is(shop.Release(t.Context(), "2.lift-2", 3, "lift-9"), courier.ErrNoSuchBay)
	r.is(shop.Release(t.Context(), "2.lift-2", 3, ""), nil)
}

func testHandover(t *testing.T, r *rig) {
	s := storetest.NewJob("2", storetest.Dawn).Then(3, narrator.Recorded, narrator.Detail{File: "memos/2-1.wav"})
	s.Events[0].Earlier = "1"
	r.append("lift-2", s.Events...)
	r.send("lift-2")
	r.is(r.Bay("lift-2").Release(t.Context(), "2.lift-2", 3, ""), nil)
	log := r.claim("pit", "2.lift-2", false)
	if again := r.claim("pit", "2.lift-2", false); !slices.Equal(log, again) {
		t.Errorf("claimed again it is another job: %+v, %+v", log, again)
	}
	if len(log) != 3 || log[0].Job != "2.lift-2" || log[0].Earlier != "1.lift-2" || log[2].File != "memos/2.lift-2-1.wav" {
		t.Fatalf("as the shop names it: %+v", log)
	}
	log = r.goOn("pit", log, 2)
	r.want("2.lift-2 1 lift-2 0: 1-3", "2.lift-2 2 pit 3: 4-5")
	r.is(r.Bay("pit").Release(t.Context(), "2.lift-2", 5, "lift-2"), nil)
	back := r.claim("lift-2", "2.lift-2", false)
	if !slices.Equal(back, log) {
		t.Errorf("handed back %+v\nwant %+v", back, log)
	}
	for i := range back {
		courier.Localise("lift-2", &back[i])
	}
	r.goOn("lift-2", back, 1)
	r.want("2.lift-2 1 lift-2 0: 1-3", "2.lift-2 2 pit 3: 4-5", "2.lift-2 3 lift-2 5: 6-6")
	r.is(r.Bay("lift-2").Release(t.Context(), "2.lift-2", 3, "pit"), nil) // the first one, once more
	_, err := r.Bay("pit").Claim(t.Context(), "2.lift-2", false)
	r.is(err, courier.ErrNotOwner)
	for _, bay := range []string{"lift-2", "pit"} {
		if lost, err := r.Bay(bay).Lost(t.Context()); len(lost) != 0 || err != nil {
			t.Errorf("%s lost %+v, %v", bay, lost, err)
		}
	}
	r.conflict(r.Bay("pit").Send(t.Context(), r.strange("pit", "2.lift-2", 6)), "2.lift-2", 6) // pit has given it up
}

// strange is a batch of one event that goes on with a bay's whole journal.
func (r *rig) strange(bay, job string, seq int64) courier.Batch {
	all := r.batch(bay, 0).Events
	last := all[len(all)-1].Mark
	return courier.Batch{Journal: "journal of " + bay, After: last, Events: []journal.Marked{{Mark: last + 1, Raw: "{}",
		Event: narrator.Event{Job: job, Seq: seq, Act: 99, At: 99, Noted: 99, Kind: narrator.Word}}}}
}

func testReleasedTo(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 3)
	r.is(r.Bay("lift-2").Release(t.Context(), "1.lift-2", 3, "pit"), nil)
	_, err := r.Bay("lift-3").Claim(t.Context(), "1.lift-2", false)
	r.is(err, courier.ErrNotOwner)
	if offers, err := r.Bay("lift-3").Offers(t.Context(), false); len(offers) != 0 || err != nil {
		t.Errorf("offered to another: %+v, %v", offers, err)
	}
	if log := r.claim("pit", "1.lift-2", false); len(log) != 3 {
		t.Errorf("%d events", len(log))
	}
}

func testGoesOn(t *testing.T, r *rig) {
	s := r.begin("lift-2", "1", 3)
	r.is(r.Bay("lift-2").Release(t.Context(), "1.lift-2", 3, "pit"), nil)
	r.append("lift-2", r.more(s, 1)...)
	r.conflict(r.Bay("lift-2").Send(t.Context(), r.batch("lift-2", 0)), "1.lift-2", 4)
	r.is(r.Bay("lift-2").Branch(t.Context(), "1.lift-2", 3), nil)
	r.send("lift-2")
	r.want("1.lift-2 1 lift-2 0: 1-3", "1.lift-2 2 lift-2 3: 4-4")
	_, err := r.Bay("pit").Claim(t.Context(), "1.lift-2", false)
	r.is(err, courier.ErrNotOwner)
	if offers, err := r.Bay("pit").Offers(t.Context(), false); len(offers) != 0 || err != nil {
		t.Errorf("still offered: %+v, %v", offers, err)
	}
}

func testStaleRelease(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 4)
	r.is(r.Bay("lift-2").Release(t.Context(), "1.lift-2", 3, "pit"), nil)
	_, err := r.Bay("pit").Claim(t.Context(), "1.lift-2", false)
	r.is(err, courier.ErrNotOwner)
}

func testTwoClaim(t *testing.T, r *rig) {
	for i, id := range []string{"1", "2", "3", "4", "5"} {
		r.begin("lift-2", id, 3)
		job := id + ".lift-2"
		r.is(r.Bay("lift-2").Release(t.Context(), job, 3, ""), nil)
		var wg sync.WaitGroup
		errs := map[string]*error{"pit": new(error), "lift-3": new(error)}
		for bay, err := range errs {
			shop := r.Bay(bay)
			wg.Go(func() { _, *err = shop.Claim(t.Context(), job, false) })
		}
		wg.Wait()
		won := 0
		for _, err := range errs {
			if *err == nil {
				won++
			} else {
				r.is(*err, courier.ErrNotOwner)
			}
		}
		if won != 1 {
			t.Errorf("try %d: %d won", i, won)
		}
	}
}

func testForce(t *testing.T, r *rig) {
	s := r.begin("lift-2", "1", 4)
	log := r.claim("pit", "1.lift-2", true)
	r.goOn("pit", log, 3)
	r.append("lift-2", r.more(s, 2)...) // cut off, it works on
	r.send("lift-2")
	r.want("1.lift-2 1 lift-2 0: 1-6", "1.lift-2 2 pit 4: 5-7")
	r.wantRaw("lift-2")
	lost, err := r.Bay("lift-2").Lost(t.Context())
	if err != nil || len(lost) != 1 || lost[0].Job != "1.lift-2" || lost[0].By != "pit" || lost[0].After != 4 || lost[0].At == 0 {
		t.Errorf("lost %+v, %v", lost, err)
	}
	r.is(r.Bay("lift-2").Release(t.Context(), "1.lift-2", 6, ""), courier.ErrNotOwner)
	if main := r.claim("lift-3", "1.lift-2", true); len(main) != 7 || main[6].Value != "in pit" {
		t.Errorf("the main story has %d events", len(main))
	}
	r.want("1.lift-2 1 lift-2 0: 1-6", "1.lift-2 2 pit 4: 5-7", "1.lift-2 3 lift-3 7: none")
	for bay, n := range map[string]int{"pit": 1, "lift-3": 0, "lift-2": 1} {
		if lost, err := r.Bay(bay).Lost(t.Context()); len(lost) != n || err != nil {
			t.Errorf("%s lost %+v, %v; want %d", bay, lost, err, n)
		}
	}
	r.claim("pit", "1.lift-2", true)
	if lost, err := r.Bay("pit").Lost(t.Context()); len(lost) != 0 || err != nil {
		t.Errorf("what was taken back is lost: %+v, %v", lost, err)
	}
}

func testSideBranch(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 5)
	r.claim("pit", "1.lift-2", true)
	b := other(r.batch("lift-2", 0), 3)
	b.Journal = "after the backup"
	r.conflict(r.Bay("lift-2").Send(t.Context(), b), "1.lift-2", 4)
	r.is(r.Bay("lift-2").Branch(t.Context(), "1.lift-2", 3), nil)
	r.is(r.Bay("lift-2").Send(t.Context(), b), nil)
	r.want("1.lift-2 1 lift-2 0: 1-5", "1.lift-2 2 pit 5: none", "1.lift-2 3 lift-2 3: 4-5")
	_, err := r.Bay("lift-2").Claim(t.Context(), "1.lift-2", false)
	r.is(err, courier.ErrNotOwner)
	if main := r.claim("pit", "1.lift-2", false); len(main) != 5 || main[3].At == b.Events[3].At {
		t.Errorf("the main story was changed: %+v", main)
	}
}

func testOffers(t *testing.T, r *rig) {
	late := storetest.NewJob("1", storetest.Dawn.Add(narrator.Hour)).Then(5, narrator.Finished, narrator.Detail{})
	late.Events[0].Order = "A 17"
	late.Then(5, narrator.Undone, narrator.Detail{Ref: late.Act()})
	r.append("lift-2", late.Events...)
	r.append("lift-2", storetest.NewBay(storetest.Dawn).Then(0, narrator.Listening, narrator.Detail{}).Events...)
	r.begin("lift-2", "2", 3)
	r.begin("pit", "1", 3)
	r.begin("lift-3", "1", 3)
	r.append("lift-3", storetest.Worked("2", storetest.Dawn, 4)...)
	r.send("lift-3")
	r.is(r.Bay("lift-2").Release(t.Context(), "1.lift-2", 4, ""), nil)
	r.is(r.Bay("lift-2").Release(t.Context(), "2.lift-2", 3, "lift-3"), nil)
	ids := func(all bool) (ids []string) {
		offers, err := r.Bay("pit").Offers(t.Context(), all)
		r.is(err, nil)
		for _, o := range offers {
			ids = append(ids, o.Job)
		}
		return ids
	}
	offers, err := r.Bay("pit").Offers(t.Context(), false)
	want := courier.Offer{Job: "1.lift-2", Bay: "lift-2", Released: true, Procedure: "fan-belt", Order: "A 17", Seq: 4, At: late.Events[3].At,
		Title: "Fan belt", Machine: "Ostwick Pony", Step: 1}
	if err != nil || len(offers) != 1 || offers[0] != want {
		t.Errorf("offers %+v, %v\nwant %+v", offers, err, want)
	}
	if got := ids(true); len(got) != 3 || got[0] != "1.lift-2" || !slices.Contains(got, "2.lift-2") || !slices.Contains(got, "1.lift-3") {
		t.Errorf("all offers: %q", got)
	}
	log := r.claim("pit", "1.lift-2", false)
	offers, err = r.Bay("pit").Offers(t.Context(), false) // the answer to the claim may have been lost
	want.Bay, want.Released = "pit", false
	if err != nil || len(offers) != 1 || offers[0] != want {
		t.Errorf("claimed: %+v, %v\nwant %+v", offers, err, want)
	}
	r.goOn("pit", log, 1)
	if got := ids(false); len(got) != 0 {
		t.Errorf("after it was written in: %q", got)
	}
}
