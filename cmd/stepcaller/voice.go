package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/procedures"
	"stepcaller/procedures/tongue"
	"stepcaller/speech"
)

func newVoice(app *App) *cobra.Command {
	c := &cobra.Command{
		Use:   "voice",
		Short: "Teach the ears a technician's voice, or a word of the shop's own",
		Long: `A technician whose words are missed says each of them three times; the ears learn how that technician says them. What was learnt is used
wherever --technician, or the configuration's technician, names this person. It is used only where it hears takes that were held back no worse
than before, and says so.`,
	}
	group(c)
	c.AddCommand(newVoiceTeach(app), newVoiceForget(app), newVoiceList(app), newVoiceShare(app), newVoiceUnshare(app))
	return c
}

// teachOptions is what a sitting is told.
type teachOptions struct {
	technician string
	words      []string // phrases to ask for; nil for all commands
	own, means string   // an own word, and the command that it is to give; "" for none
	track, out string   // instead of devices
}

func newVoiceTeach(app *App) *cobra.Command {
	var o teachOptions
	c := &cobra.Command{
		Use:   "teach NAME",
		Short: "Ask a technician for each word three times, by voice, and learn from it",
		Long: `Teach asks for one word after the other and hears what is said. No hands are needed: "stop" ends it, and what was said by then is learnt
from. Every take is kept as it comes; a sitting that was cut off goes on where it stopped.

With --word it asks five times for a word of your own, in any language, that is to give a command.`,
		Example: `  stepcaller voice teach Ines
  stepcaller voice teach Ines --words next,torque,"hold the job"
  stepcaller voice teach Ines --word vorwärts --command next
  stepcaller voice teach Ines --hear takes.wav --say asked.wav`,
		Args: oneArg("NAME: whose voice? Type the technician's name"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.technician = args[0]
			return teachVoice(cmd.Context(), app.Config, o, cmd.OutOrStdout())
		},
	}
	f := c.Flags()
	f.StringSliceVar(&o.words, "words", nil, "ask for these phrases only, separated by commas")
	f.StringVar(&o.own, "word", "", "teach a word of your own")
	f.StringVar(&o.means, "command", "", "what the own word is to do, by a command's phrase")
	f.StringVar(&o.track, "hear", "", "WAV or FLAC file with the answers in place of the microphone; it stands still while the voice asks")
	f.StringVar(&o.out, "say", "", "WAV file for what is asked, with --hear")
	return c
}

func newVoiceForget(app *App) *cobra.Command {
	var takes bool
	c := &cobra.Command{
		Use:     "forget NAME",
		Example: "  stepcaller voice forget Ines",
		Short:   "Undo the last lesson: what counted before it counts again",
		Long: `Forget takes back what was learnt last. The takes stay on the disk, set aside, unless --takes says to delete them. Said again it takes back
the lesson before, up to the ears as they were trained.`,
		Args: oneArg("NAME: whose voice? Type the technician's name"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return forgetVoice(cmd.OutOrStdout(), app.Config, args[0], takes)
		},
	}
	c.Flags().BoolVar(&takes, "takes", false, "delete the takes that are set aside, too")
	return c
}

func forgetVoice(w io.Writer, c Config, technician string, takes bool) error {
	album, lock, err := lockVoice(c, technician)
	if err != nil {
		return err
	}
	defer lock.Close()
	sittings, err := album.Sittings()
	if err != nil {
		return err
	}
	forgot, err := album.Forget(takes)
	if err != nil {
		return err
	}
	text := "Nothing was learnt of %s; words are heard as trained. `stepcaller voice list` tells who was taught.\n"
	switch {
	case forgot && album.State().Tuning != nil:
		text = "The last lesson of %s is taken back; the one before it counts again.\n"
	case forgot:
		text = "The lesson of %s is taken back; words are heard as trained.\n"
	case len(sittings) > 0:
		text = "Nothing was learnt of %s yet; the takes that were there are set aside.\n"
	}
	fmt.Fprintf(w, text, album.Technician())
	return nil
}

// lockVoice opens a technician's album to write in it, until the lock is closed.
func lockVoice(c Config, technician string) (*speech.Album, io.Closer, error) {
	if strings.TrimSpace(technician) == "" {
		return nil, nil, usage("NAME: whose voice? Give the technician's name")
	}
	album, err := speech.OpenAlbum(voicesFolder(c.Data), technician)
	if err != nil {
		return nil, nil, err
	}
	lock, err := album.Lock()
	return album, lock, err
}

