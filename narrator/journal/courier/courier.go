package courier

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// Limits of a batch: what comes first ends it. One event larger than maxBytes is a batch of its own.
const (
	maxEvents   = 500
	maxBytes    = 256 << 10
	pieceSize   = 64 << 10 // of a file
	firstEvents = 64       // of the first batch: doubled with each that went well
	fewEvents   = 8        // are tried over the slowest line
)

// pace is how often things are tried and looked at.
type pace struct {
	first, longest time.Duration // between tries while the shop cannot be reached: doubled each time, with jitter
	patience       time.Duration // for one answer of the shop
	linger         time.Duration // what comes within this after an event is sent with it
	look           time.Duration // between looks at the folders of procedures and voices
	round          time.Duration // after which everything is asked, though the shop told of no change
}

// An offer does not wait for a round: the shop tells of it ([Shop.Await]), which costs nothing while nothing happens. The round is for what such a
// telling may have missed, and shows the shop that the bay is there.
var usual = pace{first: time.Second, longest: time.Minute, patience: 20 * time.Second, linger: 100 * time.Millisecond, look: 15 * time.Second, round: time.Minute}

// Config is what a courier works with.
type Config struct {
	Store      journal.Store
	Memos      *journal.Memos
	Data       string                                  // data folder: shop.json, the memos, who agreed to share a voice
	Open       func(ctx context.Context) (Shop, error) // reaches the shop once; the courier closes what it got
	Procedures string                                  // folder of the shop's own procedures, "" to share none
	Album      string                                  // folder of the technicians' voices, "" to share none
}

// Courier takes a bay's journal to its shop, for as long as Run runs. Its methods may be called from any goroutine, and wait for nothing but
// the bay's own disk.
type Courier struct {
	config   Config
	pace     pace
	backlog  backlog
	woken    chan struct{}
	requests chan request
	news     chan News
	shelves  []*shelf

	mu    sync.Mutex
	state State

	// What follows is Run's alone.
	joined    Joined
	waiting   []request
	handed    map[string]bool // jobs that may have to be released
	delivered map[string]bool // jobs whose claimed logs were given out
	lost      map[Loss]bool   // told
	offers    []Offer         // told
	faults    map[string]string
	most      int             // events of a batch, by what the line takes
	foreign   map[string]bool // jobs that the shop does not take from this bay
	begun     bool            // jobs and memos of earlier runs were looked through
	saved     reach
}

type request struct {
	job   string // id in the shop
	force bool
}

// State is how a bay stands with its shop.
type State struct {
	Bay, Shop string    // "" before the shop was first reached
	Rest                // what has still to be sent
	Handing   int       // jobs handed over that have still to be released in the shop
	Known     bool      // whether Rest can be relied on; false for a bay that never reached its shop
	Reached   bool      // whether the shop answers now
	Last      time.Time // when it last did, zero for never
	Trouble   error     // why it does not, nil while it does; [Plainly] says it to people
}

// AllSent reports whether the shop has everything, and other bays may take what was handed over.
func (s State) AllSent() bool { return s.Known && s.Rest == Rest{} && s.Handing == 0 }

// NewsKind says what a News tells.
type NewsKind int

// What a bay is told.
const (
	Offered  NewsKind = iota // Offers: the jobs on offer are now these
	Claimed                  // Job, Log: the job is this bay's; TakeIn is to write it down, then somebody to go on with it
	Refused                  // Job, Err: the job could not be taken over
	Lost                     // Job, Loss: another bay took the job by force
	Branched                 // Job, Err: the shop has another story of it; both are kept
	Fault                    // Err: something is wrong that somebody has to see to; told once
)

// News is something that the bay's people may have to hear of.
type News struct {
	Kind   NewsKind
	Job    string // as this bay calls it
	Offers []Offer
	Log    []narrator.Event // in the form of the shop
	Loss   Loss
	Err    error
}

// newsKept is how much news waits to be read. More is dropped: what matters is told again by the shop when it is asked anew.
const newsKept = 64

// New makes the courier of a bay that has joined a shop; else the error is [ErrNotJoined].
func New(config Config) (*Courier, error) {
	joined, err := ReadJoined(config.Data)
	if err != nil {
		return nil, err
	}
	c := &Courier{config: config, pace: usual, most: firstEvents, joined: joined, woken: make(chan struct{}, 1), requests: make(chan request, 16), news: make(chan News, newsKept),
		handed: map[string]bool{}, foreign: map[string]bool{}, delivered: map[string]bool{}, lost: map[Loss]bool{}, faults: map[string]string{}}
	c.backlog.store = config.Store
	c.saved = readReach(config.Data, joined.Journal)
	c.backlog.from(c.saved.Arrived)
	c.state = State{Known: c.saved != reach{}, Last: c.saved.At}
	if config.Procedures != "" {
		c.shelves = append(c.shelves, procedureShelf(config.Procedures))
	}
	if config.Album != "" {
		c.shelves = append(c.shelves, voiceShelf(config.Album, config.Data))
	}
	return c, nil
}

// Wake says that the journal got events.
func (c *Courier) Wake() {
	select {
	case c.woken <- struct{}{}:
	default: // it is awake
	}
}

// News is where the courier tells what it met. It is to be read as it comes.
func (c *Courier) News() <-chan News { return c.news }

