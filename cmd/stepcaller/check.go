package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/procedures"
	"stepcaller/procedures/tongue"
	"stepcaller/speech"
)

func newCheck(app *App) *cobra.Command {
	c := &cobra.Command{Use: "check", Short: "Check a procedure file, or this machine"}
	group(c)
	c.AddCommand(&cobra.Command{
		Use:     "procedure FILE...",
		Short:   "Check procedure files: every mistake at once, with its place and a mend",
		Example: "  stepcaller check procedure my-procedure.yaml",
		Args:    asUsage(cobra.MinimumNArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			return checkProcedures(cmd.OutOrStdout(), app.Config, args)
		},
	}, newCheckMachine(app))
	return c
}

func newCheckMachine(app *App) *cobra.Command {
	var file string
	c := &cobra.Command{
		Use:   "machine",
		Short: "Check microphone, loudspeaker, voice, ears, room and data folder, each with a verdict and a mend",
		Long: `Machine tries every part that a job needs. At the microphone it asks for a moment of quiet and then for a word, three times, and
tells the noise floor, the level of the speech and how far it stands above the noise. Where there is no microphone it does so with the
bundled track. With --hear it measures that file and nothing else.`,
		Example: `  stepcaller check machine
  stepcaller check machine --hear monday.wav`,
		Args: asUsage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return checkMachine(cmd.Context(), cmd.OutOrStdout(), app.Config, file)
		},
	}
	c.Flags().StringVar(&file, "hear", "", "WAV or FLAC file to measure, and nothing else")
	return c
}

// checkProcedures prints every mistake of every file, and what can be used. Questions stop nothing.
func checkProcedures(w io.Writer, c Config, refs []string) error {
	refused := 0
	for _, ref := range refs {
		p, mistakes, err := procedures.Find(ref, c.Procedures)
		if err != nil {
			fmt.Fprintln(w, err)
		}
		for _, m := range mistakes {
			fmt.Fprintln(w, m)
		}
		if p == nil {
			refused++
			continue
		}
		verdict := "good"
		switch n := len(mistakes); {
		case n == 1:
			verdict = "can be used, with 1 question"
		case n > 1:
			verdict = fmt.Sprintf("can be used, with %d questions", n)
		}
		fmt.Fprintf(w, "%s: %s: %d steps, book %s h\n", p.Name(), verdict, len(p.Steps), p.BookHours())
	}
	if refused > 0 {
		return usage("%d of %d files cannot be used", refused, len(refs))
	}
	return nil
}

// mistakesError lists everything that is wrong with a file.
func mistakesError(mistakes []procedures.Mistake) error {
	var lines []string
	for _, m := range mistakes {
		lines = append(lines, m.String())
	}
	return usage("the procedure cannot be used:\n%s", strings.Join(lines, "\n"))
}

// verdict is the result of one check: what was found, and what to do when it will not do.
type verdict struct {
	what, found, mend string
	err               error
}

// checkMachine tries every part that a job needs, or measures a file alone; "" for none.
func checkMachine(ctx context.Context, w io.Writer, c Config, file string) error {
	var verdicts []verdict
	if file != "" {
		verdicts = []verdict{checkFile(ctx, c, file)}
	} else {
		verdicts = append([]verdict{checkData(c), checkVoice(ctx, c), checkEars(ctx, c)}, checkSound(ctx, w, c)...)
	}
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	var bad []error
	for _, v := range verdicts {
		mark := "good"
		if v.err != nil {
			mark, v.found = "BAD", v.err.Error()
			bad = append(bad, v.err)
		}
		fmt.Fprintf(t, "%s\t%s\t%s\n", v.what, mark, v.found)
		if v.err != nil && v.mend != "" {
			fmt.Fprintf(t, "\t\t%s\n", v.mend)
		}
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if len(bad) > 0 {
		return fmt.Errorf("%d of %d checks failed: %w", len(bad), len(verdicts), errors.Join(bad...))
	}
	return nil
}

// checkData writes, syncs and removes a file in the data folder.
func checkData(c Config) verdict {
	v := verdict{what: "data folder", mend: "Choose a folder on a local disk that you may write to: `data` in the configuration, or --data."}
	if v.err = os.MkdirAll(c.Data, 0o700); v.err != nil {
		return v
	}
	path := filepath.Join(c.Data, ".check")
	defer os.Remove(path)
	var took []time.Duration
	f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		v.err = err
		return v
	}
	defer f.Close()
	for range 9 {
		begun := time.Now()
		if _, err := f.Write([]byte("check\n")); err != nil {
			v.err = err
			return v
		}
		if v.err = f.Sync(); v.err != nil {
			return v
		}
		took = append(took, time.Since(begun))
	}
	var space syscall.Statfs_t
	if v.err = syscall.Statfs(c.Data, &space); v.err != nil {
		return v
	}
	free := space.Bavail * uint64(space.Bsize)
	if free < 100<<20 {
		v.err = fmt.Errorf("only %d MB free in %s", free>>20, c.Data)
		v.mend = "Free some space: spoken notes take 2 MB a minute."
		return v
	}
	v.found = fmt.Sprintf("%s, %.0f GB free, a write is durable after %s", c.Data, float64(free)/(1<<30), median(took).Round(10*time.Microsecond))
	return v
}

