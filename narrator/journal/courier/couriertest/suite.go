// Package couriertest is the contract of courier.Shop as tests. Every shop passes it.
package couriertest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/storetest"
)

// Fixture is a fresh shop with the bays "lift-2", "pit" and "lift-3".
type Fixture struct {
	Bay  func(name string) courier.Shop // a connection, the same at every call
	Held func() []courier.Held          // all that the shop holds, by job and term
	Rest func(bay string) courier.Rest  // what a bay told last
}

// Run tests the shops that open returns. What has to be closed at the end of a test is open's affair.
func Run(t *testing.T, open func(t *testing.T) Fixture) {
	cases := []struct {
		name string
		test func(t *testing.T, r *rig)
	}{
		{"a bay is known by its connection", testNames},
		{"every event arrives once, with its bytes", testOnce},
		{"a batch that came already is passed over", testDuplicates},
		{"a batch that begins before the mark adds what is new", testOverlap},
		{"a batch that leaves a hole is refused", testHole},
		{"a refused batch leaves nothing", testAllOrNothing},
		{"a bay writes its own jobs alone", testNotOwner},
		{"another story is a conflict", testConflict},
		{"a journal put back from a backup goes on beside", testBackup},
		{"a branch is opened once", testBranchOnce},
		{"a job number begun anew keeps both jobs", testNumberAgain},
		{"a release waits for the last event", testReleaseWaits},
		{"a job is handed over and back", testHandover},
		{"a release to one bay is not for another", testReleasedTo},
		{"a released job that goes on is the bay's again", testGoesOn},
		{"a release that came late gives nothing up", testStaleRelease},
		{"of two that claim one wins", testTwoClaim},
		{"a job taken by force keeps both stories", testForce},
		{"a lost job that conflicts stays aside", testSideBranch},
		{"offers say what they are", testOffers},
		{"the rest is told", testRest},
		{"a change is awaited", testAwait},
		{"a cancelled call does nothing", testCancelled},
		{"a closed connection refuses everything", testClosed},
		{"a file arrives in pieces", testPieces},
		{"a file goes on where it was cut", testResumed},
		{"a wrong sum is thrown away", testWrongSum},
		{"memos are read by who may have the job", testMemos},
		{"procedures have parents", testProcedures},
		{"a version may come back", testVersionBack},
		{"a voice is shared until it is withdrawn", testVoices},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			c.test(t, &rig{Fixture: open(t), t: t, journals: map[string]*journal.Memory{}})
		})
	}
}

// rig is a shop with a journal in each bay.
type rig struct {
	Fixture
	t        *testing.T
	journals map[string]*journal.Memory
}

// append puts events into a bay's journal.
func (r *rig) append(bay string, events ...narrator.Event) {
	r.t.Helper()
	if r.journals[bay] == nil {
		r.journals[bay] = &journal.Memory{}
	}
	if err := r.journals[bay].Append(r.t.Context(), events); err != nil {
		r.t.Fatal(err)
	}
}

// batch is all of a bay's journal after a mark.
func (r *rig) batch(bay string, after journal.Mark) courier.Batch {
	r.t.Helper()
	events, err := r.journals[bay].Since(r.t.Context(), after, 1000)
	if err != nil {
		r.t.Fatal(err)
	}
	return courier.Batch{Journal: "journal of " + bay, After: after, Events: events}
}

// send brings all of a bay's journal to the shop.
func (r *rig) send(bay string) {
	r.t.Helper()
	if err := r.Bay(bay).Send(r.t.Context(), r.batch(bay, 0)); err != nil {
		r.t.Fatal(err)
	}
}

// begin begins a job of n events in a bay, not finished, and sends it.
func (r *rig) begin(bay, job string, n int) *storetest.Script {
	r.t.Helper()
	s := storetest.NewJob(job, storetest.Dawn)
	r.more(s, n-len(s.Events))
	r.append(bay, s.Events...)
	r.send(bay)
	return s
}

// more goes on with a job by n events.
func (r *rig) more(s *storetest.Script, n int) []narrator.Event {
	from := len(s.Events)
	for range n {
		s.Then(10, narrator.Word, narrator.Detail{Word: "repeat", Score: 0.75})
	}
	return s.Events[from:]
}

// claim takes a job over, and returns its log as the bay names it.
func (r *rig) claim(bay, job string, force bool) []narrator.Event {
	r.t.Helper()
	log, err := r.Bay(bay).Claim(r.t.Context(), job, force)
	if err != nil {
		r.t.Fatal(err)
	}
	return log
}

// goOn adds n events of a bay to a log that it has taken over, and sends all of its journal.
func (r *rig) goOn(bay string, log []narrator.Event, n int) []narrator.Event {
	r.t.Helper()
	log = r.extend(bay, log, n)
	r.send(bay)
	return log
}

// extend adds n events of a bay to a log that it has, and sends nothing.
func (r *rig) extend(bay string, log []narrator.Event, n int) []narrator.Event {
	r.t.Helper()
	have, _ := r.journal(bay).Log(r.t.Context(), log[0].Job)
	log = slices.Clone(log)
	for range n {
		last := log[len(log)-1]
		at := last.At.Add(7 * narrator.Second)
		log = append(log, narrator.Event{Job: last.Job, Seq: last.Seq + 1, Act: last.Act + 1, At: at, Noted: at, Kind: narrator.Remarked,
			Detail: narrator.Detail{Value: "in " + bay}})
	}
	r.append(bay, log[len(have):]...)
	return log
}

