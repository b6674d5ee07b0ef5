package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"stepcaller/narrator/journal/courier"
	"stepcaller/speech"
)

func newVoiceShare(app *App) *cobra.Command {
	return &cobra.Command{
		Use:     "share NAME",
		Example: "  stepcaller voice share Ines",
		Short:   "Let the shop's other bays hear a technician as this bay does",
		Long: `What was learnt of a technician's voice goes to the shop, and from there to its other bays. Only that technician may agree to it. What was said
to teach the ears stays in this bay.`,
		Args: oneArg("NAME: whose voice? Type the technician's name"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return shareVoice(cmd.OutOrStdout(), app.Config, args[0])
		},
	}
}

func shareVoice(w io.Writer, c Config, technician string) error {
	if strings.TrimSpace(technician) == "" {
		return usage("NAME: whose voice? Give the technician's name")
	}
	album, err := speech.OpenAlbum(voicesFolder(c.Data), technician)
	if err != nil {
		return err
	}
	if err := courier.Agree(c.Data, technician); err != nil {
		return err
	}
	fmt.Fprintf(w, "The voice of %s goes to the shop and its bays, when they are reached. `stepcaller voice unshare %q` takes it back.\n",
		album.Technician(), album.Technician())
	if album.State().Tuning == nil {
		fmt.Fprintln(w, "Nothing was learnt of it yet; `stepcaller voice teach` does.")
	}
	if _, err := courier.ReadJoined(c.Data); err != nil {
		fmt.Fprintln(w, "This bay has joined no shop yet; `stepcaller shop join` does.")
	}
	return nil
}

func newVoiceUnshare(app *App) *cobra.Command {
	return &cobra.Command{
		Use:     "unshare NAME",
		Example: "  stepcaller voice unshare Ines",
		Short:   "Take a technician's voice back from the shop and its other bays",
		Long: `The voice is removed from the shop when it is reached, and from each bay that has it from there when that reaches the shop. What was taught in
a bay stays in that bay. Said in any bay it counts for all.`,
		Args: oneArg("NAME: whose voice? Type the technician's name"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if strings.TrimSpace(args[0]) == "" {
				return usage("NAME: whose voice? Give the technician's name")
			}
			if err := courier.Withdraw(app.Config.Data, args[0]); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "The voice of %s is taken back from the shop and its bays, when they are reached.\n", strings.Join(strings.Fields(args[0]), " "))
			return nil
		},
	}
}
