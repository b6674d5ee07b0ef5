package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/labour/figures"
)

// reviewing is what `review` was asked for.
type reviewing struct {
	procedure string
	history   bool
	text      string
	kind      string
	bay       string
	from, to  string
	day       string
	limit     int
	offset    int
	attended  float64
	asJSON    bool
}

func newReview(app *App) *cobra.Command {
	var r reviewing
	c := &cobra.Command{
		Use:   "review [JOB]",
		Short: "Show where the time went: today, in a job, in all jobs of a procedure",
		Long: `Review shows finished jobs against the book and against each other: without arguments today's, with a job's id that job, with --procedure all
jobs of a procedure, with --history every job.

A step ran long where it took longer than 9 of 10 such steps of the other jobs do, by more than 3 minutes. Comebacks, jobs of several people, drafts
and time that nobody accounted for are shown and never learnt from. Times stay on this machine; people are never ranked.`,
		Example: `  stepcaller review
  stepcaller review --day 2000-01-31 --attended 8
  stepcaller review 2000-01-31-1
  stepcaller review --procedure water-pump
  stepcaller review --history --text "hose pony" --from 2000-01-01 --to 2000-02-01 --json`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := r.check(cmd, args); err != nil {
				return err
			}
			store, err := journal.Open(app.Config.Data, journal.Reader)
			if errors.Is(err, journal.ErrNoJournal) {
				fmt.Fprintf(cmd.OutOrStdout(), "No jobs yet in %s.\n", app.Config.Data)
				return nil
			}
			if err != nil {
				return err
			}
			defer store.Close()
			a, err := archive.Open(app.Config.Data, store)
			if err != nil {
				return err
			}
			defer a.Close()
			if err := refresh(cmd.Context(), a, cmd.ErrOrStderr()); err != nil {
				return err
			}
			view, err := r.view(cmd, app.Config, store, a, args)
			if err != nil {
				return err
			}
			if r.asJSON {
				return writeJSON(cmd.OutOrStdout(), view)
			}
			p := newPaper(journal.Invented(app.Config.Data))
			view.draw(p)
			_, err = io.WriteString(cmd.OutOrStdout(), p.String())
			return err
		},
	}
	f := c.Flags()
	f.StringVar(&r.procedure, "procedure", "", "all jobs of this procedure; with --history, its jobs alone")
	f.BoolVar(&r.history, "history", false, "list every finished job, newest first")
	f.StringVar(&r.text, "text", "", "history: words that occur in the job's id, procedure, vehicle, work order, technicians or what was typed in")
	f.StringVar(&r.kind, "kind", "", "history: who pays, "+strings.Join(narrator.JobKinds(), ", "))
	f.StringVar(&r.bay, "bay", "", "history: begun at this bay of the shop")
	f.StringVar(&r.from, "from", "", "history: begun on this day or later, 2000-01-31")
	f.StringVar(&r.to, "to", "", "history: begun before this day")
	f.IntVar(&r.limit, "limit", 50, "history: how many at most, 0 for all")
	f.IntVar(&r.offset, "offset", 0, "history: how many to pass over")
	f.StringVar(&r.day, "day", "", "another day than today, 2000-01-31")
	f.Float64Var(&r.attended, "attended", 0, "hours that people were there on that day, all together, for the productivity")
	f.BoolVar(&r.asJSON, "json", false, "print JSON")
	return c
}

// refresh works finished jobs into their figures, and tells how far it is where that takes its time.
func refresh(ctx context.Context, a *archive.Archive, out io.Writer) error {
	done := make(chan error, 1)
	go func() { done <- a.Refresh(ctx) }()
	tick := time.NewTicker(2 * time.Second)
	defer tick.Stop()
	for {
		select {
		case err := <-done:
			return err
		case <-tick.C:
			if p := a.Progress(); p.Of > 0 {
				fmt.Fprintf(out, "Figures are being worked out: %d of %d jobs\n", p.Done, p.Of)
			}
		}
	}
}

// check refuses flags that do not go together.
func (r *reviewing) check(cmd *cobra.Command, args []string) error {
	asked := map[string]bool{"a job": len(args) > 0, "--procedure": r.procedure != "" && !r.history, "--history": r.history}
	var what []string
	for _, name := range []string{"a job", "--procedure", "--history"} {
		if asked[name] {
			what = append(what, name)
		}
	}
	if len(what) > 1 {
		return usage("%s: choose one", strings.Join(what, " and "))
	}
	for _, flag := range []string{"text", "kind", "bay", "from", "to", "limit", "offset"} {
		if cmd.Flags().Changed(flag) && !r.history {
			return usage("--%s is for --history", flag)
		}
	}
	for _, flag := range []string{"day", "attended"} {
		if cmd.Flags().Changed(flag) && len(what) > 0 {
			return usage("--%s is for a day's review, without %s", flag, what[0])
		}
	}
	if r.limit < 0 || r.offset < 0 || r.attended < 0 {
		return usage("--limit, --offset and --attended are not below 0")
	}
	return nil
}

// drawn is a review: it is printed as JSON, or drawn.
type drawn interface{ draw(p *paper) }

