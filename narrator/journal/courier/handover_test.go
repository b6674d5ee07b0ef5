package courier_test

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/storetest"
)

// note keeps a spoken note of a job, and returns its name for the event.
func (b *bay) note(job string, sound []byte) string {
	b.t.Helper()
	part, err := b.memos.Begin(job)
	if err == nil {
		err = os.WriteFile(part, sound, 0o600)
	}
	if err != nil {
		b.t.Fatal(err)
	}
	file, err := b.memos.Keep(part)
	if err != nil {
		b.t.Fatal(err)
	}
	return file
}

// takeIn takes a claimed job into a bay, as a session does.
func (b *bay) takeIn(n courier.News) {
	b.t.Helper()
	if err := courier.TakeIn(b.t.Context(), b.store, b.memos, b.name, n.Log); err != nil {
		b.t.Fatal(err)
	}
	b.goOn(n.Job, narrator.TakenOver)
}

// goOn adds an event to a job of a bay.
func (b *bay) goOn(job string, kind narrator.Kind) {
	b.t.Helper()
	log, err := b.store.Log(b.t.Context(), job)
	if err != nil {
		b.t.Fatal(err)
	}
	last := log[len(log)-1]
	at := last.At.Add(5 * narrator.Second)
	b.append(narrator.Event{Job: job, Seq: last.Seq + 1, Act: last.Act + 1, At: at, Noted: at, Kind: kind})
}

// wantNote waits for a note in a bay.
func (b *bay) wantNote(file string, want []byte) {
	b.t.Helper()
	until(b.t, file+" is in bay "+b.name, func() bool {
		got, err := os.ReadFile(filepath.Join(b.data, file))
		if err == nil && !bytes.Equal(got, want) {
			b.t.Fatalf("%s has %d bytes, want %d", file, len(got), len(want))
		}
		return err == nil
	})
}

func TestAJobChangesBayWithItsNotes(t *testing.T) {
	m := courier.NewMemory("Kettle Street", "lift-2", "pit")
	var up atomic.Bool
	lift := newBay(t, "lift-2", func(context.Context) (courier.Shop, error) {
		if !up.Load() {
			return nil, errCut
		}
		return m.Bay("lift-2"), nil
	}).start()
	sounds := [][]byte{bytes.Repeat([]byte("first "), 30_000), bytes.Repeat([]byte("second"), 30_000)}
	job := storetest.NewJob("1", storetest.Dawn)
	for _, s := range sounds {
		job.Then(5, narrator.Recorded, narrator.Detail{File: lift.note("1", s), Length: 3})
	}
	lift.append(job.Then(9, narrator.Handed, narrator.Detail{To: "pit"}).Events...) // while it is cut off
	if s := lift.state(); s.Rest != (courier.Rest{Events: 5, Jobs: 1, Notes: 2}) {
		t.Errorf("before it is sent: %+v", s)
	}
	lift.stop()
	up.Store(true)
	lose := everyOther()
	pit := newBay(t, "pit", func(context.Context) (courier.Shop, error) {
		return &faulty{Shop: m.Bay("pit"), after: lose}, nil
	}).start()
	lift.start() // its log alone says that the job was handed over
	offers := pit.news(courier.Offered).Offers
	if len(offers) != 1 || offers[0].Job != "1.lift-2" || offers[0].Seq != 5 || offers[0].To != "pit" {
		t.Fatalf("offered %+v", offers)
	}
	pit.courier.Take("1.lift-2", false)
	claimed := pit.news(courier.Claimed) // asked again where the answer was lost
	if claimed.Job != "1.lift-2" || len(claimed.Log) != 5 {
		t.Fatalf("claimed %+v", claimed)
	}
	pit.takeIn(claimed)
	for i, s := range sounds {
		pit.wantNote([]string{"memos/1.lift-2-1.wav", "memos/1.lift-2-2.wav"}[i], s)
	}
	third := pit.note("1.lift-2", []byte("third"))
	if third != "memos/1.lift-2-3.wav" {
		t.Errorf("the third note is %s", third)
	}
	log, _ := pit.store.Log(t.Context(), "1.lift-2")
	last := log[len(log)-1]
	pit.append(narrator.Event{Job: "1.lift-2", Seq: 7, Act: 90, At: last.At + 5, Noted: last.At + 5, Kind: narrator.Recorded, Detail: narrator.Detail{File: third}})
	pit.goOn("1.lift-2", narrator.Handed)
	pit.allSent()
	lift.news(courier.Offered)
	lift.courier.Take("1.lift-2", false)
	back := lift.news(courier.Claimed)
	if back.Job != "1" || len(back.Log) != 8 {
		t.Fatalf("handed back %+v", back)
	}
	lift.takeIn(back)
	lift.wantNote("memos/1-3.wav", []byte("third"))
	lift.allSent()
	wantHeld(t, m, "1.lift-2 1 lift-2: 1-5", "1.lift-2 2 pit: 6-8", "1.lift-2 3 lift-2: 9-9")
	for _, b := range []*bay{lift, pit} {
		if found := findings(t, b); len(found) > 0 {
			t.Errorf("%s: %v", b.name, found)
		}
	}
}

