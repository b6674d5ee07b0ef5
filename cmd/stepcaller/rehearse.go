package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/pages"
	"stepcaller/procedures"
	"stepcaller/speech"
)

// Rehearsal is the document that `rehearse --json` prints: the job's labour sheet, what was heard and what was said. Times are seconds on the track.
// Its field names are a contract: they are added to, never changed.
type Rehearsal struct {
	labour.Sheet
	Heard []HeardWord    `json:"heard"`
	Said  []SaidSentence `json:"said"`
}

// HeardWord is a word that counted.
type HeardWord struct {
	Word  string  `json:"word"`
	AtS   float64 `json:"at_s"`  // its first sample
	Score float64 `json:"score"` // 0..1
	Sure  bool    `json:"sure"`  // false: it was asked about
}

// SaidSentence is a sentence that was spoken, or begun.
type SaidSentence struct {
	Text        string  `json:"text"`    // in the words that were spoken
	Written     string  `json:"written"` // in trade text
	AtS         float64 `json:"at_s"`
	EndedS      float64 `json:"ended_s"`
	Interrupted bool    `json:"interrupted"`
}

// rehearseOptions is what a rehearsal is told.
type rehearseOptions struct {
	procedure, track, out, data string
	order, odometer, technician string
	start                       time.Time
	echo                        *float64  // dB of what is said in what is heard, relative to the track's speech; nil for none
	watch                       Watcher   // told besides the report; may be nil
	pages                       io.Writer // where it is said that the pages are served meanwhile; nil for no pages
}

func newRehearse(app *App) *cobra.Command {
	var o rehearseOptions
	var at string
	var echo float64
	var asJSON bool
	c := &cobra.Command{
		Use:   "rehearse PROCEDURE --hear TRACK",
		Short: "Run a whole job from a recorded track, as fast as the machine allows",
		Long: `Rehearse runs a procedure with a WAV or FLAC file in the place of the microphone: what the technician says on the track is heard,
obeyed and timed as in the bay, and what would have been said goes into a WAV file. Times are seconds on the track.`,
		Example: `  stepcaller rehearse valve-cover --hear monday.wav --say answers.wav --data /tmp/monday
  stepcaller rehearse ./my-procedure.yaml --hear track.flac --data /tmp/try --json`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.track == "" {
				return usage("--hear TRACK is needed: a WAV or FLAC file of what the technician says")
			}
			start, err := time.Parse(time.RFC3339, at)
			if err != nil {
				return usage("--at %s: not a time such as 2000-01-01T08:00:00Z", at)
			}
			o.procedure, o.start, o.technician = args[0], start, app.Config.Technician
			if cmd.Flags().Changed("echo") {
				o.echo = &echo
			}
			o.data = app.Config.Data
			if !cmd.Flags().Changed("data") {
				return usage("--data DIR is needed: a new or empty folder for the rehearsal's journal")
			}
			if !asJSON {
				o.watch = newTerminal(cmd.OutOrStdout(), start)
			}
			r, err := rehearse(cmd.Context(), app.Config, o)
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(cmd.OutOrStdout(), r)
			}
			return labour.WriteTable(cmd.OutOrStdout(), r.Sheet)
		},
	}
	f := c.Flags()
	f.StringVar(&o.track, "hear", "", "track to hear, WAV or FLAC")
	f.StringVar(&o.out, "say", "", "WAV file for what is said")
	f.BoolVar(&asJSON, "json", false, "print one JSON document and nothing else")
	f.StringVar(&at, "at", "2000-01-01T00:00:00Z", "when the track begins, RFC 3339")
	f.Float64Var(&echo, "echo", 0, "mix what is said back into what is heard, in dB relative to the track's speech")
	f.StringVar(&o.order, "order", "", "work-order number")
	f.StringVar(&o.odometer, "odometer", "", "odometer reading")
	return c
}

// rehearse runs one job from a track.
func rehearse(ctx context.Context, c Config, o rehearseOptions) (_ *Rehearsal, err error) {
	if err := emptyFolder(o.data); err != nil {
		return nil, err
	}
	p, err := findProcedure(c, o.procedure)
	if err != nil {
		return nil, err
	}
	settings, err := c.settings()
	if err != nil {
		return nil, err
	}
	source, err := speech.OpenTrack(o.track, 0)
	if err != nil {
		return nil, usage("--hear: %v", err)
	}
	defer source.Close()

	player := speech.NewPlayer()
	var heard speech.Source = source
	var feed speech.Feed = player
	if o.echo != nil {
		room, err := newEcho(source, player, o.track, *o.echo, c.Voice.Volume)
		if err != nil {
			return nil, err
		}
		heard, feed = room, room
	}
	sink, err := openSay(o.out, feed)
	if err != nil {
		return nil, err
	}
	defer sink.Close()

	report := &reporter{origin: narrator.MomentOf(o.start), also: o.watch}
	s, done, err := assemble(ctx, c, settings, o.data, player, report, true)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, done()) }()
	s.Source, s.Sink, s.Origin = heard, sink, report.origin
	if o.pages != nil {
		c.Data = o.data
		hub := pages.NewHub()
		defer showPages(ctx, c, hub, nil, o.pages)()
		s.Screen = newScreen(hub, s.Words)
	}

	id, err := s.Store.NextJob(ctx, o.start)
	if err != nil {
		return nil, err
	}
	if err := s.take(ctx, narrator.Start{At: s.Origin, Job: id, Procedure: p.Name(), Text: p.Text(), Order: o.order, Odometer: o.odometer,
		Technician: o.technician}); err != nil {
		return nil, err
	}
	if err := s.Run(ctx, nil); err != nil {
		return nil, err
	}
	if err := sink.Close(); err != nil {
		return nil, fmt.Errorf("--say: %w", err)
	}
	end := s.Origin.Add(narrator.Span(source.Length()))
	job := s.Bay.Jobs[id]
	r := &Rehearsal{Sheet: labour.Of(job, max(end, job.Last())), Heard: report.heard, Said: report.said()}
	return r, nil
}