func (r *rig) journal(bay string) *journal.Memory {
	if r.journals[bay] == nil {
		r.journals[bay] = &journal.Memory{}
	}
	return r.journals[bay]
}

// want fails unless the shop holds just these tenures: "job term bay after: first seq-last seq".
func (r *rig) want(tenures ...string) {
	r.t.Helper()
	var got []string
	for _, h := range r.Held() {
		if len(h.Events) == 0 {
			got = append(got, fmt.Sprintf("%s %d %s %d: none", h.Job, h.Term, h.Bay, h.After))
			continue
		}
		first, last := h.Events[0].Seq, h.Events[len(h.Events)-1].Seq
		if int64(len(h.Events)) != last-first+1 {
			r.t.Errorf("job %s term %d: events %d to %d are %d", h.Job, h.Term, first, last, len(h.Events))
		}
		got = append(got, fmt.Sprintf("%s %d %s %d: %d-%d", h.Job, h.Term, h.Bay, h.After, first, last))
	}
	if !slices.Equal(got, tenures) {
		r.t.Errorf("the shop holds %q\nwant %q", got, tenures)
	}
}

// wantRaw fails unless the shop holds each event of a bay's journal byte for byte, in a tenure of that bay.
func (r *rig) wantRaw(bay string) {
	r.t.Helper()
	have := map[string]string{}
	for _, h := range r.Held() {
		for _, e := range h.Events {
			if h.Bay == bay {
				have[key(h.Job, e)] = e.Raw
			}
		}
	}
	for _, e := range r.batch(bay, 0).Events {
		job := courier.InShop(bay, e.Job)
		if raw, ok := have[key(job, e)]; !ok || raw != e.Raw {
			r.t.Errorf("job %s event %d: the shop has %q, the bay %q", job, e.Seq, raw, e.Raw)
		}
	}
}

// key tells one event from all others of the test.
func key(job string, e journal.Marked) string {
	return fmt.Sprint(job, " ", e.Seq, " ", e.Act, " ", e.At, " ", e.Noted, " ", e.Kind)
}

// is fails unless an error is the one wanted, nil for none.
func (r *rig) is(err, want error) {
	r.t.Helper()
	if !errors.Is(err, want) {
		r.t.Errorf("error %v, want %v", err, want)
	}
}

// conflict fails unless an error is a conflict at a job's seq.
func (r *rig) conflict(err error, job string, seq int64) {
	r.t.Helper()
	var c *courier.ConflictError
	if !errors.As(err, &c) || c.Job != job || c.Seq != seq {
		r.t.Errorf("error %v, want a conflict at event %d of %s", err, seq, job)
	}
}

// hole fails unless an error is a hole after a mark.
func (r *rig) hole(err error, arrived journal.Mark) {
	r.t.Helper()
	var h *courier.HoleError
	if !errors.As(err, &h) || h.Arrived != arrived {
		r.t.Errorf("error %v, want a hole after %d", err, arrived)
	}
}

func testNames(t *testing.T, r *rig) {
	for _, name := range []string{"lift-2", "pit", "lift-3"} {
		bay, shop, err := r.Bay(name).Bay(t.Context())
		if err != nil || bay != name || shop == "" {
			t.Errorf("%q in %q, %v; want %q", bay, shop, err, name)
		}
	}
}

func testRest(t *testing.T, r *rig) {
	for _, rest := range []courier.Rest{{Events: 3, Jobs: 2, Notes: 1}, {}} {
		r.is(r.Bay("pit").Told(t.Context(), rest), nil)
		if got := r.Rest("pit"); got != rest {
			t.Errorf("told %+v, want %+v", got, rest)
		}
	}
}

func testCancelled(t *testing.T, r *rig) {
	r.append("lift-2", storetest.NewJob("1", storetest.Dawn).Events...)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := r.Bay("lift-2").Send(ctx, r.batch("lift-2", 0)); err == nil {
		t.Error("a cancelled batch was taken")
	}
	r.want()
	r.send("lift-2")
	r.want("1.lift-2 1 lift-2 0: 1-2")
}

func testClosed(t *testing.T, r *rig) {
	s := r.Bay("pit")
	r.is(s.Close(), nil)
	if _, _, err := s.Bay(t.Context()); err == nil {
		t.Error("Bay of a closed connection: no error")
	}
	if err := s.Told(t.Context(), courier.Rest{}); err == nil {
		t.Error("Told of a closed connection: no error")
	}
	if err := s.Await(t.Context()); err == nil {
		t.Error("Await of a closed connection: no error")
	}
}

func testAwait(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 3)
	pit := r.Bay("pit")
	told := make(chan error, 1)
	go func() {
		for {
			if err := pit.Await(t.Context()); err != nil {
				told <- err
				return
			}
			offers, err := pit.Offers(t.Context(), false)
			if err != nil || len(offers) > 0 {
				told <- err
				return
			}
		}
	}()
	r.is(r.Bay("lift-2").Release(t.Context(), "1.lift-2", 3, "pit"), nil)
	r.is(within(t, told), nil)
}
