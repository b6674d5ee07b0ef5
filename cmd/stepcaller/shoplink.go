package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

// carrier is what a session has of its courier. [courier.Courier] is the real one. Nothing of it waits for the shop.
type carrier interface {
	News() <-chan courier.News
	Take(job string, force bool)
	State(ctx context.Context) (courier.State, error)
}

// shopLink is a session's side of its shop: what the courier tells, turned into the narrator's terms. It is used by the session's goroutine,
// which never waits for the shop, unless it is patient: a rehearsal waits for jobs that it asked for.
type shopLink struct {
	carrier    carrier
	memos      *journal.Memos
	technician string // who takes jobs over
	patient    bool

	standing atomic.Pointer[courier.State] // as looked at last, by a goroutine of its own
	faults   chan error                    // why it could not be looked at
	seen     *courier.State                // as the narrator was last told
	asked    map[string]bool               // jobs asked for and not answered, by their ids in the bay
	early    []courier.News                // that came before the bay's name was known
}

func newShopLink(c carrier, memos *journal.Memos, technician string) *shopLink {
	return &shopLink{carrier: c, memos: memos, technician: technician, faults: make(chan error, 1), asked: map[string]bool{}}
}

const (
	lookEvery   = time.Second      // how often what is still to be sent is counted
	lastSending = 3 * time.Second  // for which a session that ends lets its courier go on, where the shop answers
	longestWait = 30 * time.Second // for which a patient session waits for the shop
)

// joinShop starts the courier of a bay that has joined a shop. Without a shop the link is nil and the store as it was. The function ends it all, and
// waits for it.
func joinShop(ctx context.Context, config courier.Config, technician string, patient bool) (_ *shopLink, _ journal.Store, leave func(), err error) {
	post, err := courier.New(config)
	if errors.Is(err, courier.ErrNotJoined) {
		return nil, config.Store, func() {}, nil
	}
	if err != nil {
		return nil, nil, nil, err
	}
	link := newShopLink(post, config.Memos, technician)
	link.patient = patient
	session := ctx
	ctx, stop := context.WithCancel(context.WithoutCancel(ctx)) // what is still to be sent outlives the session's end
	var running sync.WaitGroup
	running.Go(func() {
		if err := post.Run(ctx); err != nil {
			link.fault(err)
		}
	})
	running.Go(func() { link.watch(ctx) })
	return link, courier.Waking(config.Store, post.Wake), func() {
		if session.Err() == nil { // else the program was told to end, and the next start sends the rest
			link.sendOff(ctx)
		}
		stop()
		running.Wait()
	}, nil
}

func (l *shopLink) fault(err error) {
	select {
	case l.faults <- err:
	default:
	}
}

