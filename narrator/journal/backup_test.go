package journal_test

import (
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
)

var noon = time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC)

// furnish adds what else stands in a data folder.
func furnish(t *testing.T, dir string) {
	t.Helper()
	for name, text := range map[string]string{"voices/Ines.voice": "taught", "figures.db": "a cache", "memos/2000-01-01-1-9.wav.part": "half", "invented.txt": "made up"} {
		path := filepath.Join(dir, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o700), os.WriteFile(path, []byte(text), 0o600)); err != nil {
			t.Fatal(err)
		}
	}
}

// logsOf reads every log of a folder.
func logsOf(t testing.TB, dir string) map[string][]narrator.Event {
	t.Helper()
	s, err := journal.Open(dir, journal.Reader)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	logs := map[string][]narrator.Event{}
	jobs, err := s.Jobs(t.Context(), journal.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range append([]string{""}, ids(jobs)...) {
		if logs[id], err = s.Log(t.Context(), id); err != nil {
			t.Fatal(err)
		}
	}
	return logs
}

func ids(jobs []journal.Entry) (ids []string) {
	for _, j := range jobs {
		ids = append(ids, j.ID)
	}
	return ids
}

func sameLogs(a, b map[string][]narrator.Event) bool {
	for job := range a {
		if !slices.Equal(a[job], b[job]) {
			return false
		}
	}
	return len(a) == len(b)
}

func TestABackupBringsEverythingBack(t *testing.T) {
	dir, file := filepath.Join(t.TempDir(), "data"), filepath.Join(t.TempDir(), "bay.tar")
	soundJournal(t, dir)
	furnish(t, dir)
	made, err := journal.MakeBackup(t.Context(), dir, file, noon)
	if err != nil || made.Jobs != 1 || made.Events != 406 || !made.Made.Equal(noon) {
		t.Fatalf("%+v, %v", made, err)
	}
	if _, err := journal.MakeBackup(t.Context(), dir, file, noon); !errors.Is(err, journal.ErrTaken) {
		t.Errorf("over the first: %v", err)
	}
	if _, err := journal.MakeBackup(t.Context(), dir, filepath.Join(dir, "bay.tar"), noon); err == nil {
		t.Error("a backup was made in the data folder itself")
	}
	to := filepath.Join(t.TempDir(), "deep", "again")
	read, kept, err := journal.Restore(t.Context(), file, to, false, noon)
	if err != nil || kept != "" || read != made {
		t.Fatalf("%+v, %q, %v", read, kept, err)
	}
	if !sameLogs(logsOf(t, dir), logsOf(t, to)) {
		t.Error("the logs differ")
	}
	for name, there := range map[string]bool{"voices/Ines.voice": true, "memos/2000-01-01-1-1.wav": true, "invented.txt": true, "figures.db": false,
		"memos/2000-01-01-1-9.wav.part": false, "lock": false} {
		if _, err := os.Stat(filepath.Join(to, name)); (err == nil) != there {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, _, err := journal.Restore(t.Context(), file, to, false, noon); !errors.Is(err, journal.ErrTaken) {
		t.Errorf("over a journal: %v", err)
	}
	writer := open(t, to, journal.Writer)
	if _, _, err := journal.Restore(t.Context(), file, to, true, noon); !errors.Is(err, journal.ErrInUse) {
		t.Errorf("under a running program: %v", err)
	}
	if err := writer.Append(t.Context(), storetest.Worked("2000-01-01-2", storetest.Dawn, 3)); err != nil {
		t.Fatal(err)
	}
	writer.Close()
	_, kept, err = journal.Restore(t.Context(), file, to, true, noon)
	if err != nil || !sameLogs(logsOf(t, dir), logsOf(t, to)) || len(logsOf(t, kept)) != 3 {
		t.Errorf("aside: %q, %v", kept, err)
	}
	if found := journal.Verify(t.Context(), open(t, to, journal.Writer)); len(found) != 0 {
		t.Errorf("Verify = %v", found)
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(to), ".*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// Other programs read the archive and prove its sums: tar and sha256sum of the distribution.
func TestABackupIsATarWithSums(t *testing.T) {
	dir, to := t.TempDir(), t.TempDir()
	soundJournal(t, dir)
	file := filepath.Join(t.TempDir(), "bay.tar")
	if _, err := journal.MakeBackup(t.Context(), dir, file, noon); err != nil {
		t.Fatal(err)
	}
	for _, command := range [][]string{{"tar", "-xf", file}, {"sha256sum", "--check", "--strict", "SHA256SUMS"}} {
		c := exec.Command(command[0], command[1:]...)
		c.Dir = to
		if out, err := c.CombinedOutput(); err != nil {
			t.Errorf("%v: %v\n%s", command, err, out)
		}
	}
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
}

// Whatever a backup is made of while somebody works, it is one moment: each log is a beginning of the whole one, and nothing acknowledged before
// it began is missing.
func TestABackupWhileSomebodyWorks(t *testing.T) {
	dir, to := t.TempDir(), t.TempDir()
	s := open(t, dir, journal.Writer)
	script := storetest.NewJob("2000-01-01-1", storetest.Dawn)
	if err := s.Append(t.Context(), script.Events); err != nil {
		t.Fatal(err)
	}
	var mu sync.Mutex
	acknowledged, stop := len(script.Events), make(chan struct{})
	var wait sync.WaitGroup
	wait.Go(func() {
		for {
			select {
			case <-stop:
				return
			default:
			}
			n := len(script.Events)
			script.Then(1, narrator.Word, narrator.Detail{Word: "repeat"}).Then(1, narrator.Word, narrator.Detail{Word: "torque"})
			if err := s.Append(t.Context(), script.Events[n:]); err != nil {
				t.Error(err)
				return
			}
			mu.Lock()
			acknowledged = n + 2
			mu.Unlock()
		}
	})
	for i := range 8 {
		mu.Lock()
		before := acknowledged
		mu.Unlock()
		file := filepath.Join(to, string(rune('a'+i))+".tar")
		b, err := journal.MakeBackup(t.Context(), dir, file, noon)
		if err != nil || b.Events < int64(before) || b.Events%2 != 0 {
			t.Errorf("%d events after %d, %v", b.Events, before, err)
		}
		report, err := journal.Examine(t.Context(), dir, nil)
		if err != nil || !report.Whole() || !report.Running || report.Events < b.Events {
			t.Errorf("%+v, %v", report, err)
		}
	}
	close(stop)
	wait.Wait()
}

// A backup that was changed anywhere is refused, or brings back the same.
func TestADamagedBackupBringsNothingBack(t *testing.T) {
	dir, work := t.TempDir(), t.TempDir()
	soundJournal(t, dir)
	want := logsOf(t, dir)
	file := filepath.Join(work, "bay.tar")
	if _, err := journal.MakeBackup(t.Context(), dir, file, noon); err != nil {
		t.Fatal(err)
	}
	good, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	refused, runs := 0, 0
	rapid.Check(t, func(r *rapid.T) {
		runs++
		bad := damage(r, good)
		if err := os.WriteFile(file, bad, 0o600); err != nil {
			r.Fatal(err)
		}
		to := filepath.Join(work, "again")
		defer os.RemoveAll(to)
		_, _, err := journal.Restore(t.Context(), file, to, false, noon)
		if err == nil {
			if !sameLogs(want, logsOf(t, to)) {
				r.Fatal("a damaged backup brought back other events")
			}
			return
		}
		refused++
		if !errors.Is(err, journal.ErrBackup) {
			r.Errorf("%v", err)
		}
		if _, err := os.Stat(to); !errors.Is(err, fs.ErrNotExist) {
			r.Error("something was left behind")
		}
	})
	t.Logf("%d of %d refused; the others were damaged where nothing stands", refused, runs)
	if refused == 0 {
		t.Error("no damage was found")
	}
}

func TestADamagedJournalIsNotBackedUp(t *testing.T) {
	dir := t.TempDir()
	soundJournal(t, dir)
	mustExec(t, dir, `DROP TRIGGER event_is_not_changed; UPDATE event SET at = at + 1 WHERE seq = 5`)
	file := filepath.Join(t.TempDir(), "bay.tar")
	_, err := journal.MakeBackup(t.Context(), dir, file, noon)
	if !errors.Is(err, journal.ErrDamaged) || !strings.Contains(err.Error(), "stepcaller verify") {
		t.Errorf("%v", err)
	}
	if left, _ := os.ReadDir(filepath.Dir(file)); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}
