package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/procedures"
	"stepcaller/speech"
	"stepcaller/speech/hearing"
)

// hearingOptions is what a hearing test is told.
type hearingOptions struct {
	clips, noise, talk string
	snrs               []float64
	words              string
	keepLevel          bool
	seed               uint64
	progress           io.Writer
}

func newHearingTest(app *App) *cobra.Command {
	o := hearingOptions{}
	var snr, picture, transcripts string
	var asJSON bool
	c := &cobra.Command{
		Use:   "hearing-test CLIPS",
		Short: "Measure how well the ears hear a folder of recorded words, clean and in noise",
		Long: `Hearing-test plays recordings to the ears, and to every other recogniser built in, and prints what they made of them. Where the
technician (--technician) taught the ears a voice, they are tested as trained and as taught, side by side.

CLIPS has a sub-folder for every word, with WAV or FLAC recordings of it: "next/1.wav", "hold_the_job/ines.flac". A folder whose
name is no phrase that can be obeyed in the test holds words that should be ignored. --noise is a folder of noise to mix in and to be
heard alone, --talk one of long recordings that hold no command.

A clip is set in 1.5 s of noise before it and 0.8 s after it, at -80 dBFS when clean. Speech is brought to -25 dBFS active level, which
counts the 10 ms frames within 15.9 dB of it (the margin of ITU-T P.56); the signal to noise ratio is that level to the mean level
of the noise over the whole scene. A clip meets the same stretch of noise at every ratio, and again in the next test. Talk, and noise heard
alone, is brought to -25 dBFS too. --keep-level leaves recordings as loud as they are.

Nearest right (JSON: forced): the live phrase most like the clip is the right one, whatever its score. Obeyed right: heard as what was said
at or above the act threshold, and as nothing else. Obeyed wrong: anything else was obeyed. Missed: the rest, what was asked about among it.
In JSON n, counts and false_accepts are counts, ignored.accepted is one too, and the other figures of a condition are shares of n from 0 to 1.

Files that cannot be used are named and left out, and the exit code is then 1.`,
		Example: `  stepcaller hearing-test recordings
  stepcaller hearing-test recordings --noise shop-noise --talk radio --snr 20,10,5,0 --picture confusion.png
  stepcaller hearing-test digits --words numbers --json`,
		Args: oneArg("CLIPS: which recordings? Type the folder that has a sub-folder for every word"),
		RunE: func(cmd *cobra.Command, args []string) (err error) {
			o.clips, o.progress = args[0], cmd.ErrOrStderr()
			if o.snrs, err = ratios(snr, o.noise != "", cmd.Flags().Changed("snr")); err != nil {
				return err
			}
			if picture != "" {
				if err := hearing.Pictured(picture); err != nil {
					return usage("--picture %v", err)
				}
			}
			r, err := testHearing(cmd.Context(), app.Config, o)
			if err != nil {
				return err
			}
			return errors.Join(writeHearing(cmd.OutOrStdout(), r, asJSON, picture, transcripts), leftOut(r))
		},
	}
	f := c.Flags()
	f.StringVar(&o.noise, "noise", "", "folder of noise to mix in, WAV and FLAC")
	f.StringVar(&o.talk, "talk", "", "folder of recordings that hold no command")
	f.StringVar(&snr, "snr", "20,10,5,0", "signal to noise ratios in dB, besides clean")
	f.StringVar(&o.words, "words", "commands", "what can be obeyed: commands (with yes and no), reasons, numbers, all, or phrases, separated by commas")
	f.BoolVar(&o.keepLevel, "keep-level", false, "leave recordings as loud as they are")
	f.Uint64Var(&o.seed, "seed", 1, "of the noise that is drawn")
	f.BoolVar(&asJSON, "json", false, "print one JSON document and nothing else")
	f.StringVar(&picture, "picture", "", "file for a picture of the confusion matrix, .svg or .png")
	f.StringVar(&transcripts, "transcripts", "", "folder for what was said and what was obeyed, as .trn files that NIST sclite scores")
	return c
}

// ratios reads a list such as "20,10,5,0". Without noise there are none.
func ratios(list string, noise, given bool) (snrs []float64, err error) {
	if !noise {
		if given {
			return nil, usage("--snr needs --noise DIR: a folder of noise to mix in")
		}
		return nil, nil
	}
	for part := range strings.SplitSeq(list, ",") {
		part = strings.TrimSpace(part)
		if part == "" || strings.EqualFold(part, "clean") { // always measured
			continue
		}
		db, err := strconv.ParseFloat(strings.TrimSuffix(part, "dB"), 64)
		if err != nil || math.IsNaN(db) || db < -20 || db > 60 {
			return nil, usage("--snr %s: %q is no ratio in dB from -20 to 60; write for example 20,10,5,0", list, part)
		}
		if !slices.Contains(snrs, db) {
			snrs = append(snrs, db)
		}
	}
	return snrs, nil
}

