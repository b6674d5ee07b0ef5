// Command stepcaller reads a repair procedure aloud one step at a time, obeys spoken words, and times every step.
package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"stepcaller/narrator/journal"
	"stepcaller/speech"
)

// Exit codes, as documented by `stepcaller --help`.
const (
	exitDone    = 0
	exitFailed  = 1 // something went wrong while working
	exitUsage   = 2 // the command line, the configuration or a file given is wrong
	exitNoSound = 3 // no microphone or no loudspeaker
	exitData    = 4 // the data folder is in use, damaged or too new
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:])
	stop()
	os.Exit(code)
}

// memoryLimit has garbage collected early: sentences made ahead and tracks leave much of it, and a workbench computer is small.
const memoryLimit = 80 << 20

// run carries out one command line and returns its exit code.
func run(ctx context.Context, args []string) int {
	debug.SetMemoryLimit(memoryLimit)
	root := newRoot()
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitDone
	}
	if !errors.Is(err, errUnsent) {
		fmt.Fprintln(root.ErrOrStderr(), "stepcaller:", err)
	}
	return exitCode(err)
}

func exitCode(err error) int {
	var u *usageError
	switch {
	case errors.As(err, &u):
		return exitUsage
	case errors.Is(err, speech.ErrNoDevice):
		return exitNoSound
	case errors.Is(err, journal.ErrInUse), errors.Is(err, journal.ErrDamaged), errors.Is(err, journal.ErrNewer), errors.Is(err, journal.ErrBackup),
		errors.Is(err, speech.ErrVoiceInUse), errors.Is(err, speech.ErrVoiceDamaged):
		return exitData
	}
	return exitFailed
}

// usageError is a mistake of whoever gave the command.
type usageError struct{ text string }

func (e *usageError) Error() string { return e.text }

func usage(format string, args ...any) error { return &usageError{fmt.Sprintf(format, args...)} }

// App is what every command works with.
type App struct {
	Config     Config
	ConfigFile string // as named by a flag; "" for the usual place
}

func newRoot() *cobra.Command {
	app := &App{}
	root := &cobra.Command{
		Use:   "stepcaller",
		Short: "Reads a repair procedure aloud step by step, obeys spoken words, times every step",
		Long: `Stepcaller reads a repair procedure aloud one step at a time, obeys spoken words, and times every step, so that the labour a job really
takes can be compared with its book hours. It runs on this machine alone.

Exit codes: 0 done; 1 something went wrong while working; 2 the command line, the configuration or a file given is wrong;
3 no microphone or no loudspeaker; 4 the data folder is in use, damaged or written by a newer version.`,
		SilenceUsage:  true,
		SilenceErrors: true,
		PersistentPreRunE: func(cmd *cobra.Command, _ []string) (err error) {
			if cmd.Name() == "completion" || cmd.Parent() != nil && cmd.Parent().Name() == "completion" {
				return nil
			}
			app.Config, err = readConfig(app.ConfigFile, cmd.Flags())
			return err
		},
	}
	group(root)
	f := root.PersistentFlags()
	f.StringVar(&app.ConfigFile, "config", "", "configuration file (default "+configFile()+")")
	for _, key := range configKeys(defaultConfig()) {
		if text, ok := key.value.(string); ok && key.flag != "" {
			f.String(key.flag, text, key.doc)
		}
	}
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usage("%v", err) })
	root.AddCommand(newStart(app), newDictate(app), newDraft(app), newEnter(app), newCorrect(app), newRemark(app), newResume(app), newListen(app), newDemo(app), newDemoShop(app), newJobs(app), newHandover(app), newTakeover(app), newSent(app), newShop(app), newLabour(app), newReview(app), newExport(app), newVerify(app), newBackup(app), newRestore(app), newUnit(app), newCheck(app), newProcedures(app),
		newRehearse(app), newPages(app), newHearingTest(app), newWords(app), newVoice(app), newConfig(app), newLanguage(), newVersion())
	for _, c := range root.Commands() {
		if !c.HasSubCommands() {
			c.Args = asUsage(c.Args)
		}
	}
	return root
}

// group makes a command that only has others below it print its help, and refuse what is none of them.
func group(c *cobra.Command) {
	c.Args = func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 {
			return usage("no command %q; `%s --help` lists them", args[0], cmd.CommandPath())
		}
		return nil
	}
	c.RunE = func(cmd *cobra.Command, _ []string) error { return cmd.Help() }
}

// asUsage makes a wrong number of arguments a usage error.
func asUsage(check cobra.PositionalArgs) cobra.PositionalArgs {
	if check == nil {
		check = cobra.NoArgs
	}
	return func(cmd *cobra.Command, args []string) error {
		if err := check(cmd, args); err != nil {
			return usage("%v\nUsage: %s", err, cmd.UseLine())
		}
		return nil
	}
}

// oneArg wants one argument; missing says which, and what to type.
func oneArg(missing string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return usage("%s, for example:\n%s", missing, strings.SplitN(cmd.Example, "\n", 2)[0])
		}
		return asUsage(cobra.ExactArgs(1))(cmd, args)
	}
}

// fileHint is a usage error about a file or folder given as what, with what to do where there is none.
func fileHint(what string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return usage("%s: %v; check the spelling, or give the whole path", what, err)
	}
	return usage("%s: %v", what, err)
}

// version is set by the linker.
var version = "unreleased"

func newVersion() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the version",
		Run:   func(cmd *cobra.Command, _ []string) { fmt.Fprintln(cmd.OutOrStdout(), "stepcaller", version) },
	}
}