func newVoiceList(app *App) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the voices that were taught, and what that is worth",
		Args:  asUsage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return writeVoices(cmd.OutOrStdout(), voicesFolder(app.Config.Data))
		},
	}
}

func writeVoices(w io.Writer, dir string) error {
	names, err := speech.Albums(dir)
	if err != nil {
		return err
	}
	if len(names) == 0 {
		fmt.Fprintln(w, "No voice was taught yet; `stepcaller voice teach NAME` does.")
		return nil
	}
	var unread []error
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	for _, name := range names {
		album, err := speech.OpenAlbum(dir, name)
		if err != nil {
			unread = append(unread, err)
			fmt.Fprintf(t, "%s\t\tCannot be read; heard as trained.\n", name)
			continue
		}
		sittings, err := album.Sittings()
		if err != nil {
			return err
		}
		takes, _, err := album.Takes(sittings)
		unread = append(unread, err)
		state := album.State()
		result := state.Result
		if state.Tuning == nil && result == "" {
			result = "Heard as trained."
		}
		fmt.Fprintf(t, "%s\t%d takes\t%s\n", album.Technician(), len(takes), result)
		if state.Tuning != nil {
			for _, own := range state.Tuning.Words() {
				fmt.Fprintf(t, "\t%q\tgives %q\n", own, state.Words[own])
			}
		}
	}
	return errors.Join(t.Flush(), errors.Join(unread...))
}

// prompts says what is asked for, how often, and what own words mean.
func (o teachOptions) prompts(words procedures.Words) (phrases []string, times int, means map[string]string, err error) {
	own := strings.ToLower(strings.Join(strings.Fields(o.own), " "))
	switch {
	case o.own == "" && o.means != "":
		return nil, 0, nil, usage("--command %q: for which word? Give it with --word", o.means)
	case o.own != "" && o.means == "":
		return nil, 0, nil, usage("--word %q: what is it to do? Give a command with --command", o.own)
	case o.own != "" && len(o.words) > 0:
		return nil, 0, nil, usage("--word and --words: teach them one after the other")
	case o.own != "":
		if _, err := words.With(own, procedures.Command(o.means)); err != nil {
			return nil, 0, nil, usage("--word: %v", err)
		}
		return []string{own}, takesOfOwn, map[string]string{own: o.means}, nil
	case len(o.words) == 0:
		return teachable(words), takesOfTrained, nil, nil
	}
	for _, w := range o.words {
		phrase := strings.ToLower(strings.Join(strings.Fields(w), " "))
		if !slices.Contains(procedures.TrainedPhrases(), phrase) {
			return nil, 0, nil, usage("--words: the ears do not know %q; `stepcaller words` lists what they know, --word teaches another", w)
		}
		if !slices.Contains(phrases, phrase) {
			phrases = append(phrases, phrase)
		}
	}
	return phrases, takesOfTrained, nil, nil
}

// teachVoice leads a sitting and learns from it.
func teachVoice(ctx context.Context, c Config, o teachOptions, out io.Writer) error {
	words, err := c.words()
	if err != nil {
		return err
	}
	phrases, times, means, err := o.prompts(words)
	if err != nil {
		return err
	}
	config, err := c.ears()
	if err != nil {
		return err
	}
	album, lock, err := lockVoice(c, o.technician)
	if err != nil {
		return err
	}
	defer lock.Close()
	tutor, err := speech.NewTutor(config)
	if err != nil {
		return err
	}
	s, done, err := o.open(c, config, out)
	if err != nil {
		return soundHint(err)
	}
	defer done()
	kept, err := album.Sit(means)
	if err != nil {
		return err
	}
	have, err := kept.Takes()
	if err != nil {
		fmt.Fprintf(out, "trouble: %v\n", err)
	}
	s.Prompts, s.Means, s.Keep = promptsFor(phrases, times, have, uint64(kept.Number)), means, kept.Keep
	if o.track != "" {
		fmt.Fprintf(out, "Asks in this order: %s.\n", strings.Join(s.Prompts, ", "))
	}
	prepared := make(chan error, 1)
	go func() { prepared <- tutor.Prepare() }()
	taken, err := s.Run(ctx)
	switch {
	case errors.Is(err, context.Canceled):
		fmt.Fprintf(out, "Ended. Takes kept: %d; the same command goes on from there.\n", len(have)+taken)
		return nil
	case err != nil:
		return fmt.Errorf("%w; takes kept: %d, the same command goes on from there", err, len(have)+taken)
	}
	if len(have)+taken == 0 {
		return s.Finish(ctx, s.Tongue.F("Nothing was said, so nothing changes."))
	}
	if err := s.Finish(ctx, s.Tongue.F("Thank you. One moment.")); err != nil {
		return err
	}
	if err := <-prepared; err != nil {
		return err
	}
	result, err := learn(ctx, tutor, album, kept.Number)
	switch {
	case errors.Is(err, speech.ErrTooFewTakes):
		result = s.Tongue.F("Nothing changes: there is not enough to learn from yet. The takes are kept.")
	case err != nil:
		result = s.Tongue.F("Nothing changes: the learning failed. The takes are kept.")
	}
	return errors.Join(err, s.Finish(ctx, result))
}