func checkVoice(ctx context.Context, c Config) verdict {
	v := verdict{what: "voice", mend: "Install espeak-ng, or name another program under voice.command in the configuration."}
	command, err := speech.ParseCommand(c.Voice.Command)
	if err != nil {
		v.err = err
		return v
	}
	voice := speech.CommandVoice{Command: command}.At(speech.Settings{Voice: c.Voice.Name, WordsPerMinute: c.Voice.Pace})
	begun := time.Now()
	aloud, err := c.aloud()
	if err != nil {
		v.err = err
		return v
	}
	t, err := tongue.Named(c.Language)
	if err != nil {
		v.err = err
		return v
	}
	pcm, err := voice.Speak(ctx, aloud.Speakable(t.F("Tighten the cover bolts to 10 N·m, from the middle outward.")))
	if err != nil {
		v.err = err
		return v
	}
	v.found = fmt.Sprintf("%s of speech made in %s", speech.Samples(len(pcm)).Duration().Round(10*time.Millisecond), time.Since(begun).Round(time.Millisecond))
	return v
}

// checkEars has the ears hear the voice say a word.
func checkEars(ctx context.Context, c Config) verdict {
	v := verdict{what: "ears", mend: "The recogniser is part of the program: build it again with `make`."}
	config, err := c.ears()
	if err != nil {
		v.err = err
		return v
	}
	begun := time.Now()
	ears, err := speech.NewEars(config)
	if err != nil {
		v.err = err
		return v
	}
	loaded := time.Since(begun)
	v.found = fmt.Sprintf("loaded in %s", loaded.Round(100*time.Microsecond))
	command, err := speech.ParseCommand(c.Voice.Command)
	if err != nil {
		return v
	}
	pcm, err := speech.CommandVoice{Command: command}.At(speech.DefaultSettings()).Speak(ctx, "torque")
	if err != nil {
		return v // the voice has its own verdict
	}
	track := append(append(make([]int16, speech.Rate), pcm...), make([]int16, speech.Rate)...)
	word := ""
	for at := 0; at+speech.Frame <= len(track); at += speech.Frame {
		for _, h := range ears.Hear(speech.Block{At: speech.Samples(at), PCM: track[at : at+speech.Frame]}, make([]int16, speech.Frame)) {
			word = h.Label
			v.found += fmt.Sprintf(", the voice's %q heard as %q (%.2f)", "torque", h.Label, h.Score)
		}
	}
	if word == "" {
		v.found += `, the voice's "torque" not recognised (synthetic voices differ; try your own)`
	}
	return v
}

// checkSound listens to the room, then plays a tone.
func checkSound(ctx context.Context, w io.Writer, c Config) []verdict {
	host := speech.NewHost(quietLog())
	defer host.Close()
	mic, hearing := checkRoom(ctx, w, c, host)
	out := verdict{what: "loudspeaker", mend: "Plug in a headset and choose it in the system's sound settings; `loudspeaker` in the configuration picks one by name."}
	out.found, out.err = playTone(host, c)
	return []verdict{mic, hearing, out}
}

func playTone(host *speech.Host, c Config) (string, error) {
	player := speech.NewPlayer()
	sink, err := host.OpenSpeaker(speech.DeviceConfig{Name: c.Loudspeaker}, player)
	if err != nil {
		return "", err
	}
	defer sink.Close()
	player.Tone(speech.HeardTone())
	for end := time.Now().Add(500 * time.Millisecond); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if err := sink.Advance(speech.Frame); err != nil {
			return "", err
		}
	}
	return fmt.Sprintf("a soft tone was played, latency %s", sink.Latency().Round(time.Millisecond)), nil
}

// probe opens the microphone and the loudspeaker and closes them again.
func probe(c Config) error {
	host := speech.NewHost(quietLog())
	defer host.Close()
	if _, err := host.OpenMicrophone(speech.DeviceConfig{Name: c.Microphone}); err != nil {
		return err
	}
	_, err := host.OpenSpeaker(speech.DeviceConfig{Name: c.Loudspeaker}, speech.NewPlayer())
	return err
}

// quietLog takes what the sound system says to itself.
func quietLog() *slog.Logger { return slog.New(slog.DiscardHandler) }
