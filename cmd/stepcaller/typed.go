package main

import (
	"context"
	"errors"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// write puts what somebody typed about a job into its record: through the daemon on the data folder, else straight into the journal. Its moment
// is set on the way. Pages take what is posted to them the same way; what is wrong with it is an error in words to show.
func write(ctx context.Context, c Config, in narrator.Typed) error {
	if err := check(ctx, c, in); err != nil {
		return err
	}
	_, err := sendOrder(ctx, c.Data, orderFor(in))
	if errors.Is(err, errNoDaemon) {
		return writeAlone(ctx, c, in)
	}
	return err
}

// check says what is wrong with something typed, as the journal stands.
func check(ctx context.Context, c Config, in narrator.Typed) error {
	settings, err := c.settings()
	if err != nil {
		return err
	}
	job, now, err := readJob(ctx, c, in.About())
	if err != nil {
		return err
	}
	bay := narrator.NewBay(settings)
	bay.Jobs[job.ID] = job
	if err := stamp(in, now).Check(bay); err != nil {
		return usage("%v", err)
	}
	return nil
}

// writeAlone writes into the journal while no daemon runs.
func writeAlone(ctx context.Context, c Config, in narrator.Typed) (err error) {
	settings, err := c.settings()
	if err != nil {
		return err
	}
	store, err := journal.Open(c.Data, journal.Writer)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	bay, err := restore(ctx, store, settings)
	if err != nil {
		return err
	}
	if _, err := know(ctx, bay, store, in.About()); err != nil {
		return err
	}
	at, err := lastSign(ctx, store, bay.Jobs[in.About()])
	if err != nil {
		return err
	}
	in = stamp(in, at)
	if err := in.Check(bay); err != nil {
		return usage("%v", err)
	}
	return store.Append(ctx, narrator.Decide(bay, in).Events)
}

// orderFor asks the daemon to write it.
func orderFor(in narrator.Typed) order {
	switch in := in.(type) {
	case narrator.Enter:
		return order{Enter: &fact{Job: in.Job, Field: in.Field, Value: in.Value}}
	case narrator.Correct:
		return order{Correct: &in}
	case narrator.Annotate:
		return order{Annotate: &in}
	case narrator.Withdraw:
		return order{Withdraw: &in}
	}
	return order{}
}

// typed is what the order asks to be written, nil for an order of another sort.
func (o order) typed() narrator.Typed {
	switch {
	case o.Enter != nil:
		return o.Enter.input()
	case o.Correct != nil:
		return *o.Correct
	case o.Annotate != nil:
		return *o.Annotate
	case o.Withdraw != nil:
		return *o.Withdraw
	}
	return nil
}

// stamp sets the moment at which something is written.
func stamp(in narrator.Typed, at narrator.Moment) narrator.Typed {
	switch in := in.(type) {
	case narrator.Enter:
		in.At = at
		return in
	case narrator.Correct:
		in.At = at
		return in
	case narrator.Annotate:
		in.At = at
		return in
	case narrator.Withdraw:
		in.At = at
		return in
	}
	return in
}
