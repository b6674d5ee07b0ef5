package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

var errNoShop = errors.New("no shop is joined; `stepcaller shop join` does")

func newHandover(app *App) *cobra.Command {
	var to string
	c := &cobra.Command{
		Use:   "handover JOB",
		Short: "Give an open job to another bay of the shop",
		Long: `Handover ends this bay's time with a job: its clock stands still until a bay takes it over, by voice with "other job" or with takeover. What was
done stays in the record. It cannot be taken back, but this bay may take the job over again.`,
		Example: "  stepcaller handover 2000-01-31-1\n  stepcaller handover 2000-01-31-1 --to lift-3",
		Args:    oneArg("JOB is needed: the job to hand over"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if to != "" && !courier.ValidBay(to) {
				return usage("--to %s: a bay's name has small letters, digits and dashes", to)
			}
			if _, err := courier.ReadJoined(app.Config.Data); err != nil {
				return notJoined(err)
			}
			in := narrator.HandOver{Job: args[0], To: to}
			_, err := sendOrder(cmd.Context(), app.Config.Data, order{HandOver: &in})
			if errors.Is(err, errNoDaemon) {
				return handOverAlone(cmd.Context(), app.Config, in, cmd.OutOrStdout())
			}
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "Job %s is handed over.\n", in.Job)
			return nil
		},
	}
	c.Flags().StringVar(&to, "to", "", "bay that takes it over (default: any)")
	return c
}

// notJoined makes a mistake of the user's of a shop that was never joined.
func notJoined(err error) error {
	if errors.Is(err, courier.ErrNotJoined) {
		return usage("%v", errNoShop)
	}
	return err
}

// outpost is a bay's journal and courier while no daemon runs.
type outpost struct {
	store journal.Store
	memos *journal.Memos
	bay   *narrator.Bay
	post  *courier.Courier
	close func() error
}

// openOutpost opens a bay's journal to write, and lets its courier run.
func openOutpost(ctx context.Context, c Config) (*outpost, error) {
	settings, err := c.settings()
	if err != nil {
		return nil, err
	}
	store, err := journal.Open(c.Data, journal.Writer)
	if err != nil {
		return nil, err
	}
	fail := func(err error) (*outpost, error) { return nil, errors.Join(err, store.Close()) }
	bay, err := restore(ctx, store, settings)
	if err != nil {
		return fail(err)
	}
	post, err := courier.New(courier.Config{Store: store, Memos: store.Memos(), Data: c.Data, Open: openShop(c.Data)})
	if err != nil {
		return fail(notJoined(err))
	}
	ctx, stop := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- post.Run(ctx) }()
	return &outpost{store: courier.Waking(store, post.Wake), memos: store.Memos(), bay: bay, post: post, close: func() error {
		stop()
		return errors.Join(<-ended, store.Close())
	}}, nil
}

// take decides on an input and makes it durable.
func (o *outpost) take(ctx context.Context, in narrator.Input) (narrator.Outcome, error) {
	out := narrator.Decide(o.bay, in)
	if err := o.store.Append(ctx, out.Events); err != nil {
		return out, err
	}
	return out, o.bay.Apply(out)
}

// sendAll waits until everything is sent, not for long, and reports whether it is.
func (o *outpost) sendAll(ctx context.Context) (bool, error) {
	for until := time.Now().Add(2 * lastSending); ; time.Sleep(20 * time.Millisecond) {
		state, err := o.post.State(ctx)
		if err != nil || ctx.Err() != nil || state.AllSent() && state.Reached || state.Trouble != nil || time.Now().After(until) {
			return state.AllSent() && state.Reached, errors.Join(err, ctx.Err())
		}
	}
}

// handOverAlone hands a job over while no daemon runs. Its time is known up to the last sign of life.
func handOverAlone(ctx context.Context, c Config, in narrator.HandOver, out io.Writer) (err error) {
	o, err := openOutpost(ctx, c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.close()) }()
	if _, err := know(ctx, o.bay, o.store, in.Job); err != nil {
		return err
	}
	if in.At, err = lastSign(ctx, o.store, o.bay.Jobs[in.Job]); err != nil {
		return err
	}
	if err := in.Check(o.bay); err != nil {
		return usage("%v", err)
	}
	if _, err := o.take(ctx, in); err != nil {
		return err
	}
	sent, err := o.sendAll(ctx)
	if sent {
		fmt.Fprintf(out, "Job %s is handed over.\n", in.Job)
	} else {
		fmt.Fprintf(out, "Job %s is handed over. The shop cannot be reached now: other bays see it once this bay has told.\n", in.Job)
	}
	return err
}

