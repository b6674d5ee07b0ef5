package courier

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// Memory is a shop that is lost with the process, for tests. Any goroutine may use it.
type Memory struct {
	name string

	mu       sync.Mutex
	bays     map[string]Rest
	journals map[[2]string]arrival // by bay and journal
	jobs     map[string][]*tenure  // by id in the shop; at i is term i+1
	files    memoryFiles
	changes  int
	changed  chan struct{} // closed with the next change
}

type arrival struct {
	mark journal.Mark
	last string
}

// tenure is the time in which a bay writes a job's story.
type tenure struct {
	bay      string
	after    int64 // it goes on after this seq of the story before
	released int64 // after this seq, 0 for not
	to       string
	forced   bool
	side     bool // another bay has the job
	at       narrator.Moment
	events   []journal.Marked // jobs as in the shop, details as the bay wrote them
}

func (t *tenure) last() int64 { return t.after + int64(len(t.events)) }

// Held is what a shop holds of one tenure in a job.
type Held struct {
	Job    string // id in the shop
	Term   int    // 1, 2, 3 ...
	Bay    string
	After  int64
	Events []journal.Marked // Raw is as the bay wrote it; of Event, what the bay's columns hold, with Job as in the shop
}

// NewMemory makes a shop with bays.
func NewMemory(name string, bays ...string) *Memory {
	m := &Memory{name: name, bays: map[string]Rest{}, journals: map[[2]string]arrival{}, jobs: map[string][]*tenure{}, changed: make(chan struct{})}
	m.files.init()
	for _, b := range bays {
		m.bays[b] = Rest{}
	}
	return m
}

// Bay is the shop as one of its bays sees it.
func (m *Memory) Bay(name string) Shop { return &memoryBay{shop: m, bay: name} }

// Held lists what the shop holds, by job and term.
func (m *Memory) Held() (held []Held) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for job, tenures := range m.jobs {
		for i, t := range tenures {
			held = append(held, Held{Job: job, Term: i + 1, Bay: t.bay, After: t.after, Events: slices.Clone(t.events)})
		}
	}
	slices.SortFunc(held, func(a, b Held) int { return cmp.Or(cmp.Compare(a.Job, b.Job), cmp.Compare(a.Term, b.Term)) })
	return held
}

// Rest is what a bay told that it has still to send.
func (m *Memory) Rest(bay string) Rest {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.bays[bay]
}

// owner is the tenure that has a job, nil for a job that nobody began, with its term.
func (m *Memory) owner(job string) (*tenure, int) {
	for i, t := range slices.Backward(m.jobs[job]) {
		if !t.side {
			return t, i + 1
		}
	}
	return nil, 0
}

// of is a bay's latest tenure in a job, nil for none, with its term.
func (m *Memory) of(job, bay string) (*tenure, int) {
	for i, t := range slices.Backward(m.jobs[job]) {
		if t.bay == bay {
			return t, i + 1
		}
	}
	return nil, 0
}

// written is an event, and the bay that wrote it.
type written struct {
	journal.Marked
	bay string
}

// story is all that a tenure's story tells: its own events after those that it goes on from.
func (m *Memory) story(job string, term int) []written {
	t := m.jobs[job][term-1]
	var all []written
	if before := m.before(job, term); before > 0 {
		all = slices.Clone(m.story(job, before)[:t.after])
	}
	for _, e := range t.events {
		all = append(all, written{e, t.bay})
	}
	return all
}

// before is the term that a tenure goes on from: of a side story the bay's own one, else the one that had the job.
func (m *Memory) before(job string, term int) int {
	t := m.jobs[job][term-1]
	for i, b := range slices.Backward(m.jobs[job][:term-1]) {
		if t.side && b.bay == t.bay || !t.side && !b.side {
			return i + 1
		}
	}
	return 0
}

// memoryBay is a bay's connection to a shop in memory.
type memoryBay struct {
	shop   *Memory
	bay    string
	seen   int // changes that Await has told
	closed bool
}