// emptyFolder makes a folder that is absent and refuses one with something in it besides technicians' voices.
func emptyFolder(dir string) error {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, os.ErrNotExist):
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return usage("--data: %v", err)
		}
	case err != nil:
		return usage("--data: %v", err)
	case slices.ContainsFunc(entries, func(e os.DirEntry) bool { return filepath.Join(dir, e.Name()) != voicesFolder(dir) }):
		return usage("--data %s: the folder is not empty; name a new one", dir)
	}
	return nil
}

// openSay opens the file for what is said; without a name the sound is pulled and dropped.
func openSay(path string, feed speech.Feed) (speech.Sink, error) {
	if path == "" {
		return &nowhere{feed: feed}, nil
	}
	if dir := filepath.Dir(path); dir != "." {
		if _, err := os.Stat(dir); err != nil {
			return nil, usage("--say: %v", err)
		}
	}
	sink, err := speech.CreateWAV(path, feed)
	if err != nil {
		return nil, usage("--say: %v", err)
	}
	return sink, nil
}

// nowhere is a sink whose sound nobody keeps.
type nowhere struct {
	feed speech.Feed
	buf  [speech.Frame]int16
}

func (n *nowhere) Advance(s speech.Samples) error {
	for ; s > 0; s -= min(s, speech.Frame) {
		n.feed.Pull(n.buf[:min(s, speech.Frame)])
	}
	return nil
}
func (n *nowhere) Latency() time.Duration { return 0 }
func (n *nowhere) Close() error           { return nil }

// reporter keeps what a rehearsal heard and said.
type reporter struct {
	origin    narrator.Moment
	also      Watcher
	heard     []HeardWord
	sentences []SaidSentence
	ids       map[int64]int // sentence id to index
}

func (r *reporter) seconds(m narrator.Moment) float64 {
	return math.Round(m.Since(r.origin).Seconds()*1000) / 1000
}

func (r *reporter) Heard(h narrator.Heard) {
	r.heard = append(r.heard, HeardWord{Word: h.Word, AtS: r.seconds(h.From), Score: math.Round(h.Score*1e4) / 1e4, Sure: h.Sure})
	if r.also != nil {
		r.also.Heard(h)
	}
}

func (r *reporter) Done(at narrator.Moment, o narrator.Outcome) {
	if r.also != nil {
		r.also.Done(at, o)
	}
}

func (r *reporter) Says(at narrator.Moment, s narrator.Sentence, spoken string) {
	if r.ids == nil {
		r.ids = map[int64]int{}
	}
	r.ids[s.ID] = len(r.sentences)
	r.sentences = append(r.sentences, SaidSentence{Text: spoken, Written: s.Text, AtS: -1})
	if r.also != nil {
		r.also.Says(at, s, spoken)
	}
}

func (r *reporter) Said(id int64, begun, ended narrator.Moment, cut bool) {
	if i, ok := r.ids[id]; ok && (ended > begun || !cut) {
		s := &r.sentences[i]
		s.AtS, s.EndedS, s.Interrupted = r.seconds(begun), r.seconds(ended), cut
	}
	if r.also != nil {
		r.also.Said(id, begun, ended, cut)
	}
}

func (r *reporter) News(text string) {
	if r.also != nil {
		r.also.News(text)
		return
	}
	fmt.Fprintln(os.Stderr, text)
}

func (r *reporter) Trouble(err error) {
	if r.also != nil {
		r.also.Trouble(err)
		return
	}
	fmt.Fprintln(os.Stderr, "stepcaller:", err)
}

// said lists the sentences that were begun, in the order in which they were said.
func (r *reporter) said() []SaidSentence {
	said := []SaidSentence{}
	for _, s := range r.sentences {
		if s.AtS >= 0 {
			said = append(said, s)
		}
	}
	return said
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// findProcedure finds a procedure by bundled id, by id in the shop's folder, or by path.
func findProcedure(c Config, ref string) (*procedures.Procedure, error) {
	p, mistakes, err := procedures.Find(ref, c.Procedures)
	if err != nil {
		return nil, usage("%v", err)
	}
	if p == nil {
		return nil, mistakesError(mistakes)
	}
	return p, nil
}
