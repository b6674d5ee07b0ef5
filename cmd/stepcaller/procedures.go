package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"stepcaller/procedures"
)

func newProcedures(app *App) *cobra.Command {
	c := &cobra.Command{
		Use:   "procedures",
		Short: "List the procedures: the shop's own and the bundled ones; begin new ones from a text",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usage("no command %q; `%s --help` lists them", args[0], cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error {
			return listProcedures(cmd.OutOrStdout(), cmd.ErrOrStderr(), app.Config)
		},
	}
	c.AddCommand(newImport(), newReassembly(app), newFormat())
	return c
}

func listProcedures(w, warnings io.Writer, c Config) error {
	list, mistakes, err := procedures.List(c.Procedures)
	if err != nil {
		return err
	}
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "ID\tBOOK\tSTEPS\tTITLE\tMACHINE")
	for _, p := range list {
		fmt.Fprintf(t, "%s\t%s h\t%d\t%s\t%s\n", p.ID, p.BookHours(), len(p.Steps), p.Title, p.Machine)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	for _, m := range mistakes {
		fmt.Fprintln(warnings, m)
	}
	return nil
}

func newImport() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "import FILE",
		Short: "Turn a numbered list in plain text or Markdown into a draft procedure",
		Long: `Import reads a list of steps in plain text or Markdown and writes a procedure file, marked as a draft. It finds torques, threads and
counts, tools, waits, readings with their limits, cautions, and what comes off and goes back. Every value stands in the text: none is made
up, and what cannot be read for certain stays in the words, with a comment above the step that says so. FILE may be - for the standard input.`,
		Example: "  stepcaller procedures import water-pump.md -o water-pump.yaml",
		Args:    oneArg("which text?"),
		RunE: func(cmd *cobra.Command, args []string) error {
			text, err := readText(cmd.InOrStdin(), args[0])
			if err != nil {
				return err
			}
			name := args[0]
			if name == "-" {
				name = "standard input"
			}
			draft, err := procedures.Import(name, text)
			if err != nil {
				return usage("%v", err)
			}
			return writeDraft(cmd, draft, out)
		},
	}
	c.Flags().StringVarP(&out, "output", "o", "", "file to write, which may not be there yet (default: the standard output)")
	return c
}

func newFormat() *cobra.Command {
	var schema bool
	c := &cobra.Command{
		Use:   "format",
		Short: "Print the procedure file format, field by field, or its JSON Schema",
		Long: `Format prints the page that describes the procedure file, in Markdown, with two examples. With --schema it prints the JSON Schema by
which an editor completes and checks a file.`,
		Example: `  stepcaller procedures format | less
  stepcaller procedures format --schema > procedure.schema.json`,
		Args: asUsage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			page := procedures.FormatPage()
			if schema {
				page = procedures.Schema()
			}
			_, err := cmd.OutOrStdout().Write(page)
			return err
		},
	}
	c.Flags().BoolVar(&schema, "schema", false, "print the JSON Schema")
	return c
}

// readText reads a file of words, or the standard input where its name is "-".
func readText(stdin io.Reader, name string) ([]byte, error) {
	if name == "-" {
		return io.ReadAll(io.LimitReader(stdin, procedures.MaxImport+1))
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, fileHint("text", err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, procedures.MaxImport+1))
	if err != nil {
		return nil, fileHint("text", err)
	}
	return text, nil
}

// writeDraft writes a draft to a new file, or prints it, and says what is left to do.
func writeDraft(cmd *cobra.Command, draft procedures.Draft, out string) error {
	if out == "" {
		if _, err := cmd.OutOrStdout().Write(draft.YAML()); err != nil {
			return err
		}
	} else if err := writeNew(out, draft.YAML()); err != nil {
		return err
	}
	where := out
	if where == "" {
		where = "the draft"
	}
	fmt.Fprintf(cmd.ErrOrStderr(), "%d steps, %d doubts: go through the comments of %s, add what it lacks, try `stepcaller check procedure`,\n"+
		"and take `draft: true` out when a technician has reviewed it against the maker's service data.\n", len(draft.Steps), draft.Doubts(), where)
	return nil
}

// writeNew writes a file that must not be there yet.
func writeNew(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if errors.Is(err, fs.ErrExist) {
		return usage("%s is there already; give another name, or delete it first", path)
	}
	if err != nil {
		return usage("%v", err)
	}
	if _, err := f.Write(data); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}