// use runs do under the shop's lock.
func (b *memoryBay) use(ctx context.Context, do func(m *Memory) error) error {
	b.shop.mu.Lock()
	defer b.shop.mu.Unlock()
	if b.closed {
		return errors.New("the connection to the shop is closed")
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if _, ok := b.shop.bays[b.bay]; !ok {
		return fmt.Errorf("%w: the shop has no bay %q", ErrRefused, b.bay)
	}
	return do(b.shop)
}

// change is use for what other bays may wait for.
func (b *memoryBay) change(ctx context.Context, do func(m *Memory) error) error {
	return b.use(ctx, func(m *Memory) error {
		err := do(m)
		if err == nil {
			m.changes++
			close(m.changed)
			m.changed = make(chan struct{})
		}
		return err
	})
}

// Bay implements [Shop].
func (b *memoryBay) Bay(ctx context.Context) (bay, shop string, err error) {
	err = b.use(ctx, func(m *Memory) error { bay, shop = b.bay, m.name; return nil })
	return bay, shop, err
}

// Arrived implements [Shop].
func (b *memoryBay) Arrived(ctx context.Context, id string) (mark journal.Mark, last string, err error) {
	err = b.use(ctx, func(m *Memory) error {
		a := m.journals[[2]string{b.bay, id}]
		mark, last = a.mark, a.last
		return nil
	})
	return mark, last, err
}

// Send implements [Shop].
func (b *memoryBay) Send(ctx context.Context, batch Batch) error {
	return b.use(ctx, func(m *Memory) error {
		key := [2]string{b.bay, batch.Journal}
		arrived := m.journals[key]
		if batch.After > arrived.mark {
			return &HoleError{Arrived: arrived.mark}
		}
		taken := map[*tenure]int{}
		opened := []string{}
		undo := func(err error) error {
			for t, n := range taken {
				t.events = t.events[:len(t.events)-n]
			}
			for _, job := range opened {
				delete(m.jobs, job)
			}
			return err
		}
		at := arrived
		for _, e := range batch.Events {
			if e.Mark <= arrived.mark {
				continue
			}
			job := InShop(b.bay, e.Job)
			if len(m.jobs[job]) == 0 && (job == "@"+b.bay || strings.HasSuffix(job, "."+b.bay)) && e.Seq == 1 {
				m.jobs[job] = []*tenure{{bay: b.bay}}
				opened = append(opened, job)
			}
			t, term := m.of(job, b.bay)
			switch {
			case t == nil && (job == "@"+b.bay || strings.HasSuffix(job, "."+b.bay)):
				return undo(&HoleError{Arrived: arrived.mark})
			case t == nil:
				return undo(fmt.Errorf("job %s: %w", job, ErrNotOwner))
			case e.Seq > t.last()+1:
				return undo(&HoleError{Arrived: arrived.mark})
			case e.Seq <= t.last():
				if !there(m.story(job, term)[e.Seq-1], e, b.bay) {
					return undo(&ConflictError{Job: job, Seq: e.Seq})
				}
			case t.released > 0:
				return undo(&ConflictError{Job: job, Seq: e.Seq})
			default:
				at := e
				at.Job = job
				t.events = append(t.events, at)
				taken[t]++
			}
			at = arrival{mark: e.Mark, last: Print(e)}
		}
		m.journals[key] = at
		return nil
	})
}

// there reports whether an event that a bay sends is the one in the shop.
func there(have written, e journal.Marked, bay string) bool {
	return Same(have.Event, e.Event) && (have.bay != bay || have.Raw == e.Raw)
}

// Told implements [Shop].
func (b *memoryBay) Told(ctx context.Context, rest Rest) error {
	return b.use(ctx, func(m *Memory) error { m.bays[b.bay] = rest; return nil })
}

// mine finds this bay's tenure in a job, and says what is wrong where there is none.
func (b *memoryBay) mine(m *Memory, job string) (*tenure, error) {
	t, _ := m.of(job, b.bay)
	switch {
	case t == nil && len(m.jobs[job]) == 0, strings.HasPrefix(job, "@"):
		return nil, fmt.Errorf("%s: %w", job, ErrNoSuchJob)
	case t == nil:
		return nil, fmt.Errorf("job %s: %w", job, ErrNotOwner)
	}
	return t, nil
}

// Release implements [Shop].
func (b *memoryBay) Release(ctx context.Context, job string, seq int64, to string) error {
	return b.change(ctx, func(m *Memory) error {
		t, err := b.mine(m, job)
		owner, _ := m.owner(job)
		_, known := m.bays[to]
		switch {
		case err != nil:
			return err
		case !known && to != "":
			return fmt.Errorf("%w: %q", ErrNoSuchBay, to)
		case seq <= t.after && len(m.jobs[job]) > 1, t.released > 0: // it is how a tenure ended
			return nil
		case t != owner:
			return fmt.Errorf("job %s: %w", job, ErrNotOwner)
		case seq > t.last():
			return fmt.Errorf("job %s, event %d: %w", job, seq, ErrNotArrived)
		case seq == t.last():
			t.released, t.to = seq, to
		}
		return nil
	})
}

// Offers implements [Shop].
func (b *memoryBay) Offers(ctx context.Context, all bool) (offers []Offer, err error) {
	err = b.use(ctx, func(m *Memory) error {
		for job := range m.jobs {
			t, term := m.owner(job)
			had := t.bay == b.bay && t.released == 0
			offered := t.released > 0 && (t.to == "" || t.to == b.bay) || had && term > 1 && len(t.events) == 0
			story := m.story(job, term)
			if len(story) == 0 || strings.HasPrefix(job, "@") || !offered && (!all || had) || finished(story) {
				continue
			}
			first, last := story[0], story[len(story)-1]
			o := Offer{Job: job, Bay: t.bay, To: t.to, Released: t.released > 0, Procedure: first.Procedure, Order: first.Order,
				Seq: last.Seq, At: last.At}
			if offered {
				var log []narrator.Event
				for _, e := range story {
					log = append(log, e.Event)
				}
				o.Describe(log)
			}
			offers = append(offers, o)
		}
		slices.SortFunc(offers, func(a, b Offer) int { return cmp.Or(cmp.Compare(b.At, a.At), cmp.Compare(b.Job, a.Job)) })
		return nil
	})
	return offers, err
}

// finished reports whether a story tells the end of its job.
func finished(story []written) bool {
	undone := map[int64]bool{}
	for _, e := range story {
		if e.Kind == narrator.Undone {
			undone[e.Ref] = true
		}
	}
	return slices.ContainsFunc(story, func(e written) bool { return e.Kind == narrator.Finished && !undone[e.Act] })
}

// Claim implements [Shop].
func (b *memoryBay) Claim(ctx context.Context, job string, force bool) (log []narrator.Event, err error) {
	err = b.change(ctx, func(m *Memory) error {
		t, _ := m.owner(job)
		if t == nil || strings.HasPrefix(job, "@") {
			return fmt.Errorf("%s: %w", job, ErrNoSuchJob)
		}
		offered := t.released > 0 && (t.to == "" || t.to == b.bay)
		switch {
		case t.bay == b.bay && t.released == 0:
		case offered, force:
			m.jobs[job] = append(m.jobs[job], &tenure{bay: b.bay, after: t.last(), forced: !offered, at: narrator.MomentOf(time.Now())})
		default:
			return fmt.Errorf("job %s: %w", job, ErrNotOwner)
		}
		_, term := m.owner(job)
		for _, e := range m.story(job, term) {
			Rename(e.bay, &e.Event)
			log = append(log, e.Event)
		}
		return nil
	})
	return log, err
}

// Branch implements [Shop].
func (b *memoryBay) Branch(ctx context.Context, job string, after int64) error {
	return b.change(ctx, func(m *Memory) error {
		t, _ := m.of(job, b.bay)
		switch {
		case len(m.jobs[job]) == 0:
			return fmt.Errorf("%s: %w", job, ErrNoSuchJob)
		case t == nil:
			return fmt.Errorf("job %s: %w", job, ErrNotOwner)
		case after > t.last():
			return fmt.Errorf("job %s, event %d: %w", job, after, ErrNotArrived)
		case t.after == after && len(t.events) == 0:
			return nil // branched there already
		}
		owner, _ := m.owner(job)
		m.jobs[job] = append(m.jobs[job], &tenure{bay: b.bay, after: after, forced: true, side: owner.bay != b.bay, at: narrator.MomentOf(time.Now())})
		return nil
	})
}

// Lost implements [Shop].
func (b *memoryBay) Lost(ctx context.Context) (losses []Loss, err error) {
	err = b.use(ctx, func(m *Memory) error {
		for job, tenures := range m.jobs {
			var loss *Loss
			var had *tenure
			for _, t := range tenures {
				switch {
				case t.side:
					continue
				case t.bay == b.bay:
					loss = nil
				case t.forced && had != nil && had.bay == b.bay && had.released == 0:
					loss = &Loss{Job: job, By: t.bay, After: t.after, At: t.at}
				}
				had = t
			}
			if loss != nil {
				losses = append(losses, *loss)
			}
		}
		slices.SortFunc(losses, func(a, b Loss) int { return strings.Compare(a.Job, b.Job) })
		return nil
	})
	return losses, err
}

// Await implements [Shop].
func (b *memoryBay) Await(ctx context.Context) error {
	for {
		var changed chan struct{}
		news := false
		err := b.use(ctx, func(m *Memory) error {
			news, changed = m.changes != b.seen, m.changed
			b.seen = m.changes
			return nil
		})
		if err != nil || news {
			return err
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// Close implements [Shop].
func (b *memoryBay) Close() error {
	b.shop.mu.Lock()
	defer b.shop.mu.Unlock()
	b.closed = true
	return nil
}
