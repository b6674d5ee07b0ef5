package courier

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// ErrOwnStory says that a bay has written on in a job that went on elsewhere: the two are not made one.
var ErrOwnStory = errors.New("this bay has a story of its own of this job; finish it here")

// givenUp reports whether a log says that its bay handed the job over, and to whom, "" for any.
func givenUp(log []narrator.Event) (to string, ok bool) {
	for _, e := range slices.Backward(log) {
		switch e.Kind {
		case narrator.Handed:
			return e.To, !e.On // On: it was taken by force, and there is nothing to give
		case narrator.TakenOver:
			return "", false
		}
	}
	return "", false
}

// claims answers those who asked for a job.
func (v *visit) claims(ctx context.Context) error {
	for len(v.waiting) > 0 {
		r := v.waiting[0]
		err := v.claim(ctx, r.job, r.force)
		if err != nil && !definite(err) && !errors.Is(err, ErrOwnStory) {
			return err // unreached answers
		}
		v.waiting = v.waiting[1:]
		if err != nil {
			v.tell(News{Kind: Refused, Job: r.job, Err: err})
		}
	}
	return nil
}

// claim takes a job over. What this bay wrote goes to the shop first, so that the shop knows which stories there are.
func (v *visit) claim(ctx context.Context, job string, force bool) error {
	if err := v.sendEvents(ctx); err != nil {
		return err
	}
	if err := v.free(ctx, job); err != nil {
		return err
	}
	log, err := asked(ctx, v.pace.patience, func(ctx context.Context) ([]narrator.Event, error) { return v.shop.Claim(ctx, job, force) })
	if err != nil {
		return err
	}
	v.delivered[job] = true
	v.tell(News{Kind: Claimed, Job: InBay(v.bay, job), Log: log})
	return nil
}

// free refuses a job that this bay went on with after another had taken it.
func (v *visit) free(ctx context.Context, job string) error {
	own, err := v.config.Store.Log(ctx, InBay(v.bay, job))
	if errors.Is(err, journal.ErrNoJob) {
		return nil
	}
	if err != nil {
		return err
	}
	lost, err := asked(ctx, v.pace.patience, v.shop.Lost)
	if err != nil {
		return err
	}
	last := own[len(own)-1]
	for _, l := range lost {
		if l.Job == job && (last.Seq > l.After+1 || last.Seq == l.After+1 && last.Kind != narrator.Handed) {
			return fmt.Errorf("job %s: %w", job, ErrOwnStory)
		}
	}
	return nil
}

// askOffers tells which jobs are on offer, when that changed.
func (v *visit) askOffers(ctx context.Context) error {
	offers, err := asked(ctx, v.pace.patience, func(ctx context.Context) ([]Offer, error) { return v.shop.Offers(ctx, false) })
	if err != nil {
		return err
	}
	var others []Offer
	for _, o := range offers {
		switch {
		case o.Released:
			others = append(others, o)
		case !v.delivered[o.Job]: // claimed, and the answer was lost
			if err := v.claim(ctx, o.Job, false); err != nil && !definite(err) {
				return err
			}
		}
	}
	if !slices.Equal(others, v.offers) {
		v.offers = others
		v.tell(News{Kind: Offered, Offers: others})
	}
	return nil
}

// askLost tells which jobs were taken by force, once a run.
func (v *visit) askLost(ctx context.Context) error {
	losses, err := asked(ctx, v.pace.patience, v.shop.Lost)
	if err != nil {
		return err
	}
	for _, l := range losses {
		if !v.lost[l] {
			v.lost[l] = true
			v.tell(News{Kind: Lost, Job: InBay(v.bay, l.Job), Loss: l})
		}
	}
	return nil
}

// Offers asks the shop itself which jobs there are, as a terminal does: with all also those that other bays have.
func Offers(ctx context.Context, open func(ctx context.Context) (Shop, error), all bool) (offers []Offer, err error) {
	shop, err := asked(ctx, usual.patience, open)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, shop.Close()) }()
	return asked(ctx, usual.patience, func(ctx context.Context) ([]Offer, error) { return shop.Offers(ctx, all) })
}

// TakeIn writes the log of a claimed job into the bay's journal, under the bay's id for it: what the journal lacks. It may be called again. Where the
// bay's own events differ the error is [ErrOwnStory] and nothing is written. The memos that it names are awaited, and fetched by the courier.
func TakeIn(ctx context.Context, store journal.Store, memos *journal.Memos, bay string, log []narrator.Event) error {
	if len(log) == 0 {
		return fmt.Errorf("take a job over: %w", ErrNoSuchJob)
	}
	log = slices.Clone(log)
	for i := range log {
		Localise(bay, &log[i])
	}
	job := log[0].Job
	have, err := store.Log(ctx, job)
	if err != nil && !errors.Is(err, journal.ErrNoJob) {
		return fmt.Errorf("take job %s over: %w", job, err)
	}
	for i := range min(len(have), len(log)) {
		if !Same(have[i], log[i]) {
			return fmt.Errorf("job %s, event %d: %w", job, i+1, ErrOwnStory)
		}
	}
	lacking := log[min(len(have), len(log)):]
	for _, e := range lacking {
		if e.Kind == narrator.Recorded && e.File != "" {
			if err := memos.Await(e.File); err != nil {
				return fmt.Errorf("take job %s over: %w", job, err)
			}
		}
	}
	if err := store.Append(ctx, lacking); err != nil {
		return fmt.Errorf("take job %s over: %w", job, err)
	}
	return nil
}
