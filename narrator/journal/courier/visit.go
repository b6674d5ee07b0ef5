package courier

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"slices"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// visit is one connection to the shop.
type visit struct {
	*Courier
	shop  Shop
	bay   string
	after journal.Mark // all up to here has arrived
	rest  Rest         // as told last
	told  time.Time
	did   map[ConflictError]bool // that were branched, to tell one that a branch does not end
}

// visit reaches the shop and works until that fails. It returns how often all was well.
func (c *Courier) visit(ctx context.Context) (rounds int, err error) {
	shop, err := asked(ctx, c.pace.patience, c.config.Open)
	if err != nil {
		return 0, err
	}
	ctx, cancel := context.WithCancel(ctx)
	stirred, gone := make(chan struct{}, 1), make(chan error, 1)
	go func() { gone <- await(ctx, shop, stirred) }()
	defer func() {
		closed := make(chan error, 1)
		go func() { closed <- shop.Close() }()
		select {
		case e := <-closed:
			err = errors.Join(err, e)
		case <-time.After(c.pace.patience): // it waits for an answer; the next visit does not wait for it
		}
		cancel()
	}()
	v := &visit{Courier: c, shop: shop, did: map[ConflictError]bool{}}
	if err := v.arrive(ctx); err != nil {
		return 0, err
	}
	look, round := time.NewTicker(c.pace.look), time.NewTicker(c.pace.round)
	defer look.Stop()
	defer round.Stop()
	for work := v.everything; ; {
		if err := work(ctx); err != nil {
			return rounds, err
		}
		rounds++
		v.reached()
		v.fault("the shop", nil)
		select {
		case <-ctx.Done():
			return rounds, ctx.Err()
		case err := <-gone:
			return rounds, err
		case r := <-c.requests:
			work = func(ctx context.Context) error { c.waiting = append(c.waiting, r); return v.claims(ctx) }
		case <-c.woken:
			work = v.soon
		case <-stirred:
			work = v.asks
		case <-look.C:
			work = v.looks
		case <-round.C:
			work = v.everything
		}
	}
}

// await passes on that something may have changed in the shop.
func await(ctx context.Context, shop Shop, stirred chan<- struct{}) error {
	for {
		if err := shop.Await(ctx); err != nil {
			return err
		}
		select {
		case stirred <- struct{}{}:
		default:
		}
	}
}

// arrive learns where bay and shop stand.
func (v *visit) arrive(ctx context.Context) error {
	err := v.ask(ctx, func(ctx context.Context) error {
		bay, name, err := v.shop.Bay(ctx)
		v.bay = bay
		v.mu.Lock()
		v.state.Bay, v.state.Shop = bay, name
		v.mu.Unlock()
		return err
	})
	if err != nil {
		return err
	}
	for range 2 {
		mark, last, err := v.arrived(ctx)
		if err != nil {
			return err
		}
		same, err := v.has(ctx, mark, last)
		if err != nil {
			return err
		}
		if same {
			v.after = mark
			if mark != v.backlog.upTo() || !v.state.Known {
				v.backlog.from(mark)
			}
			return v.backlog.look(ctx)
		}
		// The journal was put back from a backup. Under a new id all of it is offered again: what has arrived is passed over, what differs branches.
		v.joined.Journal = rand.Text()
		if err := v.joined.write(v.config.Data); err != nil {
			return err
		}
		v.begun = false
	}
	return fmt.Errorf("%w: a new journal cannot have arrived", ErrDamaged)
}

func (v *visit) arrived(ctx context.Context) (mark journal.Mark, last string, err error) {
	err = v.ask(ctx, func(ctx context.Context) error {
		mark, last, err = v.shop.Arrived(ctx, v.joined.Journal)
		return err
	})
	return mark, last, err
}

// has reports whether the journal has an event at a mark.
func (v *visit) has(ctx context.Context, mark journal.Mark, last string) (bool, error) {
	if mark == 0 {
		return true, nil
	}
	events, err := v.config.Store.Since(ctx, mark-1, 1)
	return len(events) == 1 && events[0].Mark == mark && Print(events[0]) == last, err
}

func (v *visit) ask(ctx context.Context, do func(ctx context.Context) error) error {
	return told(ctx, v.pace.patience, do)
}