// findings says what is wrong with the memos and logs of a bay.
func findings(t *testing.T, b *bay) []journal.Finding {
	found := journal.Verify(t.Context(), onDisk{b.memory, b.memos})
	return slices.DeleteFunc(found, func(f journal.Finding) bool {
		return f.Job != "" && f.Seq == 0 && len(f.What) > 22 && f.What[:22] == "it cannot be rebuilt: "
	})
}

type onDisk struct {
	*journal.Memory
	memos *journal.Memos
}

func (o onDisk) Memos() *journal.Memos                   { return o.memos }
func (o onDisk) Check(context.Context) []journal.Finding { return nil }

func TestAJobTakenByForce(t *testing.T) {
	m := courier.NewMemory("Kettle Street", "lift-2", "pit")
	var cut atomic.Bool
	fail := func(string) error {
		if cut.Load() {
			return errCut
		}
		return nil
	}
	lift := newBay(t, "lift-2", func(context.Context) (courier.Shop, error) {
		return &faulty{Shop: m.Bay("lift-2"), before: fail}, fail("")
	})
	lift.append(storetest.NewJob("1", storetest.Dawn).Events...)
	lift.start().allSent()
	cut.Store(true)
	lift.goOn("1", narrator.Held)
	pit := newBay(t, "pit", at(m, "pit")).start()
	pit.courier.Take("1.lift-2", false)
	if n := pit.news(courier.Refused); !errors.Is(n.Err, courier.ErrNotOwner) || n.Job != "1.lift-2" {
		t.Errorf("without force %+v", n)
	}
	pit.courier.Take("1.lift-2", true)
	pit.takeIn(pit.news(courier.Claimed))
	pit.allSent()
	lift.goOn("1", narrator.Resumed) // it works on
	cut.Store(false)
	if n := lift.news(courier.Lost); n.Job != "1" || n.Loss.By != "pit" || n.Loss.After != 2 {
		t.Errorf("lost %+v", n)
	}
	lift.allSent()
	wantHeld(t, m, "1.lift-2 1 lift-2: 1-4", "1.lift-2 2 pit: 3-3")
	lift.courier.Take("1.lift-2", true)
	if n := lift.news(courier.Refused); !errors.Is(n.Err, courier.ErrOwnStory) {
		t.Errorf("its own story was to be made one with the other: %+v", n)
	}
	wantHeld(t, m, "1.lift-2 1 lift-2: 1-4", "1.lift-2 2 pit: 3-3")
}

func TestWhoAsksWhileCutOffHearsSoon(t *testing.T) {
	var tries atomic.Int64
	b := newBay(t, "pit", func(context.Context) (courier.Shop, error) { tries.Add(1); return nil, errCut }).start()
	until(t, "it was tried", func() bool { return tries.Load() > 0 })
	b.courier.Take("1.lift-2", false)
	if n := b.news(courier.Refused); !errors.Is(n.Err, courier.ErrUnreachable) || n.Job != "1.lift-2" {
		t.Errorf("%+v", n)
	}
}

