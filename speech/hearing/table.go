package hearing

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
)

// widest is the number of phrases up to which the whole confusion matrix is
// printed; above, only what was confused.
const widest = 12

// mostAccepts is how many false accepts of an engine are printed one by one.
const mostAccepts = 10

// WriteTable prints a report for people.
func WriteTable(w io.Writer, r *Report) error {
	p := &printer{w: tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)}
	s := r.Settings
	p.line("%d phrases live; %d clips of them, %d clips of other words, to be ignored; %d recordings of talk, %d of noise; noise drawn with seed %d.",
		len(s.Live), s.Clips, s.Ignored, s.Talk, s.Noise, s.Seed)
	p.line("")
	if s.Clips > 0 {
		p.conditions(r)
	}
	if s.Ignored > 0 {
		p.ignored(r)
	}
	p.streams(r)
	p.line("ENGINE\tDECIDED AFTER A WORD'S END\tWORD'S TIME OFF BY\tPROCESSOR")
	for _, e := range r.Engines {
		p.line("%s\t%s\t%s\t%.1f %% of a core", e.Name, e.Latency, e.StartError, 100*e.RealTimeFactor)
	}
	p.line("\tmiddle, 95th percentile\tof the clean clips obeyed right\t")
	p.line("")
	for _, e := range r.Engines {
		p.phrases(e)
	}
	for _, f := range r.Skipped {
		p.line("left out: %s: %s", f.File, f.Why)
	}
	return p.close()
}

// printer collects lines of a table and keeps the first error.
type printer struct {
	w   *tabwriter.Writer
	err error
}

func (p *printer) line(format string, args ...any) {
	_, err := fmt.Fprintf(p.w, format+"\n", args...)
	if p.err == nil {
		p.err = err
	}
	if format == "" { // columns are those of a paragraph
		p.flush()
	}
}

func (p *printer) flush() {
	if err := p.w.Flush(); p.err == nil {
		p.err = err
	}
}

func (p *printer) close() error {
	p.flush()
	return p.err
}

func (p *printer) conditions(r *Report) {
	p.line("SNR\tENGINE\tCLIPS\tNEAREST RIGHT\tOBEYED RIGHT\tOBEYED WRONG\tMISSED\tOF THEM ASKED\tWORD ERRORS")
	for c := range r.Engines[0].Conditions {
		for _, e := range r.Engines {
			k := e.Conditions[c]
			p.line("%s\t%s\t%d\t%s\t%s\t%s\t%s\t%d\t%.1f %%", noisiness(k.SNR), e.Name, k.N, percent(k.Forced, k.Limits.Forced), percent(k.AcceptedRight, k.Limits.AcceptedRight),
				percent(k.AcceptedWrong, k.Limits.AcceptedWrong), percent(k.Missed, k.Limits.Missed), k.Counts.Asked, 100*k.Words.Rate())
		}
	}
	p.line("In brackets: 95 %% intervals (Wilson).")
	p.line("")
}

func (p *printer) ignored(r *Report) {
	p.line("WORDS TO IGNORE\tENGINE\tCLIPS\tOBEYED\tASKED")
	for c := range r.Engines[0].Ignored.By {
		for _, e := range r.Engines {
			k := e.Ignored.By[c]
			p.line("%s\t%s\t%d\t%d, %s\t%d", noisiness(k.SNR), e.Name, k.N, k.Accepted, percent(share(k.Accepted, k.N), Wilson(k.Accepted, k.N)), k.Asked)
		}
	}
	p.line("")
}

func (p *printer) streams(r *Report) {
	row := func(what string, e Result, s Stream) {
		if s.Hours == 0 {
			return
		}
		p.line("%s\t%s\t%s\t%d\t%.1f (%.1f–%.1f), one-sided below %.1f\t%d", what, e.Name, duration(s.Hours), s.FalseAccepts, *s.PerHour, s.Limits[0], s.Limits[1], *s.Upper, s.Asked)
	}
	if r.Settings.Talk+r.Settings.Noise == 0 {
		return
	}
	p.line("NO COMMAND IN\tENGINE\tHEARD\tOBEYED\tAN HOUR\tASKED")
	for _, e := range r.Engines {
		row("talk", e, e.Talk)
	}
	for _, e := range r.Engines {
		row("noise", e, e.Noise)
	}
	for _, e := range r.Engines {
		for i, a := range slices.Concat(e.Talk.Accepted, e.Noise.Accepted) {
			if i == mostAccepts {
				p.line("  and others: --json lists them all")
				break
			}
			p.line("  %s obeyed %q (%.2f) at %.1f s of %s", e.Name, a.Phrase, a.Score, a.AtS, a.File)
		}
	}
	p.line("In brackets: exact 95 %% limits (Poisson).")
	p.line("")
}

