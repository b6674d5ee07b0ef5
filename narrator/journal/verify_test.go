package journal_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
)

// Every damage must be found, with the words that say where.
func TestVerifyFindsDamage(t *testing.T) {
	const unlock = `DROP TRIGGER event_is_not_changed; DROP TRIGGER event_is_not_deleted; `
	sql := func(statement string) func(*testing.T, string) { // as if a mistaken program had recorded it
		return func(t *testing.T, dir string) { mustExec(t, dir, unlock+statement+"; UPDATE event SET sum = NULL") }
	}
	disk := func(statement string) func(*testing.T, string) {
		return func(t *testing.T, dir string) { mustExec(t, dir, unlock+statement) }
	}
	cases := []struct {
		name   string
		damage func(t *testing.T, dir string)
		want   string // part of a finding
	}{
		{"an event is missing", sql(`DELETE FROM event WHERE job = '2000-01-01-1' AND seq = 3`), "job 2000-01-01-1, event 3: it is missing, 4 follows"},
		{"the first event is missing", sql(`DELETE FROM event WHERE job = '2000-01-01-1' AND seq = 1`), "job 2000-01-01-1: the last event is number 404, but there are only 403"},
		{"a bay event is missing", sql(`DELETE FROM event WHERE job = '' AND seq = 1`), "bay, event 1: it is missing"},
		{"an event was moved to another job", sql(`UPDATE event SET job = '2000-01-01-8' WHERE job = '2000-01-01-1' AND seq = 5`), "job 2000-01-01-8: the last event is number 5, but there are only 1"},
		{"a job does not open", sql(`UPDATE event SET kind = 'word' WHERE kind = 'opened'`), "job 2000-01-01-1: it cannot be rebuilt"},
		{"the procedure no longer loads", sql(`UPDATE event SET detail = json_set(detail, '$.text', 'say: nothing') WHERE kind = 'opened'`), "job 2000-01-01-1: it cannot be rebuilt"},
		{"the details are nonsense", sql(`UPDATE event SET detail = '[]' WHERE seq = 3 AND job <> ''`), "event 3 of job \"2000-01-01-1\""},
		{"time runs backwards", sql(`UPDATE event SET noted = at - 1 WHERE seq = 4`), "job 2000-01-01-1, event 4: it was noted before it happened"},
		{"an unknown act is taken back", sql(`UPDATE event SET kind = 'undone', detail = '{"ref":4711}' WHERE seq = 3 AND job <> ''`), "event 3: it takes back act 4711"},
		{"the bay turns to an unknown job", sql(`UPDATE event SET detail = '{"work":"x"}' WHERE job = ''`), "bay, event 1: it turns to job x"},
		{"a level is none", sql(`UPDATE event SET kind = 'hearing', detail = '{"floor_dbfs":3}' WHERE seq = 3 AND job <> ''`), "event 3: it tells of a noise of 3 and speech of 0 dBFS"},
		{"the bay was measured", sql(`UPDATE event SET kind = 'hearing', detail = '{"floor_dbfs":-60}' WHERE seq = 2 AND job = ''`), "bay, event 2: it tells of a noise of -60"},
		{"a letter changed", disk(`UPDATE event SET detail = '{"word":"repeal"}' WHERE seq = 5 AND job <> ''`), "job 2000-01-01-1, event 5: the journal is damaged"},
		{"a sum is missing", disk(`UPDATE event SET sum = NULL WHERE seq = 5 AND job <> ''`), "job 2000-01-01-1, event 5: it has no sum"},
		{"the last event is missing", disk(`DELETE FROM event WHERE id = (SELECT max(id) FROM event)`), "events were acknowledged and are gone, 1 of them, behind event 1 of job \"\""},
		{"the mark is nonsense", func(t *testing.T, dir string) {
			if err := os.WriteFile(filepath.Join(dir, "journal.last"), []byte("12"), 0o600); err != nil {
				t.Fatal(err)
			}
		}, "journal.last: the journal is damaged"},
		{"a memo cannot be read", func(t *testing.T, dir string) {
			memo := filepath.Join(dir, "memos", "2000-01-01-1-1.wav")
			if err := errors.Join(os.Remove(memo), os.Mkdir(memo, 0o700)); err != nil {
				t.Fatal(err)
			}
		}, "job 2000-01-01-1: a memo cannot be read"},
		{"a memo is missing", func(t *testing.T, dir string) {
			if err := os.Remove(filepath.Join(dir, "memos", "2000-01-01-1-1.wav")); err != nil {
				t.Fatal(err)
			}
		}, "a memo is missing"},
		{"a memo is named twice", sql(`UPDATE event SET kind = 'recorded', detail = '{"file":"memos/2000-01-01-1-1.wav"}' WHERE job <> '' AND seq IN (3, 4)`), "is named by two events"},
		{"a memo has no event", func(t *testing.T, dir string) {
			if err := os.WriteFile(filepath.Join(dir, "memos", "2000-01-01-1-2.wav"), nil, 0o600); err != nil {
				t.Fatal(err)
			}
		}, "job 2000-01-01-1: no event names the memo memos/2000-01-01-1-2.wav"},
		{"the database file is broken", overwrite, "the journal is damaged"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			soundJournal(t, dir)
			s := open(t, dir, journal.Reader)
			if found := journal.Verify(t.Context(), s); len(found) != 0 {
				t.Fatalf("before the damage: %v", found)
			}
			s.Close()
			c.damage(t, dir)
			found := journal.Verify(t.Context(), open(t, dir, journal.Reader))
			if !strings.Contains(fmt.Sprint(found), c.want) {
				t.Errorf("findings %v\nwant %s", found, c.want)
			}
		})
	}
}

// soundJournal writes a journal of a job with a memo, big enough to have inner pages.
func soundJournal(t *testing.T, dir string) {
	t.Helper()
	s := open(t, dir, journal.Writer)
	part, err := s.Memos().Begin("2000-01-01-1")
	if err != nil {
		t.Fatal(err)
	}
	file, err := s.Memos().Keep(part)
	if err != nil {
		t.Fatal(err)
	}
	job := storetest.NewJob("2000-01-01-1", storetest.Dawn)
	for range 400 {
		job.Then(1, narrator.Word, narrator.Detail{Word: "repeat"})
	}
	job.Then(1, narrator.Hearing, narrator.Detail{Verdict: narrator.HearsPoorly, Cause: narrator.CauseNoise, Floor: -33, Speech: -30, SNR: 3})
	job.Then(1, narrator.Recorded, narrator.Detail{File: file, From: storetest.Dawn})
	bay := storetest.NewBay(storetest.Dawn).Then(1, narrator.Switched, narrator.Detail{Work: "2000-01-01-1"})
	bay.Then(1, narrator.Listening, narrator.Detail{})
	if err := s.Append(t.Context(), append(job.Events, bay.Events...)); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// overwrite puts zeros over the middle of the database, where events lie.
func overwrite(t *testing.T, dir string) {
	t.Helper()
	f, err := os.OpenFile(filepath.Join(dir, "journal.db"), os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteAt(make([]byte, 3*4096), info.Size()/2/4096*4096); err != nil {
		t.Fatal(err)
	}
}
