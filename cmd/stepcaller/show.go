package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/spf13/cobra"
)

func newConfig(app *App) *cobra.Command {
	var defaults bool
	c := &cobra.Command{
		Use:   "config",
		Short: "Print every key of the configuration, what it means and what it is",
		Long: `Config prints a complete configuration file with the values in force. They come from flags, then the environment
(STEPCALLER_VOICE_PACE for voice.pace), then the file, then the defaults.`,
		Example: "  stepcaller config > ~/.config/stepcaller/config.yaml",
		RunE: func(cmd *cobra.Command, _ []string) error {
			shown := app.Config
			if defaults {
				shown = defaultConfig()
			}
			return writeConfig(cmd.OutOrStdout(), shown)
		},
	}
	c.Flags().BoolVar(&defaults, "defaults", false, "print the defaults, whatever is in force")
	return c
}

// writeConfig prints a configuration as a file that reads back as the same.
func writeConfig(w io.Writer, c Config) error {
	section := ""
	for _, key := range configKeys(c) {
		name, indent := key.path, ""
		if before, after, nested := strings.Cut(key.path, "."); nested {
			if before != section {
				fmt.Fprintf(w, "%s:\n", before)
				section = before
			}
			name, indent = after, "  "
		}
		value, err := yaml.MarshalWithOptions(key.value, yaml.Flow(true))
		if err != nil {
			return fmt.Errorf("%s: %w", key.path, err)
		}
		if _, err := fmt.Fprintf(w, "%s# %s\n%s%s: %s\n", indent, key.doc, indent, name, strings.TrimSpace(string(value))); err != nil {
			return err
		}
	}
	return nil
}