// soon sends what came, and what comes right behind it.
func (v *visit) soon(ctx context.Context) error {
	timer := time.NewTimer(v.pace.linger)
	defer timer.Stop()
	select {
	case <-timer.C:
	case <-ctx.Done():
		return ctx.Err()
	}
	return v.sends(ctx)
}

// everything is one round of all there is to do.
func (v *visit) everything(ctx context.Context) error {
	if err := v.begin(ctx); err != nil {
		return err
	}
	if err := v.sends(ctx); err != nil {
		return err
	}
	if err := v.claims(ctx); err != nil {
		return err
	}
	v.told = time.Time{}
	if err := v.tellRest(ctx); err != nil {
		return err
	}
	return v.asks(ctx)
}

// sends brings everything of this bay to the shop.
func (v *visit) sends(ctx context.Context) error {
	if err := v.sendEvents(ctx); err != nil {
		return err
	}
	if err := v.sendMemos(ctx); err != nil {
		return err
	}
	return v.tellRest(ctx)
}

// asks gets what the shop has for this bay.
func (v *visit) asks(ctx context.Context) error {
	if err := v.askOffers(ctx); err != nil {
		return err
	}
	if err := v.askLost(ctx); err != nil {
		return err
	}
	if err := v.fetchMemos(ctx); err != nil {
		return err
	}
	return v.share(ctx, true)
}

// looks is for what people change in folders.
func (v *visit) looks(ctx context.Context) error {
	v.save()
	if err := v.tellRest(ctx); err != nil {
		return err
	}
	if err := v.fetchMemos(ctx); err != nil {
		return err
	}
	return v.share(ctx, false)
}

// tellRest tells the shop what is left to send when that changed, but not with every event of a busy bay.
func (v *visit) tellRest(ctx context.Context) error {
	rest := v.backlog.rest()
	if !v.told.IsZero() && (rest == v.rest || rest != Rest{} && time.Since(v.told) < v.pace.look) {
		return nil
	}
	if err := v.ask(ctx, func(ctx context.Context) error { return v.shop.Told(ctx, rest) }); err != nil {
		return err
	}
	v.rest, v.told = rest, time.Now()
	return nil
}

// sendEvents sends all that the journal has. What comes while the last batch is under way has woken the courier again, and waits for its turn.
func (v *visit) sendEvents(ctx context.Context) error {
	for {
		events, err := v.config.Store.Since(ctx, v.backlog.upTo(), v.most)
		if err != nil {
			v.fault("the journal", err)
			return err
		}
		if len(events) == 0 {
			return v.release(ctx)
		}
		last := len(events) < v.most
		if some := batch(events, maxBytes*v.most/maxEvents); len(some) < len(events) {
			events, last = some, false
		}
		v.backlog.note(events)
		for _, e := range events { // before they are sent, as the answer may be lost
			if e.Kind == narrator.Handed {
				v.handed[e.Job] = true
			}
		}
		v.handing()
		if err := v.sendBatch(ctx, events); err != nil {
			if err = v.mend(ctx, events, err); err != nil {
				return err
			}
			continue
		}
		v.most = min(2*v.most, maxEvents)
		if v.backlog.sent(events); last {
			return v.release(ctx)
		}
	}
}

// sendBatch sends events, but those of jobs that the shop does not take from this bay.
func (v *visit) sendBatch(ctx context.Context, events []journal.Marked) error {
	events = slices.DeleteFunc(slices.Clone(events), func(e journal.Marked) bool { return v.foreign[e.Job] })
	if len(events) == 0 {
		return nil
	}
	err := v.ask(ctx, func(ctx context.Context) error {
		return v.shop.Send(ctx, Batch{Journal: v.joined.Journal, After: v.after, Events: events})
	})
	if err == nil {
		v.after = events[len(events)-1].Mark
	}
	return err
}

// batch is as many events as have at most some bytes, at least one.
func batch(events []journal.Marked, most int) []journal.Marked {
	size := 0
	for i, e := range events {
		if size += len(e.Raw) + len(e.Job) + 64; i > 0 && size > most {
			return events[:i]
		}
	}
	return events
}

