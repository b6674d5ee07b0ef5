package main

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
)

func newCorrect(app *App) *cobra.Command {
	var from, to, as, reason, why string
	var withdraw int
	c := &cobra.Command{
		Use:   "correct JOB",
		Short: "Put right what a stretch of your own time on a job was, with the reason for it",
		Long: `Correct says what a stretch of a job's time was, worked or paused. It is for whoever was on the job all of that time, for open jobs up to now and
for finished ones. What was heard stays in the log and is shown beside it. A correction is withdrawn by who made it, by its number on the sheet.`,
		Example: `  stepcaller correct 2000-01-01-1 --from 10:05 --to 10:20 --as paused --reason parts --why "forgot to say it" --technician Ines
  stepcaller correct 2000-01-01-1 --from "2000-01-01 14:00" --to 14:12 --as worked --why "that was the test drive"
  stepcaller correct 2000-01-01-1 --withdraw 1 --technician Ines`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			job, now, err := readJob(cmd.Context(), app.Config, args[0])
			if err != nil {
				return err
			}
			if withdraw != 0 {
				var events []int64
				for _, c := range job.Corrections() {
					events = append(events, c.Seq)
				}
				return withdrawn(cmd, app.Config, job.ID, "correction", withdraw, events)
			}
			in := narrator.Correct{Job: job.ID, Technician: app.Config.Technician, What: narrator.Activity(as), Reason: reason, Why: strings.TrimSpace(why)}
			end := max(job.Start, now)
			if !job.Open() {
				end = job.End
			}
			if in.From, err = clockTime(from, job.Start, end); err != nil {
				return usage("--from: %v", err)
			}
			if in.To, err = clockTime(to, job.Start, end); err != nil {
				return usage("--to: %v", err)
			}
			if err := write(cmd.Context(), app.Config, in); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "Job %s: %s to %s is %s; what was heard stays in the log.\n", job.ID, clockText(in.From), clockText(in.To),
				strings.TrimSuffix(as+", "+reason, ", "))
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&from, "from", "", "start of that time: 10:05, 10:05:30, or with its day 2000-01-31 10:05")
	f.StringVar(&to, "to", "", "its end, likewise")
	f.StringVar(&as, "as", "", "what it was: worked or paused")
	f.StringVar(&reason, "reason", "", "reason of a pause, one of those configured")
	f.StringVar(&why, "why", "", "why it is corrected")
	f.IntVar(&withdraw, "withdraw", 0, "take the correction of this number back instead")
	return c
}

func newRemark(app *App) *cobra.Command {
	var step string
	var withdraw int
	c := &cobra.Command{
		Use:   "remark JOB TEXT",
		Short: "Write a remark on a job that you were on, or on one of its steps",
		Example: `  stepcaller remark 2000-01-01-1 --step cover "the lower bolt is reached from below" --technician Ines
  stepcaller remark 2000-01-01-1 --withdraw 1 --technician Ines`,
		Args: cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error {
			job, _, err := readJob(cmd.Context(), app.Config, args[0])
			if err != nil {
				return err
			}
			if withdraw != 0 {
				var events []int64
				for _, r := range job.Remarks() {
					events = append(events, r.Seq)
				}
				return withdrawn(cmd, app.Config, job.ID, "remark", withdraw, events)
			}
			in := narrator.Annotate{Job: job.ID, Technician: app.Config.Technician, Step: step}
			if len(args) == 2 {
				in.Text = strings.TrimSpace(args[1])
			}
			if n, err := strconv.Atoi(step); err == nil && n >= 1 && n <= len(job.Procedure.Steps) {
				if _, named := job.Procedure.Index(step); !named {
					in.Step = job.Procedure.Steps[n-1].ID
				}
			}
			if err := write(cmd.Context(), app.Config, in); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "Job %s: remark noted.\n", job.ID)
			return nil
		},
	}
	c.Flags().StringVar(&step, "step", "", "step that it is about, by its id or its number")
	c.Flags().IntVar(&withdraw, "withdraw", 0, "take the remark of this number back instead")
	return c
}

// withdrawn takes the nth of what was written back; events are their numbers in the job's log.
func withdrawn(cmd *cobra.Command, c Config, job, what string, n int, events []int64) error {
	if n < 1 || n > len(events) {
		return usage("job %s has %d %ss; `stepcaller labour %s` shows them", job, len(events), what, job)
	}
	if err := write(cmd.Context(), c, narrator.Withdraw{Job: job, Technician: c.Technician, Seq: events[n-1]}); err != nil {
		return err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "Job %s: %s %d withdrawn.\n", job, what, n)
	return nil
}

// clockTime reads a time of the day, or of a day, in a job from start to end: in the local zone, to the minute or to the second. One to the minute
// may lie less than a minute outside the job, and then means its start or its end.
func clockTime(text string, start, end narrator.Moment) (narrator.Moment, error) {
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02T15:04:05"} {
		if t, err := time.ParseInLocation(layout, text, time.Local); err == nil {
			return near(t, layout, start, end), nil
		}
	}
	var found []narrator.Moment
	first, last := start.Time().Local(), end.Time().Local()
	for _, layout := range []string{"15:04", "15:04:05"} {
		t, err := time.Parse(layout, text)
		if err != nil {
			continue
		}
		for day := 0; ; day++ {
			at := time.Date(first.Year(), first.Month(), first.Day()+day, t.Hour(), t.Minute(), t.Second(), 0, time.Local)
			if at.After(last.Add(time.Minute)) {
				break
			}
			if m := near(at, layout, start, end); start <= m && m <= end {
				found = append(found, m)
			}
		}
	}
	switch len(found) {
	case 0:
		return 0, usage("%q is no time of the job, which went from %s to %s; write 10:05, or 2000-01-31 10:05", text,
			first.Format("2006-01-02 15:04"), last.Format("2006-01-02 15:04"))
	case 1:
		return found[0], nil
	}
	return 0, usage("it was %s on %d days of the job; write the day before it: %s %s", text, len(found), first.Format(time.DateOnly), text)
}

// near takes a time to the minute that is less than a minute outside the job for its start or its end.
func near(t time.Time, layout string, start, end narrator.Moment) narrator.Moment {
	m, minute := narrator.MomentOf(t), strings.HasSuffix(layout, "15:04")
	switch {
	case minute && m < start && start.Since(m) < narrator.Minute:
		return start
	case minute && m > end && m.Since(end) < narrator.Minute:
		return end
	}
	return m
}

// clockText is a moment for a terminal.
func clockText(m narrator.Moment) string { return m.Time().Local().Format("15:04:05") }
