package archive

import (
	"context"
	"database/sql"
	"errors"
	"runtime"
	"slices"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// batch is how many jobs are worked in with one transaction.
const batch = 200

// keptProcedures is how many procedure files stay loaded.
const keptProcedures = 256

// Refresh works in what the journal has got since: jobs that were finished, and finished ones that got further events, such as
// corrections. It is cheap where there is nothing new. What it has done counts although it ends with an error: the next one goes on from
// there, also after the process was killed. Cancelled, it goes on without anybody waiting, until Close. A job that cannot be read is passed
// over ([Archive.PassedOver]).
func (a *Archive) Refresh(ctx context.Context) error {
	for {
		c, own := a.catch(false) // one that somebody else began may have missed the latest events
		select {
		case <-c.ended:
			if own {
				return c.err
			}
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// refresh works in, and says on the way how far it is.
func (a *Archive) refresh(ctx context.Context, c *catching) error {
	for {
		changes, from, err := a.changed(ctx)
		if err != nil {
			return err
		}
		c.listed(len(changes))
		switch err := a.workInAll(ctx, changes, from, c); {
		case err == nil:
			return a.filled(ctx)
		case !errors.Is(err, errAnother):
			return err
		}
	}
}

// filled notes that the journal was read to its end once.
func (a *Archive) filled(ctx context.Context) error {
	var filled bool
	err := a.db.QueryRowContext(ctx, `SELECT filled FROM state`).Scan(&filled)
	if err == nil && !filled {
		_, err = a.db.ExecContext(ctx, `UPDATE state SET filled = 1`)
	}
	return a.broken(err)
}

// errAnother says that somebody else found another journal here, so that what changed is to be listed anew.
var errAnother = errors.New("the cache was begun anew")

// changed lists the jobs that got events since the last refresh, which came as far as from. Where the job that was worked in last got none
// there, this is another journal, such as a backup put back: then what is kept is forgotten, and all jobs changed.
func (a *Archive) changed(ctx context.Context) (changes []journal.Change, from journal.Mark, err error) {
	var last string
	if err := a.db.QueryRowContext(ctx, `SELECT mark, last FROM state`).Scan(&from, &last); err != nil {
		return nil, 0, a.broken(err)
	}
	if from == 0 {
		changes, err = a.store.Changed(ctx, 0)
		return changes, 0, err
	}
	if changes, err = a.store.Changed(ctx, from-1); err != nil {
		return nil, 0, err
	}
	if slices.ContainsFunc(changes, func(c journal.Change) bool { return c.Job == last }) {
		return slices.DeleteFunc(changes, func(c journal.Change) bool { return c.Mark == from }), from, nil
	}
	if err := a.write(ctx, beginAnew); err != nil {
		return nil, 0, err
	}
	changes, err = a.store.Changed(ctx, 0)
	return changes, 0, err
}

// beginAnew forgets all but how often something changed.
func beginAnew(tx *sql.Tx) error {
	var change int64
	if err := tx.QueryRow(`SELECT change FROM state`).Scan(&change); err != nil {
		return err
	}
	for _, table := range []string{"crew", "packed", "said", "letter", "letters", "tally", "job", "edition", "open_job", "passed_over", "bay", "state"} {
		if _, err := tx.Exec(`DROP TABLE ` + table); err != nil { // #nosec G202 -- one of these
			return err
		}
	}
	if _, err := tx.Exec(schema); err != nil {
		return err
	}
	_, err := tx.Exec(`UPDATE state SET change = ?`, change+1)
	return err
}

// part is one batch of changes, with what its jobs tell.
type part struct {
	changes []journal.Change
	told    []told
}

// workInAll reads jobs, a batch ahead of what is being stored, and stores what they tell.
func (a *Archive) workInAll(ctx context.Context, changes []journal.Change, from journal.Mark, c *catching) error {
	parts := make(chan part)
	reading, ctx := errgroup.WithContext(ctx)
	reading.Go(func() error {
		defer close(parts)
		for all := range slices.Chunk(changes, batch) {
			of, err := a.tellAll(ctx, all)
			if err != nil {
				return err
			}
			select {
			case parts <- of:
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	})
	reading.Go(func() error {
		for of := range parts {
			// What was read is stored although meanwhile another job could not be.
			if err := a.workIn(context.WithoutCancel(ctx), of, from); err != nil {
				return err
			}
			from = of.changes[len(of.changes)-1].Mark
			c.done.Add(int64(len(of.changes)))
		}
		return nil
	})
	return reading.Wait()
}

// tellAll reads some jobs, several at once.
func (a *Archive) tellAll(ctx context.Context, changes []journal.Change) (part, error) {
	of := part{changes, make([]told, len(changes))}
	reading, ctx := errgroup.WithContext(ctx)
	reading.SetLimit(runtime.GOMAXPROCS(0))
	for i, c := range changes {
		reading.Go(func() (err error) {
			of.told[i], err = a.tell(ctx, c.Job)
			return err
		})
	}
	return of, reading.Wait()
}

// workIn stores what some jobs tell. It leaves out what another process was faster with: whatever a job got since then lies behind its mark.
func (a *Archive) workIn(ctx context.Context, of part, from journal.Mark) error {
	return a.write(ctx, func(tx *sql.Tx) error {
		var mark journal.Mark
		if err := tx.QueryRowContext(ctx, `SELECT mark FROM state`).Scan(&mark); err != nil {
			return err
		}
		last := of.changes[len(of.changes)-1]
		switch {
		case mark < from:
			return errAnother
		case mark >= last.Mark:
			return nil
		}
		w := &writing{tx: tx, prepared: map[string]*sql.Stmt{}}
		if err := w.exec(ctx, `UPDATE state SET change = change + 1, mark = ?, last = ?`, last.Mark, last.Job); err != nil {
			return err
		}
		for _, t := range of.told {
			if err := w.replace(ctx, t); err != nil {
				return err
			}
		}
		return w.letters(ctx)
	})
}

// Progress is how far finished jobs are worked in. The zero Progress says that they are, or will be in a moment.
type Progress struct {
	Going    bool
	Done, Of int // Of is 0 while it is not known
}

// catching is one way to the journal's end.
type catching struct {
	began time.Time
	of    atomic.Int64
	done  atomic.Int64
	long  chan struct{} // closed when there is more than a batch to be done
	ended chan struct{}
	err   error // once it ended
}

func newCatching() *catching {
	return &catching{began: time.Now(), long: make(chan struct{}), ended: make(chan struct{})}
}

func (c *catching) listed(changes int) {
	if c.of.Swap(int64(changes)) <= batch && changes > batch {
		close(c.long)
	}
	c.done.Store(0)
}

// Progress tells how far a way to the journal's end is that takes its time; it does not wait.
func (a *Archive) Progress() Progress {
	a.watch.Lock()
	c := a.catching
	a.watch.Unlock()
	if c == nil {
		return Progress{}
	}
	of := int(c.of.Load())
	if of > batch || of == 0 && time.Since(c.began) > patience {
		return Progress{true, int(c.done.Load()), of}
	}
	return Progress{}
}

// patience is how long a page waits to hear how much there is to be worked in for the first time.
const patience = 250 * time.Millisecond

// CatchUp is Refresh for somebody who waits for a page: where more than a few jobs are to be worked in, that goes on in the background, and
// CatchUp returns at once; [Archive.Progress] tells how far it is. An error ends the way that somebody waits for; the next call begins another.
func (a *Archive) CatchUp(ctx context.Context) error {
	var filled bool
	if err := a.db.QueryRowContext(ctx, `SELECT filled FROM state`).Scan(&filled); err != nil {
		return a.broken(err)
	}
	var late <-chan time.Time
	if !filled {
		timer := time.NewTimer(patience)
		defer timer.Stop()
		late = timer.C
	}
	for own := false; !own; {
		var c *catching
		c, own = a.catch(true)
		select {
		case <-c.ended:
			if own {
				return c.err
			}
		case <-c.long:
			return nil
		case <-late:
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

// catch begins to catch up, or joins whom it finds doing so. For pages it then sees to what a day's page asks of every procedure.
func (a *Archive) catch(pages bool) (c *catching, own bool) {
	a.watch.Lock()
	defer a.watch.Unlock()
	if a.catching != nil {
		return a.catching, false
	}
	c = newCatching()
	a.catching = c
	a.going.Go(func() {
		c.err = a.refresh(a.life, c)
		a.watch.Lock()
		a.catching = nil
		a.watch.Unlock()
		close(c.ended)
		if c.err == nil && pages && a.warmed.CompareAndSwap(false, true) {
			_ = a.warm(a.life) // what is missing is found missing by the page that asks for it
		}
	})
	return c, true
}

// warm works out the limits of the procedures by which jobs were done in the latest week. Only one does so at a time.
func (a *Archive) warm(ctx context.Context) error {
	if !a.warming.TryLock() {
		return nil
	}
	defer a.warming.Unlock()
	var lately []string
	err := a.each(ctx, func(r *sql.Rows) error {
		var id string
		err := r.Scan(&id)
		lately = append(lately, id)
		return err
	}, `SELECT DISTINCT procedure FROM job WHERE id > (SELECT max(id) FROM job) - ?`, int64(7*24*narrator.Hour)*numbered)
	left := len(lately)
	for _, id := range lately {
		if err == nil {
			_, err = a.limits(ctx, id, &left)
		}
	}
	return err
}