// testHearing runs the test.
func testHearing(ctx context.Context, c Config, o hearingOptions) (*hearing.Report, error) {
	debug.SetMemoryLimit(1 << 30) // noise is kept at hand
	engines, words, err := earsToTest(ctx, c, o.progress)
	if err != nil {
		return nil, err
	}
	live, err := livePhrases(words, o.words)
	if err != nil {
		return nil, err
	}
	test := hearing.Test{Engines: append(engines, hearing.Peers()...), Live: live, SNRs: o.snrs, KeepLevel: o.keepLevel, Seed: o.seed, Progress: progressOn(o.progress)}
	var skipped []hearing.Skipped
	if test.Clips, skipped, err = hearing.FindClips(o.clips, live); err != nil {
		return nil, fileHint("CLIPS", err)
	}
	for _, from := range []struct {
		flag, dir string
		into      *[]string
	}{{"--noise", o.noise, &test.Noise}, {"--talk", o.talk, &test.Talk}} {
		if from.dir == "" {
			continue
		}
		paths, more, err := hearing.FindRecordings(from.dir)
		if err != nil {
			return nil, fileHint(from.flag, err)
		}
		*from.into, skipped = paths, append(skipped, more...)
	}
	r, err := test.Run(ctx)
	if err != nil {
		return nil, fmt.Errorf("hearing test: %w", err)
	}
	r.Skipped = append(skipped, r.Skipped...)
	return r, nil
}

// earsToTest are the ears as they were trained and, beside them, as the bay's technician taught them, with the vocabulary that includes the
// technician's own words.
func earsToTest(ctx context.Context, c Config, complain io.Writer) (engines []hearing.Engine, words procedures.Words, err error) {
	config, err := c.ears()
	if err != nil {
		return nil, words, err
	}
	if words, err = c.words(); err != nil {
		return nil, words, err
	}
	plain := hearing.Ears{New: func() (*speech.Ears, error) { return speech.NewEars(config) }}
	if c.Technician == "" {
		return []hearing.Engine{plain}, words, nil
	}
	ears, err := plain.New()
	if err != nil {
		return nil, words, err
	}
	if words, err = attuned(ctx, ears, words, c, c.Data, newTerminal(complain, time.Time{})); err != nil {
		return nil, words, err
	}
	album, err := speech.OpenAlbum(voicesFolder(c.Data), c.Technician)
	if err != nil {
		return nil, words, err
	}
	tuning := album.State().Tuning
	if tuning == nil {
		fmt.Fprintf(complain, "hearing test: nothing was learnt of %s, so the ears are tested as trained alone\n", album.Technician())
		return []hearing.Engine{plain}, words, nil
	}
	plain.Lax = true
	taught := hearing.Ears{Taught: album.Technician(), New: func() (*speech.Ears, error) {
		ears, err := speech.NewEars(config)
		if err != nil {
			return nil, err
		}
		return ears, ears.Tune(tuning)
	}}
	return []hearing.Engine{plain, taught}, words, nil
}

// livePhrases are the phrases meant by a list of groups and phrases.
func livePhrases(words procedures.Words, list string) ([]string, error) {
	groups := map[string][]procedures.Group{
		"commands": {procedures.Always, procedures.Answers},
		"reasons":  {procedures.Reasons},
		"numbers":  {procedures.Numbers},
		"all":      {procedures.Always, procedures.Answers, procedures.Reasons, procedures.Numbers},
	}
	var live []string
	seen := map[string]bool{}
	for part := range strings.SplitSeq(list, ",") {
		part = strings.ToLower(strings.TrimSpace(part))
		var phrases []string
		for _, g := range groups[part] {
			phrases = append(phrases, words.Live(procedures.InGroup(g)...)...)
		}
		if groups[part] == nil {
			if _, ok := words.Command(part); !ok {
				return nil, usage("--words: %q is no phrase that is obeyed; `stepcaller words` lists them. Groups: commands, reasons, numbers, all", part)
			}
			phrases = []string{part}
		}
		for _, p := range phrases {
			if !seen[p] {
				seen[p] = true
				live = append(live, p)
			}
		}
	}
	return live, nil
}

// progressOn tells every few seconds how far a test is; short tests say nothing.
func progressOn(w io.Writer) func(done, all int) {
	begun := time.Now()
	told := begun
	return func(done, all int) {
		if now := time.Now(); now.Sub(told) >= 5*time.Second && done < all {
			told = now
			left := time.Duration(float64(now.Sub(begun)) / float64(done) * float64(all-done))
			fmt.Fprintf(w, "hearing test: %d of %d recordings, about %s left\n", done, all, left.Round(time.Second))
		}
	}
}

func writeHearing(w io.Writer, r *hearing.Report, asJSON bool, picture, transcripts string) error {
	var errs []error
	if picture != "" {
		errs = append(errs, hearing.WritePicture(picture, r))
	}
	if transcripts != "" {
		errs = append(errs, hearing.WriteTranscripts(transcripts, r))
	}
	if asJSON {
		errs = append(errs, writeJSON(w, r))
	} else {
		errs = append(errs, hearing.WriteTable(w, r))
	}
	return errors.Join(errs...)
}

// leftOut is an error where files were.
func leftOut(r *hearing.Report) error {
	if len(r.Skipped) == 0 {
		return nil
	}
	return fmt.Errorf("%d files were left out; the first, %s: %s", len(r.Skipped), r.Skipped[0].File, r.Skipped[0].Why)
}