func (r *reviewing) view(cmd *cobra.Command, c Config, store journal.Store, a *archive.Archive, args []string) (drawn, error) {
	ctx := cmd.Context()
	switch {
	case len(args) > 0:
		return reviewJob(ctx, store, a, args[0])
	case r.history:
		q := archive.Query{Text: r.text, Procedure: r.procedure, Kind: r.kind, Bay: r.bay, Limit: r.limit, Offset: r.offset}
		if cmd.Flags().Changed("technician") {
			q.Technician = c.Technician
		}
		var err error
		if q.From, err = dayOf("--from", r.from, time.Time{}); err != nil {
			return nil, err
		}
		if q.To, err = dayOf("--to", r.to, time.Time{}); err != nil {
			return nil, err
		}
		rows, total, err := a.Jobs(ctx, q)
		v := historyView{Total: total, Jobs: rows}
		if r.text != "" && r.limit > 0 && total > archive.MostFound {
			v.Total, v.More = archive.MostFound, true
		}
		return v, err
	case r.procedure != "":
		f, err := a.Procedure(ctx, r.procedure)
		if errors.Is(err, archive.ErrNoProcedure) {
			return nil, r.noProcedure(ctx, a)
		}
		return procedureView{Figures: f, whose: c.Technician}, err
	}
	day, err := dayOf("--day", r.day, time.Now())
	if err != nil {
		return nil, err
	}
	return reviewDay(ctx, store, a, day, r.attended)
}

// noProcedure names the procedures that there are figures of.
func (r *reviewing) noProcedure(ctx context.Context, a *archive.Archive) error {
	all, err := a.Procedures(ctx)
	if err != nil {
		return err
	}
	if len(all) == 0 {
		return usage("no job by %q is finished, nor by any other procedure", r.procedure)
	}
	var ids []string
	for _, p := range all {
		ids = append(ids, p.Procedure)
	}
	return usage("no job by %q is finished; there are jobs by %s", r.procedure, strings.Join(ids, ", "))
}

// dayOf is the beginning of a day in the local zone, that of the given one where the text is empty.
func dayOf(flag, text string, otherwise time.Time) (time.Time, error) {
	if text == "" {
		if otherwise.IsZero() {
			return otherwise, nil
		}
		return time.Date(otherwise.Year(), otherwise.Month(), otherwise.Day(), 0, 0, 0, 0, time.Local), nil
	}
	t, err := time.ParseInLocation(time.DateOnly, text, time.Local)
	if err != nil {
		return t, usage("%s %q is no day; write 2000-01-31", flag, text)
	}
	return t, nil
}

// dayView is one day.
type dayView struct {
	Day          string         `json:"day"`
	Open         []archive.Row  `json:"open"`
	Jobs         []archive.Row  `json:"jobs"` // finished on the day
	Totals       archive.Totals `json:"totals"`
	Worked       labour.Seconds `json:"person_worked_on_day_s"` // by everybody on that day, on jobs of whatever day, open ones too
	Attended     float64        `json:"attended_hours"`         // 0 where nobody said
	Productivity *float64       `json:"productivity"`           // hours worked by everybody on the day over hours attended (common practice); null without
	Long         []longStep     `json:"ran_long"`               // steps of those jobs
}

// longStep is a step that ran long in a job.
type longStep struct {
	Job string `json:"job"`
	figures.Reviewed
}

// longestJob is how long before a day a job that was worked on then may have begun.
const longestJob = 60 * 24 * time.Hour

// workedOn is what everybody together worked on a job between two times.
func workedOn(ctx context.Context, a *archive.Archive, row archive.Row, known narrator.Moment, from, to time.Time) (labour.Seconds, error) {
	if !row.Started.Before(to) || !row.Ended.IsZero() && row.Ended.Before(from) {
		return 0, nil
	}
	j, err := a.Job(ctx, row.Job)
	if err != nil {
		return 0, err
	}
	return labour.PersonWorked(j, max(j.Last(), known), narrator.MomentOf(from), narrator.MomentOf(to)), nil
}

func reviewDay(ctx context.Context, store journal.Store, a *archive.Archive, day time.Time, attended float64) (drawn, error) {
	v := dayView{Day: day.Format(time.DateOnly), Attended: attended, Open: []archive.Row{}, Jobs: []archive.Row{}, Long: []longStep{}}
	var err error
	next, now := day.AddDate(0, 0, 1), time.Now()
	finished, _, err := a.Jobs(ctx, archive.Query{From: day.Add(-longestJob), To: next})
	if err != nil {
		return nil, err
	}
	alive, err := store.LastBeat(ctx) // nobody knows what happened after the program stopped
	if err != nil {
		return nil, err
	}
	open, err := a.OpenJobs(ctx, min(alive, narrator.MomentOf(now)))
	if err != nil {
		return nil, err
	}
	if day.Before(now) && now.Before(next) {
		v.Open = open
	}
	for _, row := range finished {
		if !row.Ended.Before(day) && row.Ended.Before(next) {
			v.Jobs = append(v.Jobs, row)
		}
	}
	for _, row := range append(open, finished...) {
		worked, err := workedOn(ctx, a, row, min(alive, narrator.MomentOf(now)), day, next)
		if err != nil {
			return nil, err
		}
		v.Worked += worked
	}
	v.Totals = archive.TotalOf(v.Jobs)
	if attended > 0 {
		p := v.Worked.Hours() / attended
		v.Productivity = &p
	}
	for _, row := range v.Jobs {
		sheet, err := a.Sheet(ctx, row.Job, narrator.MomentOf(row.Ended))
		if err != nil {
			return nil, err
		}
		review, err := a.Review(ctx, sheet)
		if err != nil {
			return nil, err
		}
		for _, s := range review.Steps {
			if s.Long {
				v.Long = append(v.Long, longStep{row.Job, s})
			}
		}
	}
	return v, nil
}

// historyView is a list of jobs.
type historyView struct {
	Total int           `json:"total"` // that were found, of which these are a part
	More  bool          `json:"more"`  // there are more than the total, which are not counted
	Jobs  []archive.Row `json:"jobs"`
}

// procedureView is what all jobs of a procedure tell.
type procedureView struct {
	*figures.Figures
	whose string // learning is drawn; JSON has everybody's, by name
}
