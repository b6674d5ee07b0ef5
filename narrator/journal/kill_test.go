package journal_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
)

// kills is how often each of the two writers below is killed.
const kills = 50

// A process that is killed at any moment loses no event that it had acknowledged, doubles none, and leaves no outcome half
// recorded.
func TestKilledWriterLosesNothing(t *testing.T) {
	dir := t.TempDir()
	acked := map[string]int64{} // the last Seq acknowledged, by job
	acks, unacked := 0, 0
	for range kills {
		for _, ack := range killed(t, "append", dir) {
			var job string
			var seq int64
			if _, err := fmt.Sscanf(ack, "%q %d", &job, &seq); err != nil {
				t.Fatalf("ack %q: %v", ack, err)
			}
			if seq <= acked[job] {
				t.Fatalf("event %d of job %q was acknowledged twice", seq, job)
			}
			acked[job] = seq
			acks++
		}
		s := open(t, dir, journal.Writer)
		held := map[string]int64{}
		for _, job := range []string{killedJob, ""} {
			log, err := s.Log(t.Context(), job)
			if err != nil && !errors.Is(err, journal.ErrNoJob) { // killed before the job was opened
				t.Fatal(err)
			}
			held[job] = int64(len(log))
			if held[job] < acked[job] {
				t.Errorf("job %q: %d events acknowledged, %d are there", job, acked[job], held[job])
			}
			unacked += int(held[job] - acked[job])
			acked[job] = held[job]
		}
		// Job and bay advance together in one append, so but for the job's opening they can only be equally long.
		if max(0, held[killedJob]-1) != held[""] {
			t.Errorf("an append was half recorded: %v", held)
		}
		if found := journal.Verify(t.Context(), s); len(found) != 0 {
			t.Fatalf("Verify = %v", found)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d kills: all %d acknowledged events are there, and %d more that the kill kept from being acknowledged", kills, acks, unacked)
	if acks < kills {
		t.Errorf("only %d events were acknowledged: the writer was hardly ever at work when it was killed", acks)
	}
}

const killedJob = "2000-01-01-1"

// appendForEver continues a job and the bay in step, and prints what it has acknowledged after each append.
func appendForEver(dir string) error {
	s, err := journal.Open(dir, journal.Writer)
	if err != nil {
		return err
	}
	ctx := context.Background()
	job, err := s.Log(ctx, killedJob)
	if errors.Is(err, journal.ErrNoJob) {
		job = storetest.NewJob(killedJob, storetest.Dawn).Events[:1]
		if err = s.Append(ctx, job); err == nil {
			fmt.Printf("%q 1\n", killedJob)
		}
	}
	if err != nil {
		return err
	}
	for seq := int64(len(job)) + 1; ; seq++ {
		at := storetest.Dawn.Add(narrator.Span(seq) * narrator.Second)
		batch := []narrator.Event{
			{Job: killedJob, Seq: seq, Act: seq, At: at, Noted: at, Kind: narrator.Word, Detail: narrator.Detail{Word: "repeat"}},
			{Seq: seq - 1, Act: seq, At: at, Noted: at, Kind: narrator.Voiced, Detail: narrator.Detail{Volume: 70, Pace: 165}},
		}
		if err := s.Append(ctx, batch); err != nil {
			return err
		}
		fmt.Printf("%q %d\n%q %d\n", killedJob, seq, "", seq-1)
		if err := s.Beat(ctx, at); err != nil {
			return err
		}
	}
}

// A process that is killed at any moment leaves no event whose memo is missing or cut, and no memo that cannot be found.
func TestKilledWriterLosesNoMemo(t *testing.T) {
	dir := t.TempDir()
	acks, parts, strays := 0, 0, 0
	for range kills {
		acks += len(killed(t, "memos", dir))
		s := open(t, dir, journal.Writer)
		p, n := recoverMemos(t, s)
		parts, strays = parts+p, strays+n
		log, err := s.Log(t.Context(), killedJob)
		if err != nil && !errors.Is(err, journal.ErrNoJob) {
			t.Fatal(err)
		}
		named := 0
		for _, e := range log {
			if e.Kind != narrator.Recorded {
				continue
			}
			named++
			sound, err := os.ReadFile(filepath.Join(dir, e.File))
			if err != nil || e.Length != 0 && string(sound) != memoSound {
				t.Errorf("memo %s: %d bytes, %v", e.File, len(sound), err)
			}
		}
		if named < acks {
			t.Errorf("%d memos acknowledged, %d are there", acks, named)
		}
		if found := journal.Verify(t.Context(), s); len(found) != 0 {
			t.Fatalf("Verify = %v", found)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d kills: all %d acknowledged memos are whole; %d parts and %d kept files without an event were found again",
		kills, acks, parts, strays)
	if acks < kills {
		t.Errorf("only %d memos were acknowledged: the writer was hardly ever at work when it was killed", acks)
	}
}

var memoSound = strings.Repeat("sound ", 3000)

// keepMemosForEver takes one spoken note after another. A note's Length tells the test that it was written to its end.
func keepMemosForEver(dir string) error {
	s, err := journal.Open(dir, journal.Writer)
	if err != nil {
		return err
	}
	ctx := context.Background()
	if _, err := s.Log(ctx, killedJob); errors.Is(err, journal.ErrNoJob) {
		if err := s.Append(ctx, storetest.NewJob(killedJob, storetest.Dawn).Events); err != nil {
			return err
		}
	}
	for {
		part, err := s.Memos().Begin(killedJob)
		if err != nil {
			return err
		}
		if err := os.WriteFile(part, []byte(memoSound), 0o600); err != nil {
			return err
		}
		file, err := s.Memos().Keep(part)
		if err == nil {
			err = nameMemo(ctx, s, file, narrator.Second)
		}
		if err != nil {
			return err
		}
		fmt.Println(file)
	}
}

// recoverMemos does what the program does at its start: what a crash cut off is kept and named.
func recoverMemos(t *testing.T, s *journal.SQLite) (parts, strays int) {
	t.Helper()
	left, err := s.Memos().Leftovers()
	for _, m := range left {
		file, keepErr := s.Memos().Keep(m.Path)
		err = errors.Join(err, keepErr)
		if keepErr == nil && (m.Job != killedJob || file != m.File) {
			t.Errorf("%s was left by job %s and kept as %s", m.Path, m.Job, file)
		}
	}
	kept, keptErr := s.Memos().Kept()
	if err = errors.Join(err, keptErr); err != nil {
		t.Fatal(err)
	}
	log, _ := s.Log(t.Context(), killedJob)
	for _, m := range kept {
		if slices.ContainsFunc(log, func(e narrator.Event) bool { return e.File == m.File }) {
			continue
		}
		if err := nameMemo(t.Context(), s, m.File, 0); err != nil {
			t.Fatal(err)
		}
		strays++
	}
	return len(left), strays - len(left)
}

// nameMemo appends the event that names a memo.
func nameMemo(ctx context.Context, s journal.Store, file string, length narrator.Span) error {
	log, err := s.Log(ctx, killedJob)
	if err != nil {
		return err
	}
	seq := int64(len(log)) + 1
	return s.Append(ctx, []narrator.Event{{Job: killedJob, Seq: seq, Act: seq, At: storetest.Dawn, Noted: storetest.Dawn,
		Kind: narrator.Recorded, Detail: narrator.Detail{File: file, From: storetest.Dawn, Length: length}}})
}

// killed runs a child on a folder, kills it at a random moment after a random number of lines, and returns every whole
// line that it got to print.
func killed(t *testing.T, child, dir string) []string {
	t.Helper()
	c := exec.CommandContext(t.Context(), os.Args[0], dir)
	c.Env = append(os.Environ(), childVariable+"="+child)
	var complaint strings.Builder
	c.Stderr = &complaint
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	defer time.AfterFunc(30*time.Second, func() { c.Process.Kill() }).Stop()
	after := rand.IntN(12)
	kill := func() {
		time.AfterFunc(time.Duration(rand.Int64N(int64(4*time.Millisecond))), func() { c.Process.Kill() })
	}
	if after == 0 {
		kill()
	}
	var lines []string
	in := bufio.NewReader(out)
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			if err != io.EOF {
				t.Fatal(err)
			}
			break
		}
		if lines = append(lines, strings.TrimSuffix(line, "\n")); len(lines) == after {
			kill()
		}
	}
	c.Wait()
	if complaint.Len() > 0 {
		t.Fatalf("the child failed: %s", complaint.String())
	}
	return lines
}
