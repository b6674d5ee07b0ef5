package main

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/labour"
	"stepcaller/speech/voicetest"
)

// wire is a way to a shop that can be cut.
type wire struct {
	shop *courier.Memory
	bay  string
	cut  bool
}

func (w *wire) open(context.Context) (courier.Shop, error) {
	if w.cut {
		return nil, courier.ErrUnreachable
	}
	return w.shop.Bay(w.bay), nil
}

// inShop is a bench whose bay has joined a shop, over a wire.
func inShop(t *testing.T, w *wire, seconds float64, words ...said) *bench {
	t.Helper()
	b := newBench(t, voicetest.ScriptedVoice{}, seconds, words...)
	data := t.TempDir()
	if _, err := courier.Join(data, "postgres://"+w.bay+"@shop"); err != nil {
		t.Fatal(err)
	}
	link, store, leave, err := joinShop(t.Context(), courier.Config{Store: b.store, Memos: b.Notes.Memos, Data: data, Open: w.open}, "Marek", true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(leave)
	b.Session.Store, b.Shop = store, link
	return b
}

// until lets the session hear of its shop until something is so.
func (b *bench) until(t *testing.T, what string, so func() bool) {
	t.Helper()
	for end := time.Now().Add(30 * time.Second); !so(); time.Sleep(time.Millisecond) {
		if err := b.shopNews(t.Context()); err != nil {
			t.Fatal(err)
		}
		if time.Now().After(end) {
			t.Fatalf("not within 30 s: %s; said %v, troubles %v", what, b.report.said(), b.troubles)
		}
	}
}

func (b *bench) runAll(t *testing.T) {
	t.Helper()
	if err := b.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
}

func (b *bench) allSent(t *testing.T) func() bool {
	return func() bool {
		s, err := b.Shop.carrier.State(t.Context())
		return err == nil && s.AllSent()
	}
}

func (b *bench) spoke(t *testing.T, want string) {
	t.Helper()
	if !b.report.spoke(want) {
		t.Errorf("never said %q: %+v", want, b.report.said())
	}
}

func TestAJobChangesBayInTheSession(t *testing.T) {
	shop := courier.NewMemory("hollow lane", "lift-2", "lift-3")
	a := inShop(t, &wire{shop: shop, bay: "lift-2"}, 60, said{10, "next"}, said{20, "hand it over"}, said{28, "yes"}, said{40, "all sent"})
	a.begin(t)
	a.runAll(t)
	a.spoke(t, "Hand this job over?")
	a.spoke(t, "Handed over at step 2.")
	a.until(t, "all is sent", a.allSent(t))

	b := inShop(t, &wire{shop: shop, bay: "lift-3"}, 200, said{30, "other job"}, said{40, "yes"}, said{80, "next"}, said{100, "finish job"}, said{110, "yes"}, said{120, "yes"})
	b.until(t, "the job is on offer", func() bool { return len(b.Bay.Dialogue.Offers) == 1 })
	b.runAll(t)
	b.spoke(t, "from bay lift-2, step 2. Take it?")
	b.spoke(t, "Fetching it.")
	b.spoke(t, "Job finished.")
	b.until(t, "all is sent", b.allSent(t))
	log, err := b.store.Log(t.Context(), "2000-01-01-1.lift-2")
	if err != nil {
		t.Fatal(err)
	}
	job, err := narrator.NewJob(log)
	if err != nil {
		t.Fatal(err)
	}
	sheet := labour.Of(job, 0)
	if math.Abs(float64(sheet.Elapsed-sheet.Worked-sheet.Paused)) > 1e-9 || len(sheet.Bays) != 2 || sheet.Bays[0].Bay != "lift-2" || sheet.Bays[1].Bay != "lift-3" ||
		math.Abs(float64(sheet.Worked-sheet.Bays[0].Worked-sheet.Bays[1].Worked)) > 1e-9 || sheet.Bays[0].Worked != 20 {
		t.Errorf("sheet %+v", sheet)
	}
	held := shop.Held()
	sum := 0
	for _, h := range held {
		if h.Job == "2000-01-01-1.lift-2" {
			sum += len(h.Events)
		}
	}
	if sum != len(log) {
		t.Errorf("the shop holds %d events of %d: %+v", sum, len(log), held)
	}
	if offers, err := shop.Bay("lift-2").Offers(t.Context(), true); err != nil || len(offers) != 0 {
		t.Errorf("still on offer: %+v, %v", offers, err)
	}
}

// A bay that is cut off works on; taken by force, its story stands beside the other one.
func TestAJobIsTakenFromABayThatIsCutOff(t *testing.T) {
	shop := courier.NewMemory("hollow lane", "lift-2", "lift-3")
	w := &wire{shop: shop, bay: "lift-2"}
	a := inShop(t, w, 100, said{10, "next"})
	a.begin(t)
	a.upTo(t, 20)
	a.until(t, "all is sent", a.allSent(t))

	b := inShop(t, &wire{shop: shop, bay: "lift-3"}, 300, said{250, "next"})
	claim := order{Claim: &narrator.Claim{Job: "2000-01-01-1.lift-2", Force: true}}
	obey := func(o order) error {
		return b.obey(t.Context(), Order{Inputs: func(ctx context.Context, at narrator.Moment) ([]narrator.Input, error) {
			in, _, err := o.inputs(ctx, b.store, at)
			return in, err
		}})
	}
	b.upTo(t, 30)
	if err := obey(claim); err != nil {
		t.Fatal(err)
	}
	b.until(t, "the job is here", func() bool { return b.Bay.Job() != nil })
	b.runAll(t)
	if j := b.Bay.Job(); j.Step != 2 || len(j.Stays) != 2 {
		t.Errorf("at step %d, stays %+v", j.Step, j.Stays)
	}
	a.until(t, "it is told", func() bool { return a.Bay.Job() == nil })
	a.runAll(t)
	a.spoke(t, "Bay lift-3 took this job over at")
	log, err := a.store.Log(t.Context(), "2000-01-01-1")
	if last := log[len(log)-1]; err != nil || last.Kind != narrator.Handed || !last.On || last.To != "lift-3" {
		t.Errorf("%v: ends with %+v", err, last)
	}
	if err := (order{Enter: &fact{Job: "2000-01-01-1", Field: "cause", Value: "x"}}).typed().Check(a.Bay); err == nil || !strings.Contains(err.Error(), "with bay lift-3") {
		t.Errorf("written into a job that is elsewhere: %v", err)
	}
	a.until(t, "the other story is sent", a.allSent(t))
}

func TestAShopThatIsFarAnswersToo(t *testing.T) {
	shop := courier.NewMemory("hollow lane", "lift-2", "lift-3")
	b := inShop(t, &wire{shop: shop, bay: "lift-3", cut: true}, 60, said{20, "all sent"}, said{30, "next"})
	b.begin(t)
	b.take(t.Context(), narrator.Claim{At: b.Now(), Job: "1.lift-2"})
	b.until(t, "the refusal", func() bool { return !b.Shop.pending() })
	b.runAll(t)
	b.spoke(t, "The shop cannot be reached. The job stays where it is.")
	b.spoke(t, "The shop was not reached yet.")
	if step := b.Bay.Job().Step; step != 1 {
		t.Errorf("at step %d", step)
	}
}
