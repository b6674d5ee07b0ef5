package journal_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
)

// damage changes bytes, a sector or the length of a file.
func damage(r *rapid.T, good []byte) []byte {
	bad := bytes.Clone(good)
	at := rapid.IntRange(0, len(bad)-1)
	switch rapid.SampledFrom([]string{"byte", "bytes", "sector", "cut"}).Draw(r, "damage") {
	case "byte":
		bad[at.Draw(r, "at")] ^= byte(rapid.IntRange(1, 255).Draw(r, "bits"))
	case "bytes":
		for range rapid.IntRange(2, 40).Draw(r, "number") {
			bad[at.Draw(r, "at")] ^= byte(rapid.IntRange(1, 255).Draw(r, "bits"))
		}
	case "sector":
		from := at.Draw(r, "at") / 512 * 512
		fill := byte(rapid.SampledFrom([]int{0, 0xff}).Draw(r, "fill"))
		for i := from; i < min(len(bad), from+512*rapid.IntRange(1, 16).Draw(r, "sectors")); i++ {
			bad[i] = fill
		}
	case "cut":
		bad = bad[:at.Draw(r, "length")]
	}
	return bad
}

// worked makes a folder with finished jobs, long details and an open job, part of it still in the write-ahead log, and returns its files as a
// power cut would leave them.
func worked(t *testing.T) (files map[string][]byte, logs map[string][]narrator.Event) {
	t.Helper()
	dir := t.TempDir()
	s := open(t, dir, journal.Writer)
	logs = map[string][]narrator.Event{}
	add := func(events []narrator.Event) {
		if err := s.Append(t.Context(), events); err != nil {
			t.Fatal(err)
		}
		logs[events[0].Job] = append(logs[events[0].Job], events...)
	}
	for n := range 6 {
		add(storetest.Worked(storetest.ID(n), storetest.Dawn.Add(narrator.Span(n)*narrator.Hour), 40))
	}
	last := storetest.NewJob(storetest.ID(6), storetest.Dawn.Add(7*narrator.Hour))
	last.Then(1, narrator.Remarked, narrator.Detail{Value: string(bytes.Repeat([]byte("reached from below, "), 2000)), Technician: "Ines"})
	s.Close()
	s = open(t, dir, journal.Writer) // what comes now stays in the log
	add(last.Events)
	add(storetest.NewBay(storetest.Dawn).Then(1, narrator.Switched, narrator.Detail{Work: storetest.ID(6)}).Events)
	files = map[string][]byte{}
	for _, name := range []string{"journal.db", "journal.db-wal", "journal.db-shm", "journal.last"} {
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		files[name] = data
	}
	if len(files["journal.db-wal"]) < 3*4096 {
		t.Fatal("nothing is in the log")
	}
	return files, logs
}

// Wherever a journal is damaged: it is never called whole when a log differs, no event is read that was not recorded, and what is saved of it is a
// whole journal of true events.
func TestDamageIsFoundWhereverItIs(t *testing.T) {
	files, logs := worked(t)
	all := 0
	for _, log := range logs {
		all += len(log)
	}
	dir := filepath.Join(t.TempDir(), "damaged")
	names := []string{"journal.db", "journal.db", "journal.db-wal", "journal.db-shm", "journal.last"}
	runs, found, unopened, saved, least := 0, 0, 0, 0, all
	rapid.Check(t, func(r *rapid.T) {
		runs++
		if err := errors.Join(os.RemoveAll(dir), os.Mkdir(dir, 0o700)); err != nil {
			r.Fatal(err)
		}
		for name, good := range files {
			if err := os.WriteFile(filepath.Join(dir, name), good, 0o600); err != nil {
				r.Fatal(err)
			}
		}
		for range rapid.IntRange(1, 2).Draw(r, "files") {
			name := rapid.SampledFrom(names).Draw(r, "file")
			if err := os.WriteFile(filepath.Join(dir, name), damage(r, files[name]), 0o600); err != nil {
				r.Fatal(err)
			}
		}
		salvage, err := journal.Rescue(dir)
		if err != nil {
			r.Fatalf("Rescue: %v", err)
		}
		for _, e := range slices.Concat(salvage.Events, salvage.Behind) {
			if log := logs[e.Job]; e.Seq > int64(len(log)) || log[e.Seq-1] != e {
				r.Fatalf("%+v was never recorded", e)
			}
		}
		least, saved = min(least, len(salvage.Events)), saved+len(salvage.Events)
		if runs%5 == 0 { // it takes longest
			saveAndVerify(t, r, salvage, dir)
		}
		report, err := journal.Examine(t.Context(), dir, nil)
		if errors.Is(err, journal.ErrNewer) { // it is left alone
			unopened++
			return
		}
		if err != nil {
			r.Fatalf("Examine: %v", err)
		}
		if !report.Whole() {
			found++
		}
		s, err := journal.Open(dir, journal.Reader)
		if err != nil {
			unopened++
			if report.Whole() {
				r.Fatalf("called whole, and cannot be opened: %v", err)
			}
			return
		}
		defer s.Close()
		for job, want := range logs {
			got, err := s.Log(t.Context(), job)
			for _, e := range got {
				if e.Seq < 1 || e.Seq > int64(len(want)) || e != want[e.Seq-1] {
					r.Fatalf("job %q reads %+v", job, e)
				}
			}
			if err == nil && slices.Equal(got, want) {
				continue
			}
			if report.Whole() || slices.Contains(report.Safe, job) {
				r.Fatalf("called whole, but job %q has %d of %d events, %v", job, len(got), len(want), err)
			}
		}
	})
	t.Logf("%d damaged: %d could not be opened, %d had findings; of %d events %d were saved at least, %.1f on average", runs, unopened, found, all, least,
		float64(saved)/float64(runs))
	if found+unopened == 0 {
		t.Error("no damage was found")
	}
}