// mend does what a refused batch asks for, and returns the error where nothing helps.
func (v *visit) mend(ctx context.Context, events []journal.Marked, err error) error {
	var conflict *ConflictError
	var hole *HoleError
	switch {
	case errors.Is(err, ErrUnreachable):
		v.most = max(v.most/4, fewEvents) // a slow line takes less at once
	case errors.As(err, &hole) && hole.Arrived < v.after:
		v.after = hole.Arrived
		v.backlog.from(hole.Arrived)
		return v.backlog.look(ctx)
	case errors.As(err, &conflict) && !v.did[*conflict]:
		v.did[*conflict] = true
		if err := v.ask(ctx, func(ctx context.Context) error { return v.shop.Branch(ctx, conflict.Job, conflict.Seq-1) }); err != nil {
			return err
		}
		v.tell(News{Kind: Branched, Job: InBay(v.bay, conflict.Job), Err: err})
		return nil
	case errors.Is(err, ErrNotOwner) && len(events) > 1:
		v.most = len(events) / 2 // to find which job it is
		return nil
	case errors.Is(err, ErrNotOwner): // taken over in another shop, or before this one lost what it knew
		job := events[0].Job
		v.foreign[job] = true
		v.tell(News{Kind: Fault, Job: job, Err: fmt.Errorf("job %s stays in this bay alone: %w there; all else is sent", job, err)})
		return nil
	}
	return err
}

// release gives up the jobs that were handed over, as their logs tell.
func (v *visit) release(ctx context.Context) error {
	defer v.handing()
	for job := range v.handed {
		log, err := v.config.Store.Log(ctx, job)
		if err != nil {
			return err
		}
		if to, ok := givenUp(log); ok {
			err = v.releaseTo(ctx, job, log[len(log)-1].Seq, to)
		}
		if errors.Is(err, ErrNoSuchBay) { // whoever comes may have it, so that it does not lie there
			v.tell(News{Kind: Fault, Job: job, Err: fmt.Errorf("job %s was handed over to nobody: %w; any bay may take it on", job, err)})
			err = v.releaseTo(ctx, job, log[len(log)-1].Seq, "")
		}
		switch {
		case errors.Is(err, ErrNotArrived):
			continue // it goes on: what it got meanwhile is sent first
		case errors.Is(err, ErrNotOwner), errors.Is(err, ErrNoSuchJob): // taken by force, as is told
		case err != nil:
			return err
		}
		delete(v.handed, job)
	}
	return nil
}

// handing notes how many jobs have still to be released.
func (v *visit) handing() {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.state.Handing = len(v.handed)
}

func (v *visit) releaseTo(ctx context.Context, job string, seq int64, to string) error {
	return v.ask(ctx, func(ctx context.Context) error { return v.shop.Release(ctx, InShop(v.bay, job), seq, to) })
}

// begin looks through what earlier runs may have left to do.
func (v *visit) begin(ctx context.Context) error {
	if v.begun {
		return nil
	}
	open, err := v.config.Store.Jobs(ctx, journal.Filter{State: journal.OpenJobs})
	if err != nil {
		return err
	}
	for _, j := range open {
		if j.Gone {
			v.handed[j.ID] = true
		}
	}
	if err := v.oldMemos(ctx); err != nil {
		return err
	}
	v.begun = true
	return nil
}

// oldMemos finds the memos that the shop has not got.
func (v *visit) oldMemos(ctx context.Context) error {
	kept, err := v.config.Memos.Kept()
	if err != nil || len(kept) == 0 {
		v.fault("the memos", err)
		return nil
	}
	there, err := v.list(ctx, Memo)
	if err != nil {
		return err
	}
	for _, m := range kept {
		name := FileInShop(v.bay, m.File)
		if !slices.ContainsFunc(there[name], func(f File) bool { return f.Size == size(m.Path) }) {
			v.backlog.old(m.File)
		}
	}
	return nil
}

// list is the files of a kind, by name.
func (v *visit) list(ctx context.Context, kind FileKind) (map[string][]File, error) {
	files, err := asked(ctx, v.pace.patience, func(ctx context.Context) ([]File, error) { return v.shop.Files(ctx, kind) })
	named := map[string][]File{}
	for _, f := range files {
		named[f.Name] = append(named[f.Name], f)
	}
	return named, err
}