// phrases prints how every phrase was taken over all conditions, and what for.
func (p *printer) phrases(e Result) {
	if len(e.Phrases) > 0 {
		p.line("%s, ALL CONDITIONS\tCLIPS\tNEAREST\tOBEYED\tWRONG\tNEAREST WHERE NOT RIGHT", strings.ToUpper(e.Name))
		for _, ph := range e.Phrases {
			p.line("%s\t%d\t%.0f %%\t%.0f %%\t%.0f %%\t%s", ph.Phrase, ph.N, 100*share(ph.Forced, ph.N), 100*share(ph.AcceptedRight, ph.N),
				100*share(ph.AcceptedWrong, ph.N), e.takenFor(ph.Phrase, func(c Confusion) int { return c.Nearest }))
		}
		p.line("")
	}
	if n := len(e.Phrases); n > 0 && n <= widest {
		p.matrix(e)
	}
	var strangers []string
	for _, c := range e.Confusion {
		if c.Obeyed > 0 && !slices.ContainsFunc(e.Phrases, func(ph Phrase) bool { return ph.Phrase == c.Said }) && !slices.Contains(strangers, c.Said) {
			strangers = append(strangers, c.Said)
		}
	}
	if len(strangers) > 0 {
		p.line("WORD TO IGNORE\tOBEYED BY %s AS, ALL CONDITIONS", strings.ToUpper(e.Name))
		for _, said := range strangers {
			p.line("%s\t%s", said, e.takenFor(said, func(c Confusion) int { return c.Obeyed }))
		}
		p.line("")
	}
}

// matrix prints who was nearest to whom: a line for what was said, a column for
// what was heard.
func (p *printer) matrix(e Result) {
	var columns []string
	for _, c := range e.Confusion {
		if c.Nearest > 0 && !slices.Contains(columns, c.Heard) {
			columns = append(columns, c.Heard)
		}
	}
	slices.Sort(columns)
	p.line("NEAREST TO\t%s", strings.Join(columns, "\t"))
	for _, ph := range e.Phrases {
		row := []string{ph.Phrase}
		for _, heard := range columns {
			row = append(row, count(*e.confuse(ph.Phrase, heard)))
		}
		p.line("%s", strings.Join(row, "\t"))
	}
	p.line("")
}

func count(c Confusion) string {
	if c.Nearest == 0 {
		return "·"
	}
	return fmt.Sprint(c.Nearest)
}

// takenFor lists what else a word was taken for, the most frequent first.
func (r Result) takenFor(said string, times func(Confusion) int) string {
	var others []Confusion
	for _, c := range r.Confusion {
		if c.Said == said && c.Heard != said && times(c) > 0 {
			others = append(others, c)
		}
	}
	slices.SortStableFunc(others, func(a, b Confusion) int { return times(b) - times(a) })
	var parts []string
	for _, c := range others {
		parts = append(parts, fmt.Sprintf("%s %d", c.Heard, times(c)))
	}
	return strings.Join(parts, ", ")
}

// String is the spread for a table, milliseconds.
func (s Spread) String() string {
	if s.P50 == nil {
		return "none"
	}
	return fmt.Sprintf("%.0f ms, %.0f ms", *s.P50, *s.P95)
}

func noisiness(snr *float64) string {
	if snr == nil {
		return "clean"
	}
	return fmt.Sprintf("%g dB", *snr)
}

func percent(share float64, i Interval) string {
	return fmt.Sprintf("%.1f %% (%.1f–%.1f)", 100*share, 100*i[0], 100*i[1])
}

func duration(hours float64) string {
	if hours < 1 {
		return fmt.Sprintf("%.1f min", 60*hours)
	}
	return fmt.Sprintf("%.2f h", hours)
}
