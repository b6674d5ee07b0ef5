package journal_test

import (
	"os"
	"testing"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
)

// childVariable names, in the environment, what the test binary is to do instead of testing.
const childVariable = "JOURNAL_TEST_CHILD"

// children are the programs that tests run as processes of their own, with a folder.
var children = map[string]func(dir string) error{
	"append": appendForEver,
	"memos":  keepMemosForEver,
	"disk":   fillTheDisk,
}

func TestMain(m *testing.M) {
	if child, ok := children[os.Getenv(childVariable)]; ok {
		if err := child(os.Args[1]); err != nil {
			os.Stderr.WriteString(err.Error() + "\n")
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func TestMemoryKeepsTheContract(t *testing.T) {
	storetest.Run(t, func(t *testing.T) journal.Store { return &journal.Memory{} })
}

func TestSQLiteKeepsTheContract(t *testing.T) {
	storetest.Run(t, func(t *testing.T) journal.Store { return open(t, t.TempDir(), journal.Writer) })
}

// open opens a journal that is closed when the test ends.
func open(t testing.TB, dir string, mode journal.Mode) *journal.SQLite {
	t.Helper()
	s, err := journal.Open(dir, mode)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}