func newTakeover(app *App) *cobra.Command {
	var force, asJSON bool
	c := &cobra.Command{
		Use:   "takeover [JOB]",
		Short: "Take a job of another bay over, or list those on offer",
		Long: `Takeover makes a job that another bay handed over this bay's own: it goes on at the step where it stood. Without JOB it lists what is on offer;
with --force also what other bays have.

With --force a job is taken from the bay that has it, as when its machine is broken. It goes on from the last that the shop knows. If the other bay
works on, what it does is kept as a story of its own, and shown beside this one; the two are never merged.`,
		Example: "  stepcaller takeover\n  stepcaller takeover 2000-01-31-1.lift-2\n  stepcaller takeover 2000-01-31-1.lift-2 --force",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if _, err := courier.ReadJoined(app.Config.Data); err != nil {
				return notJoined(err)
			}
			if len(args) == 0 {
				offers, err := courier.Offers(cmd.Context(), openShop(app.Config.Data), force)
				if err != nil {
					return plainly(err)
				}
				if asJSON {
					return writeJSON(cmd.OutOrStdout(), offers)
				}
				return writeOffers(cmd.OutOrStdout(), offers)
			}
			in := narrator.Claim{Job: args[0], Force: force}
			_, err := sendOrder(cmd.Context(), app.Config.Data, order{Claim: &in})
			if errors.Is(err, errNoDaemon) {
				return takeOverAlone(cmd.Context(), app.Config, in, cmd.OutOrStdout())
			}
			if err == nil {
				fmt.Fprintf(cmd.OutOrStdout(), "Asked for job %s; the bay says when it is there.\n", in.Job)
			}
			return err
		},
	}
	c.Flags().BoolVar(&force, "force", false, "take it from the bay that has it")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

// plainly adds to an error of the shop what it means for the person.
func plainly(err error) error {
	if text := courier.Plainly(err); text != "" {
		return fmt.Errorf("%s (%w)", text, err)
	}
	return err
}

func writeOffers(w io.Writer, offers []courier.Offer) error {
	if len(offers) == 0 {
		_, err := fmt.Fprintln(w, "No job is on offer.")
		return err
	}
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "JOB\tBAY\tOFFERED TO\tLAST HEARD OF\tPROCEDURE\tORDER\tSTEP")
	for _, o := range offers {
		to, step := "nobody", ""
		switch {
		case o.Released && o.To != "":
			to = o.To
		case o.Released:
			to = "any"
		}
		if o.Step > 0 {
			step = fmt.Sprint(o.Step)
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", o.Job, o.Bay, to, o.At.Time().Local().Format("2006-01-02 15:04"), o.Procedure, o.Order, step)
	}
	return t.Flush()
}

// takeOverAlone takes a job over while no daemon runs. It is this bay's from now on, and waits to be resumed.
func takeOverAlone(ctx context.Context, c Config, in narrator.Claim, out io.Writer) (err error) {
	o, err := openOutpost(ctx, c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.close()) }()
	o.post.Take(in.Job, in.Force)
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(longestWait):
			return errors.New("the shop gave no answer; try again")
		case n := <-o.post.News():
			switch {
			case n.Kind == courier.Refused:
				return plainly(n.Err)
			case n.Kind == courier.Fault:
				return plainly(n.Err)
			case n.Kind == courier.Claimed:
				return o.goOn(ctx, c, n.Log, out)
			}
		}
	}
}

// goOn writes down that a claimed job is this bay's.
func (o *outpost) goOn(ctx context.Context, c Config, log []narrator.Event, out io.Writer) error {
	state, err := o.post.State(ctx)
	if err != nil {
		return err
	}
	in, err := takenIn(ctx, o.store, o.bay, o.memos, state.Bay, log)
	if err != nil {
		return err
	}
	in.At, in.Technician = narrator.MomentOf(time.Now()), c.Technician
	done, err := o.take(ctx, in)
	if err != nil {
		return err
	}
	if len(done.Events) == 0 {
		for _, s := range done.Sentences {
			return errors.New(s.Text)
		}
	}
	if _, err := o.sendAll(ctx); err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "Job %s is this bay's now. `stepcaller resume %s` goes on with it.\n", in.Job, in.Job)
	return err
}