// Take asks for a job of the shop, by its id there; by force also where another bay has it. The answer is news, [Claimed] or [Refused], and comes
// within seconds also where the shop cannot be reached.
//
// To hand a job over nothing is asked: its narrator.Handed event, sent like any other, is what releases it.
func (c *Courier) Take(job string, force bool) {
	select {
	case c.requests <- request{job, force}:
	default:
		c.tell(News{Kind: Refused, Job: job, Err: errors.New("too much is asked at once; ask again")})
	}
}

// State counts and tells. The error is the journal's.
func (c *Courier) State(ctx context.Context) (State, error) {
	err := c.backlog.look(ctx)
	c.mu.Lock()
	defer c.mu.Unlock()
	s := c.state
	s.Rest = c.backlog.rest()
	return s, err
}

// Look is the state of a bay in whose folder no courier runs, by what the last one noted.
func Look(ctx context.Context, store journal.Store, data string) (State, error) {
	c, err := New(Config{Store: store, Data: data})
	if err != nil {
		return State{}, err
	}
	return c.State(ctx)
}

func (c *Courier) tell(n News) {
	select {
	case c.news <- n:
	default:
	}
}

// fault tells once what is wrong about something; nil for nothing any more.
func (c *Courier) fault(about string, err error) {
	switch {
	case err == nil:
		delete(c.faults, about)
	case c.faults[about] != err.Error():
		c.faults[about] = err.Error()
		c.tell(News{Kind: Fault, Err: err})
	}
}

// Run works until the context ends. It never gives up on a shop that cannot be reached, and returns an error only where there is nothing to work
// with.
func (c *Courier) Run(ctx context.Context) error {
	defer c.save()
	for tries := 0; ; tries++ {
		rounds, err := c.visit(ctx)
		if ctx.Err() != nil {
			return nil
		}
		if rounds > 0 {
			tries = 0
		}
		c.unreached(err)
		if !c.rest(ctx, c.pace.wait(tries, err)) {
			return nil
		}
	}
}

// wait is how long to rest after a number of failures: double each time, between half of it and all. One that was refused is not soon welcome.
func (p pace) wait(tries int, err error) time.Duration {
	w := p.longest
	if tries < 16 && !errors.Is(err, ErrRefused) {
		w = min(p.first<<tries, p.longest)
	}
	return w/2 + rand.N(w/2)
}

// rest waits for a time to pass, or for somebody to ask for a job, and reports whether to go on.
func (c *Courier) rest(ctx context.Context, d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case r := <-c.requests:
		c.waiting = append(c.waiting, r)
	case <-timer.C:
	}
	return true
}

// unreached notes why the shop does not answer, and tells those who wait for it.
func (c *Courier) unreached(err error) {
	c.mu.Lock()
	c.state.Reached, c.state.Trouble = false, err
	c.mu.Unlock()
	if definite(err) { // it was reached, and nobody but a person can help
		c.fault("the shop", err)
	}
	for len(c.requests) > 0 {
		c.waiting = append(c.waiting, <-c.requests)
	}
	for _, r := range c.waiting {
		c.tell(News{Kind: Refused, Job: r.job, Err: err})
	}
	c.waiting = nil
}

// reached notes that the shop answered.
func (c *Courier) reached() {
	c.mu.Lock()
	c.state.Reached, c.state.Known, c.state.Trouble, c.state.Last = true, true, nil, time.Now()
	c.mu.Unlock()
}

// save notes how far the shop has everything.
func (c *Courier) save() {
	c.mu.Lock()
	r := reach{Journal: c.joined.Journal, Arrived: c.backlog.upTo(), At: c.state.Last}
	known := c.state.Known
	c.mu.Unlock()
	if known && r != c.saved {
		c.fault("the note", writeJSON(reachFile(c.config.Data), r))
		c.saved = r
	}
}

// definite reports whether asking again will get the same answer.
func definite(err error) bool {
	var conflict *ConflictError
	for _, e := range []error{ErrNotArrived, ErrNotOwner, ErrNoSuchJob, ErrNoSuchBay, ErrNoSuchFile, ErrDamaged, ErrRefused} {
		if errors.Is(err, e) {
			return true
		}
	}
	return errors.As(err, &conflict)
}

// Plainly says to people what is wrong between a bay and its shop, in English as terminals speak; "" for nothing.
func Plainly(err error) string {
	var conflict *ConflictError
	switch {
	case err == nil:
		return ""
	case errors.As(err, &conflict):
		return "The shop has another story of a job. Both are kept."
	case errors.Is(err, ErrRefused):
		return "The shop refuses this bay. Join it again."
	case errors.Is(err, ErrNotOwner):
		return "Another bay has this job."
	case errors.Is(err, ErrNoSuchJob):
		return "The shop has no such job."
	case errors.Is(err, ErrOwnStory):
		return "This bay has a story of its own of this job. Finish it here."
	}
	return "The shop cannot be reached. Work goes on; everything is sent later."
}

// asked runs a question to the shop, with an end to waiting.
func asked[T any](ctx context.Context, patience time.Duration, ask func(ctx context.Context) (T, error)) (T, error) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	answer, err := ask(ctx)
	if err != nil && ctx.Err() != nil && !definite(err) {
		err = fmt.Errorf("%w: it gave no answer in %v: %w", ErrUnreachable, patience, err)
	}
	return answer, err
}

// told is asked for what has no answer but done.
func told(ctx context.Context, patience time.Duration, tell func(ctx context.Context) error) error {
	_, err := asked(ctx, patience, func(ctx context.Context) (struct{}, error) { return struct{}{}, tell(ctx) })
	return err
}