func saveAndVerify(t *testing.T, r *rapid.T, salvage journal.Salvage, dir string) {
	to := filepath.Join(dir, "saved")
	if err := salvage.Save(t.Context(), dir, to); err != nil {
		r.Fatalf("Save: %v", err)
	}
	s, err := journal.Open(to, journal.Reader)
	if err != nil {
		r.Fatal(err)
	}
	defer s.Close()
	if found := journal.Verify(t.Context(), s); len(found) > 0 {
		r.Fatalf("what was saved: %v", found)
	}
}

// A journal that lost its end keeps saying so, and gives no mark out twice.
func TestALostEndStaysFound(t *testing.T) {
	files, _ := worked(t)
	dir := t.TempDir()
	for _, name := range []string{"journal.db", "journal.last"} { // without the log
		if err := os.WriteFile(filepath.Join(dir, name), files[name], 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s := open(t, dir, journal.Writer)
	if err := s.Append(t.Context(), storetest.Worked("2000-01-03-1", storetest.Dawn, 3)); err != nil {
		t.Fatal(err)
	}
	marked, err := s.Since(t.Context(), 240, 10)
	if err != nil || len(marked) != 3 || marked[0].Mark != 245 {
		t.Errorf("%+v, %v", marked, err)
	}
	if found := journal.Verify(t.Context(), s); len(found) != 1 || found[0].Gone != 4 {
		t.Errorf("Verify = %v", found)
	}
}

// The bay's own log does not turn to a job that is lost, and all else of the folder comes along.
func TestWhatIsSavedSpeaksOfNoLostJob(t *testing.T) {
	files, _ := worked(t)
	dir, to := t.TempDir(), filepath.Join(t.TempDir(), "saved")
	opened := regexp.MustCompile("(?s)" + storetest.ID(6) + ".{12,16}opened") // the open job's first event, as it is stored
	furnish(t, dir)
	for name, data := range files {
		for _, at := range opened.FindAllIndex(data, -1) {
			data[at[0]] ^= 1
		}
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	salvage, err := journal.Rescue(dir)
	if err != nil || slices.Contains(salvage.Jobs, storetest.ID(6)) || len(salvage.Behind) == 0 {
		t.Fatalf("%v, behind %v, %v", salvage.Jobs, salvage.Behind, err)
	}
	if err := salvage.Save(t.Context(), dir, to); err != nil {
		t.Fatal(err)
	}
	s := open(t, to, journal.Reader)
	if found := journal.Verify(t.Context(), s); len(found) > 0 {
		t.Error(found)
	}
	for _, name := range []string{"voices/Ines.voice", "memos/2000-01-01-1-9.wav.part", "behind-a-hole.jsonl"} {
		if _, err := os.Stat(filepath.Join(to, name)); err != nil {
			t.Error(err)
		}
	}
	if !journal.Invented(to) {
		t.Error("what was made up is no longer said to be")
	}
	if err := salvage.Save(t.Context(), dir, to); err == nil {
		t.Error("saved over something")
	}
}

// The longest file of a procedure, over many pages, with the first page gone.
func TestWhatGoesOnOverPagesIsSaved(t *testing.T) {
	files, logs := worked(t)
	dir := t.TempDir()
	copy(files["journal.db"], make([]byte, 4096))
	for name, data := range files {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	salvage, err := journal.Rescue(dir)
	if err != nil || len(salvage.Jobs) != 7 || len(salvage.Lost)+len(salvage.Behind) != 0 {
		t.Fatalf("%v, lost %v, %v", salvage.Jobs, salvage.Lost, err)
	}
	var got []narrator.Event
	for _, e := range salvage.Events {
		if e.Job == storetest.ID(6) {
			got = append(got, e)
		}
	}
	if !slices.Equal(got, logs[storetest.ID(6)]) {
		t.Error("the long event is another")
	}
}