func TestTakeInRefusesAnotherStory(t *testing.T) {
	b := newBay(t, "lift-2", nil)
	log := storetest.Worked("1", storetest.Dawn, 6)
	b.append(log[:4]...)
	shop := slices.Clone(log)
	for i := range shop {
		courier.Rename("lift-2", &shop[i])
	}
	other := slices.Clone(shop)
	other[3].At++
	if err := courier.TakeIn(t.Context(), b.store, b.memos, "lift-2", other); !errors.Is(err, courier.ErrOwnStory) {
		t.Errorf("another story: %v", err)
	}
	if have, _ := b.store.Log(t.Context(), "1"); !slices.Equal(have, log[:4]) {
		t.Errorf("it left %+v", have)
	}
	for range 2 {
		if err := courier.TakeIn(t.Context(), b.store, b.memos, "lift-2", shop); err != nil {
			t.Error(err)
		}
		if have, _ := b.store.Log(t.Context(), "1"); !slices.Equal(have, log) {
			t.Errorf("the bay has %+v", have)
		}
	}
	if err := courier.TakeIn(t.Context(), b.store, b.memos, "lift-2", nil); !errors.Is(err, courier.ErrNoSuchJob) {
		t.Errorf("no log: %v", err)
	}
}

func TestNotesAreSentOnceAndGoOnWhereTheyWereCut(t *testing.T) {
	m := courier.NewMemory("Kettle Street", "lift-2")
	var pieces atomic.Int64
	fail := everyOther()
	b := newBay(t, "lift-2", func(context.Context) (courier.Shop, error) {
		return &faulty{Shop: m.Bay("lift-2"), after: func(method string) error {
			if method != "Put" {
				return nil
			}
			pieces.Add(1)
			return fail(method)
		}}, nil
	})
	sound := bytes.Repeat([]byte("sound"), 70_000) // six pieces
	job := storetest.NewJob("1", storetest.Dawn)
	b.append(job.Then(5, narrator.Recorded, narrator.Detail{File: b.note("1", sound)}).Events...)
	stray := b.note("1", []byte("kept right before a crash"))
	b.start().allSent()
	if n := pieces.Load(); n > 7 {
		t.Errorf("six pieces were sent %d times", n)
	}
	files, err := m.Bay("lift-2").Files(t.Context(), courier.Memo)
	if err != nil || len(files) != 1 || files[0].Name != "memos/1.lift-2-1.wav" || files[0].Size != int64(len(sound)) {
		t.Errorf("the shop has %+v, %v", files, err)
	}
	b.stop()
	sent := pieces.Load()
	b.start().allSent()
	b.stop()
	if pieces.Load() != sent {
		t.Error("another run sent it again")
	}
	b.append(job.Then(5, narrator.Recorded, narrator.Detail{File: stray}).Events[3:]...)
	b.start().allSent()
	if files, _ := m.Bay("lift-2").Files(t.Context(), courier.Memo); len(files) != 2 {
		t.Errorf("the shop has %+v", files)
	}
}

func TestAJobHandedToNobodyIsForAnybody(t *testing.T) {
	m := courier.NewMemory("Kettle Street", "lift-2", "pit")
	lift, pit := newBay(t, "lift-2", at(m, "lift-2")).start(), newBay(t, "pit", at(m, "pit")).start()
	lift.append(storetest.NewJob("1", storetest.Dawn).Then(9, narrator.Handed, narrator.Detail{To: "pti"}).Events...)
	if n := lift.news(courier.Fault); n.Job != "1" || !errors.Is(n.Err, courier.ErrNoSuchBay) {
		t.Errorf("told %+v", n)
	}
	if n := pit.news(courier.Offered); len(n.Offers) != 1 || n.Offers[0].To != "" {
		t.Errorf("offered %+v", n.Offers)
	}
	lift.allSent()
}
