package journal_test

import (
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
)

// A power cut leaves the write-ahead log as long as it was synced, and after that anything: nothing, a part, or garbage.
// Wherever that begins, every event before it is there and what is there is sound.
func TestATornLogKeepsWhatWasSynced(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, journal.Writer)
	job := storetest.Worked("2000-01-01-1", storetest.Dawn, 40)
	var synced []int // length of the write-ahead log when each event was acknowledged
	for i := range job {
		if err := s.Append(t.Context(), job[i:i+1]); err != nil {
			t.Fatal(err)
		}
		synced = append(synced, len(mustRead(t, dir, "journal.db-wal")))
	}
	base, wal := mustRead(t, dir, "journal.db"), mustRead(t, dir, "journal.db-wal")
	for range 100 {
		cut := synced[0] + rand.IntN(len(wal)-synced[0]+1)
		torn := slices.Clone(wal[:cut])
		for range rand.IntN(2) * rand.IntN(len(wal)-cut+1) {
			torn = append(torn, byte(rand.Uint32()))
		}
		after := t.TempDir()
		mustWrite(t, after, "journal.db", base)
		mustWrite(t, after, "journal.db-wal", torn)
		want, _ := slices.BinarySearch(synced, cut+1)
		for _, mode := range []journal.Mode{journal.Reader, journal.Writer} {
			s := open(t, after, mode)
			log, err := s.Log(t.Context(), "2000-01-01-1")
			if err != nil || len(log) != want || !slices.Equal(log, job[:want]) {
				t.Fatalf("cut at %d of %d: %d events are there, want %d: %v", cut, len(wal), len(log), want, err)
			}
			if found := journal.Verify(t.Context(), s); len(found) != 0 {
				t.Fatalf("cut at %d of %d: %v", cut, len(wal), found)
			}
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func mustRead(t *testing.T, dir, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
	return data
}

func mustWrite(t *testing.T, dir, name string, data []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
		t.Fatal(err)
	}
}