// open makes a sitting at the devices or at a track, with nothing to ask yet. The returned function ends what it started.
func (o teachOptions) open(c Config, config speech.EarsConfig, out io.Writer) (*Sitting, func(), error) {
	command, err := speech.ParseCommand(c.Voice.Command)
	if err != nil {
		return nil, nil, usage("configuration: voice.command: %v", err)
	}
	if err := command.Find(); err != nil {
		return nil, nil, err // a sitting without a voice asks for nothing
	}
	ears, err := speech.NewEars(config)
	if err != nil {
		return nil, nil, fmt.Errorf("ears: %w", err)
	}
	aloud, err := c.aloud()
	if err != nil {
		return nil, nil, err
	}
	t, err := tongue.Named(c.Language)
	if err != nil {
		return nil, nil, inKey("language", err)
	}
	var start time.Time
	if o.track != "" {
		start = time.Unix(0, 0).UTC()
	}
	watch, player := newTerminal(out, start), speech.NewPlayer()
	voice := speech.NewAhead(speech.CommandVoice{Command: command}.At, speech.Settings{Voice: c.Voice.Name, WordsPerMinute: c.Voice.Pace})
	s := &Sitting{Ears: ears, Player: player, Speaker: NewSpeaker(voice, player, watch, o.track != ""), Origin: narrator.MomentOf(start), Tongue: t}
	s.Speaker.Aloud = aloud
	s.Speaker.Settle(c.Voice.Volume, c.Voice.Pace)
	closers := []io.Closer{voice}
	done := func() {
		for _, c := range slices.Backward(closers) {
			if err := c.Close(); err != nil {
				watch.Trouble(err)
			}
		}
	}
	if err := s.attach(c, o, &closers); err != nil {
		done()
		return nil, nil, err
	}
	if o.track == "" {
		s.Origin = narrator.MomentOf(time.Now())
	}
	return s, done, nil
}

// attach gives the sitting its sound.
func (s *Sitting) attach(c Config, o teachOptions, closers *[]io.Closer) error {
	if o.track == "" {
		if o.out != "" {
			return usage("--say: only with --hear")
		}
		host := speech.NewHost(quietLog())
		*closers = append(*closers, host)
		mic, err := host.OpenMicrophone(speech.DeviceConfig{Name: c.Microphone})
		if err != nil {
			return err
		}
		*closers = append(*closers, mic)
		sink, err := host.OpenSpeaker(speech.DeviceConfig{Name: c.Loudspeaker}, s.Player)
		if err != nil {
			return err
		}
		*closers = append(*closers, sink)
		s.Source, s.Sink = mic, sink
		return nil
	}
	if _, err := os.Stat(o.track); err != nil {
		return fileHint("--hear", err)
	}
	track, err := speech.OpenTrack(o.track, 0)
	if err != nil {
		return usage("--hear: %v", err)
	}
	*closers = append(*closers, track)
	sink, err := openSay(o.out, s.Player)
	if err != nil {
		return err
	}
	*closers = append(*closers, sink)
	s.Source = &standing{Source: track, busy: func() bool { return !s.Speaker.Idle() || s.Player.Speaking() }}
	s.Sink = sink
	return nil
}
