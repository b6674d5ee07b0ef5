package main

import (
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"text/template"

	"github.com/spf13/cobra"
)

//go:embed unit/stepcaller.service
var unitText string

func newUnit(app *App) *cobra.Command {
	var install bool
	c := &cobra.Command{
		Use:   "unit",
		Short: "Print the systemd unit that runs the bay's daemon, or install it for this user",
		Long: `Unit prints a systemd unit for a user's own service manager, with this program's path and the configured folders. With --install it writes it to
~/.config/systemd/user/stepcaller.service, makes the folders it may write to, and says which commands start it; it runs none. A unit there that reads otherwise is kept
as stepcaller.service.old.`,
		Example: "  stepcaller unit\n  stepcaller unit --install",
		RunE: func(cmd *cobra.Command, _ []string) error {
			text, err := unitOf(app.Config, app.ConfigFile)
			if err != nil {
				return err
			}
			if !install {
				_, err := fmt.Fprint(cmd.OutOrStdout(), text)
				return err
			}
			path, err := installUnit(app.Config, text)
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), `%s is written. These commands start it, now and whenever you log in, and show how it fares:
  systemctl --user daemon-reload
  systemctl --user enable --now stepcaller
  systemctl --user status stepcaller
  journalctl --user --unit stepcaller
To have it run while nobody is logged in:
  loginctl enable-linger
`, path)
			return nil
		},
	}
	c.Flags().BoolVar(&install, "install", false, "write it where this user's systemd looks")
	return c
}

// unitOf is the unit for this program and a configuration; file is the configuration file if one was named.
func unitOf(c Config, file string) (string, error) {
	program, err := os.Executable()
	if err != nil {
		return "", err
	}
	var args []string
	if file != "" {
		if file, err = filepath.Abs(file); err != nil {
			return "", err
		}
		args = append(args, "--config", file)
	}
	data, err := filepath.Abs(c.Data)
	if err != nil {
		return "", err
	}
	if c.Data != defaultConfig().Data {
		args = append(args, "--data", data)
	}
	procedures, err := filepath.Abs(c.Procedures)
	if err != nil {
		return "", err
	}
	for i := range args {
		args[i] = strings.ReplaceAll(unitQuote(args[i]), "$", "$$") // else a variable
	}
	t, err := template.New("unit").Parse(unitText)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	err = t.Execute(&b, struct {
		Program           string
		Arguments, Writes []string
	}{unitQuote(program), args, []string{unitQuote("-" + data), unitQuote("-" + procedures)}})
	return b.String(), err
}

// unitQuote writes a word as systemd.syntax(7) and systemd.service(5) want it.
func unitQuote(word string) string {
	word = strings.ReplaceAll(word, "%", "%%")
	if !strings.ContainsAny(word, " \t'\"\\;") {
		return word
	}
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(word) + `"`
}

// installUnit writes the unit and the folders that it may write to.
func installUnit(c Config, text string) (path string, err error) {
	path = filepath.Join(xdg("XDG_CONFIG_HOME", ".config"), "systemd", "user", "stepcaller.service")
	for _, dir := range []string{filepath.Dir(path), c.Data, c.Procedures} {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return "", err
		}
	}
	switch old, err := os.ReadFile(path); {
	case err == nil && string(old) == text:
		return path, nil
	case err == nil:
		if err := os.Rename(path, path+".old"); err != nil {
			return "", err
		}
	case !errors.Is(err, fs.ErrNotExist):
		return "", err
	}
	part := path + ".part"
	if err := os.WriteFile(part, []byte(text), 0o644); err != nil {
		return "", err
	}
	return path, os.Rename(part, path)
}