// watch counts what is still to be sent until ctx ends, so that the session need not.
func (l *shopLink) watch(ctx context.Context) {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		state, err := l.carrier.State(ctx)
		if ctx.Err() != nil {
			return
		}
		if err != nil {
			l.fault(err)
		} else {
			l.standing.Store(&state)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// unsent is how many events have not arrived in the shop, not a number before that is known. It may be called from any goroutine.
func (l *shopLink) unsent() float64 {
	state := l.standing.Load()
	if state == nil || !state.Known {
		return math.NaN()
	}
	return float64(state.Events)
}

// sendOff gives the courier a moment for the last events, where the shop answers.
func (l *shopLink) sendOff(ctx context.Context) {
	wait := lastSending
	if l.patient {
		wait = longestWait
	}
	for until := time.Now().Add(wait); time.Now().Before(until); time.Sleep(20 * time.Millisecond) {
		if state, err := l.carrier.State(ctx); err != nil || !state.Reached || state.AllSent() {
			return
		}
	}
}

// bay is the name of this bay in the shop, "" before it is known.
func (l *shopLink) bay() string {
	if s := l.standing.Load(); s != nil {
		return s.Bay
	}
	return ""
}

// awaitName waits until the bay's name is known, which is looked for every lookEvery.
func (l *shopLink) awaitName(ctx context.Context) {
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	for until := time.Now().Add(longestWait); l.bay() == "" && time.Now().Before(until); {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// pending reports whether a job was asked for that is not here yet.
func (l *shopLink) pending() bool { return l != nil && len(l.asked) > 0 }

// sending is what the narrator is told of a state.
func sending(s courier.State) narrator.Sending {
	in := narrator.Sending{Joined: true, Events: s.Events, Jobs: s.Jobs, Notes: s.Notes, Reached: s.Reached}
	if !s.Last.IsZero() && s.Known {
		in.Last = narrator.MomentOf(s.Last)
	}
	return in
}

// news reports whether a state tells people anything that the one before did not.
func (l *shopLink) news(s *courier.State) bool {
	before, now := sending(*l.seen), sending(*s)
	if before.Reached && now.Reached && before.Last != 0 {
		before.Last = now.Last
	}
	return before != now
}

// offered is what the narrator is told of the jobs on offer.
func offered(bay string, offers []courier.Offer) narrator.Offered {
	var in narrator.Offered
	for _, o := range offers {
		title := o.Title
		if title == "" {
			title = o.Procedure
		}
		in.Offers = append(in.Offers, narrator.Offer{Job: courier.InBay(bay, o.Job), Bay: o.Bay, Title: title, Machine: o.Machine, Order: o.Order, Step: o.Step})
	}
	return in
}

// shopNews takes what the courier told meanwhile: one thing a block of sound.
func (s *Session) shopNews(ctx context.Context) error {
	l := s.Shop
	if l == nil {
		return nil
	}
	if l.seen == nil { // counting may take long, in years of a bay that has just joined
		l.seen = &courier.State{}
		if err := s.take(ctx, sending(*l.seen)); err != nil {
			return err
		}
	}
	if state := l.standing.Load(); state != nil && state != l.seen {
		tell := l.news(state)
		l.seen = state
		if tell {
			if err := s.take(ctx, sending(*state)); err != nil {
				return err
			}
		}
	}
	if len(l.early) > 0 && l.patient {
		l.awaitName(ctx)
	}
	if len(l.early) > 0 && l.bay() != "" {
		n := l.early[0]
		l.early = l.early[1:]
		return s.heardOfShop(ctx, n)
	}
	if l.patient && l.pending() {
		select {
		case n := <-l.carrier.News():
			return s.heardOfShop(ctx, n)
		case <-time.After(longestWait):
			clear(l.asked)
			return nil
		}
	}
	select {
	case n := <-l.carrier.News():
		return s.heardOfShop(ctx, n)
	case err := <-l.faults:
		s.Watch.Trouble(fmt.Errorf("the shop: %w", err))
	default:
	}
	return nil
}

func (s *Session) heardOfShop(ctx context.Context, n courier.News) error {
	if n.Log != nil || n.Offers != nil { // their jobs go by the shop's ids
		if s.Shop.bay() == "" {
			s.Shop.early = append(s.Shop.early, n)
			return nil
		}
	}
	switch n.Kind {
	case courier.Offered:
		return s.take(ctx, offered(s.Shop.bay(), n.Offers))
	case courier.Claimed:
		return s.claimed(ctx, n)
	case courier.Refused:
		job := courier.InBay(s.Shop.bay(), n.Job)
		delete(s.Shop.asked, job)
		fault, cause := claimFault(n.Err)
		return s.take(ctx, narrator.Claimed{At: s.Now(), Job: job, Fault: fault, Cause: cause})
	case courier.Lost:
		if s.Bay.Active == n.Job {
			if err := s.endNote(ctx, s.Now()); err != nil {
				return err
			}
		}
		return s.take(ctx, narrator.Lost{At: s.Now(), Job: n.Job, By: n.Loss.By, Took: n.Loss.At})
	case courier.Branched:
		s.Watch.News(fmt.Sprintf("Job %s: the shop has another story of it; both are kept.", n.Job))
	case courier.Fault:
		s.Watch.Trouble(fmt.Errorf("the shop: %w", n.Err))
	}
	return nil
}

// claimFault is why a job is not this bay's, in the narrator's terms.
func claimFault(err error) (narrator.ClaimFault, string) {
	switch {
	case errors.Is(err, courier.ErrNotOwner):
		return narrator.TakenByOther, ""
	case errors.Is(err, courier.ErrOwnStory):
		return narrator.OtherStory, ""
	case errors.Is(err, courier.ErrNoSuchJob), errors.Is(err, courier.ErrRefused):
		return narrator.ClaimFailed, err.Error()
	}
	return narrator.ShopUnreachable, ""
}

// claimed takes in a job that the shop gave to this bay. Its log and that it was taken over are one transaction; until then the shop gives it again.
func (s *Session) claimed(ctx context.Context, n courier.News) error {
	in, err := takenIn(ctx, s.Store, s.Bay, s.Shop.memos, s.Shop.bay(), n.Log)
	if err != nil {
		s.Watch.Trouble(err)
		in = narrator.Claimed{Job: n.Job, Fault: narrator.ClaimFailed, Cause: err.Error()}
	}
	delete(s.Shop.asked, in.Job)
	if err := s.endNote(ctx, s.Now()); err != nil {
		return err
	}
	in.At, in.Technician = s.Now(), s.Shop.technician
	return s.take(ctx, in)
}

// takenIn makes a claimed job, in the form of the shop, ready for the narrator of a bay. What the bay knows of it is in the bay then; its spoken notes are
// awaited.
func takenIn(ctx context.Context, store journal.Store, bay *narrator.Bay, memos *journal.Memos, here string, log []narrator.Event) (narrator.Claimed, error) {
	if len(log) == 0 {
		return narrator.Claimed{}, courier.ErrNoSuchJob
	}
	in := narrator.Claimed{Bay: hadBy(log), Here: here}
	for _, e := range log {
		courier.Localise(here, &e)
		in.Log = append(in.Log, e)
		if e.Kind == narrator.Recorded && e.File != "" {
			if err := memos.Await(e.File); err != nil {
				return in, err
			}
		}
	}
	in.Job = in.Log[0].Job
	if _, err := know(ctx, bay, store, in.Job); err != nil && exitCode(err) != exitUsage { // usage: it was never here
		return in, err
	}
	return in, nil
}

// hadBy is the bay that had a job, by its log in the form of the shop: the one that took it over last, else the one that began it.
func hadBy(log []narrator.Event) string {
	for i := len(log) - 1; i >= 0; i-- {
		if e := log[i]; e.Kind == narrator.TakenOver && e.To != "" {
			return e.To
		}
	}
	_, bay, _ := strings.Cut(log[0].Job, ".")
	return bay
}

// claim passes on that the narrator wants a job.
func (s *Session) claim(o narrator.Outcome) {
	if o.Claim != "" && s.Shop != nil {
		s.Shop.asked[o.Claim] = true
		s.Shop.carrier.Take(courier.InShop(s.Shop.bay(), o.Claim), o.Force)
	}
}
