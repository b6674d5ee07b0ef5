package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepcaller/procedures"
)

// proceduresCommand runs the command and returns what it printed, and what it said beside.
func proceduresCommand(t testing.TB, stdin string, args ...string) (out, said string, err error) {
	t.Helper()
	root := newRoot()
	var stdout, stderr bytes.Buffer
	root.SetIn(strings.NewReader(stdin))
	root.SetOut(&stdout)
	root.SetErr(&stderr)
	root.SetArgs(append([]string{"procedures", "--config", emptyConfig(t)}, args...))
	err = root.ExecuteContext(t.Context())
	return stdout.String(), stderr.String(), err
}

func TestProceduresAreListed(t *testing.T) {
	atHome(t)
	out, _, err := proceduresCommand(t, "")
	if err != nil || !strings.Contains(out, "valve-cover") || !strings.HasPrefix(out, "ID ") {
		t.Errorf("%v: %s", err, out)
	}
}

const jobInWords = `# Belt guard

1. Remove the 4 guard screws and take the guard off.
2. Refit the guard and tighten the 4 guard screws to 6 N·m.
3. Tighten the nut to the specified torque.
`

func TestATextIsImported(t *testing.T) {
	atHome(t)
	dir := t.TempDir()
	text, out := filepath.Join(dir, "guard.md"), filepath.Join(dir, "guard.yaml")
	if err := os.WriteFile(text, []byte(jobInWords), 0o600); err != nil {
		t.Fatal(err)
	}
	printed, said, err := proceduresCommand(t, "", "import", text, "-o", out)
	if err != nil || printed != "" || !strings.Contains(said, "3 steps, 2 doubts: go through the comments of "+out) {
		t.Errorf("%v: %q, %q", err, printed, said)
	}
	written, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	p, mistakes := procedures.Load(out, written)
	if p == nil || !p.Draft || len(p.Steps) != 3 || p.Steps[1].Torque[0].Count != 4 {
		t.Errorf("%+v, %v", p, mistakes)
	}
	if _, _, err := proceduresCommand(t, "", "import", text, "-o", out); exitCode(err) != exitUsage || !strings.Contains(err.Error(), "there already") {
		t.Errorf("a second time: %v", err)
	}
	if again, _ := os.ReadFile(out); !bytes.Equal(again, written) {
		t.Error("the second time has changed the file")
	}
	if printed, _, err = proceduresCommand(t, jobInWords, "import", "-"); err != nil || printed != string(written) {
		t.Errorf("from the standard input: %v, %q", err, printed)
	}
}

func TestTheFormatIsPrinted(t *testing.T) {
	atHome(t)
	page, _, err := proceduresCommand(t, "", "format")
	if written, readErr := os.ReadFile("../../procedures/FORMAT.md"); err != nil || readErr != nil || page != string(written) {
		t.Errorf("%v, %v: %.200s", err, readErr, page)
	}
	schema, _, err := proceduresCommand(t, "", "format", "--schema")
	if written, readErr := os.ReadFile("../../procedures/procedure.schema.json"); err != nil || readErr != nil || schema != string(written) {
		t.Errorf("%v, %v: %.200s", err, readErr, schema)
	}
}

func TestAProceduresCommandSaysWhatIsWrong(t *testing.T) {
	atHome(t)
	words := filepath.Join(t.TempDir(), "words.txt")
	if err := os.WriteFile(words, []byte("no list here"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"sing"}, `no command "sing"`},
		{[]string{"import"}, "stepcaller procedures import water-pump.md"},
		{[]string{"import", "absent.md"}, "check the spelling"},
		{[]string{"import", words}, "holds no list of steps"},
		{[]string{"format", "all"}, "unknown command"},
		{[]string{"import", words, "-o"}, "flag needs an argument"},
	} {
		if _, _, err := proceduresCommand(t, "", c.args...); exitCode(err) != exitUsage || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want %q", c.args, err, c.want)
		}
	}
}
