package journal

import (
	"fmt"
	"testing"
)

// SetBusyTimeout shortens, for a test, how many milliseconds a store waits for another program's lock.
func SetBusyTimeout(t *testing.T, s *SQLite, milliseconds int) {
	t.Helper()
	s.db.SetMaxOpenConns(1)
	if _, err := s.db.Exec(fmt.Sprintf(`PRAGMA busy_timeout = %d`, milliseconds)); err != nil {
		t.Fatal(err)
	}
}
