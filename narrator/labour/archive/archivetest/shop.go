// Package archivetest makes up the years of a shop for benchmarks, as large as one likes, without keeping any of it.
package archivetest

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"runtime/debug"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// steps is how many a job has; with what happens between them it has 50 events.
const steps = 40

// Shop is a [journal.Store] that makes up each log when it is asked for: the same whenever it is asked. Nothing can be written to it. Half of
// the jobs are done by one procedure, "job-0", the others share the rest; one in 50 is a comeback.
type Shop struct {
	journal.Store              // what is not made up is nil
	Size          int          // jobs
	Day           int          // jobs begun a day, over ten hours from 07:00
	Bays          []string     // that take turns; none for a bay alone
	People        []string     // who take turns by chance
	Open          int          // how many of the latest jobs are not finished
	More          atomic.Int64 // jobs begun since, finished at once
	files         []string
}

// Usual is a shop of so many jobs: up to 20 000 those of one bay that does 10 a day, beyond those of 50 bays in one year.
func Usual(jobs int) *Shop {
	s := &Shop{Size: jobs, Day: 10, People: []string{"Ines", "Marek", "Élodie", "Tomas"}, Open: 1}
	procedures := 10
	if jobs > 20_000 {
		s.Day, s.Open, procedures = jobs/365+1, 60, 100
		for n := range 50 {
			s.Bays = append(s.Bays, fmt.Sprint("lift-", n+1))
		}
		for n := range 60 {
			s.People = append(s.People, fmt.Sprint("Helper ", n+1))
		}
	}
	for which := range procedures {
		s.files = append(s.files, file(which))
	}
	return s
}

// file is a procedure file as long as those that come along.
func file(which int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "id: job-%d\ntitle: Job job-%d\nmachine: Ostwick Pony\nbook: [{code: \"0410\", title: Job, hours: 1.4}]\nsteps:\n", which, which)
	for n := 1; n <= steps; n++ {
		fmt.Fprintf(&b, "  - {id: step-%d, say: 'Do part %d of it, %sas far as it goes.'}\n", n, n, strings.Repeat("with the bolts in their order, ", 5))
	}
	return b.String()
}

// Begun is when the n-th job began.
func (s *Shop) Begun(n int) time.Time {
	return time.Date(2000, 1, 1, 7, 0, 0, 0, time.UTC).AddDate(0, 0, n/s.Day).Add(time.Duration(n%s.Day) * 10 * time.Hour / time.Duration(s.Day))
}

// ID is that of the n-th job, from 0.
func (s *Shop) ID(n int) string {
	id := fmt.Sprintf("%s-%d", s.Begun(n).Format(time.DateOnly), n%s.Day+1)
	if len(s.Bays) > 0 {
		id += "." + s.Bays[n%len(s.Bays)]
	}
	return id
}

// number is which job has an id, -1 for none.
func (s *Shop) number(id string) int {
	bare, _, _ := strings.Cut(id, ".")
	if len(bare) < 12 {
		return -1
	}
	day, err := time.Parse(time.DateOnly, bare[:10])
	place, wrong := strconv.Atoi(bare[11:])
	n := int(day.Sub(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)).Hours()/24)*s.Day + place - 1
	if err != nil || wrong != nil || n < 0 || n >= s.all() {
		return -1
	}
	return n
}

func (s *Shop) all() int { return s.Size + int(s.More.Load()) }

// Changed implements [journal.Store]: each job is finished before the next begins.
func (s *Shop) Changed(_ context.Context, after journal.Mark) ([]journal.Change, error) {
	all := make([]journal.Change, 0, max(0, s.all()-int(after)))
	for n := int(after); n < s.all(); n++ {
		all = append(all, journal.Change{Job: s.ID(n), Mark: journal.Mark(n + 1)})
	}
	return all, nil
}

// LastBeat implements [journal.Store]: an hour after the last job began.
func (s *Shop) LastBeat(context.Context) (narrator.Moment, error) {
	return narrator.MomentOf(s.Begun(s.all() - 1).Add(time.Hour)), nil
}

// Log implements [journal.Store].
func (s *Shop) Log(_ context.Context, id string) ([]narrator.Event, error) {
	n := s.number(id)
	if n < 0 {
		return nil, fmt.Errorf("%w: %s", journal.ErrNoJob, id)
	}
	r := rand.New(rand.NewPCG(3, uint64(n)))
	which := 0
	if n%2 == 1 {
		which = 1 + n/2%(len(s.files)-1)
	}
	now := narrator.MomentOf(s.Begun(n))
	log := make([]narrator.Event, 0, 52)
	then := func(kind narrator.Kind, d narrator.Detail) {
		seq := int64(len(log)) + 1
		log = append(log, narrator.Event{Job: id, Seq: seq, Act: seq, At: now, Noted: now, Kind: kind, Detail: d})
	}
	d := narrator.Detail{Procedure: "file.yaml", Text: s.files[which], Technician: s.People[r.IntN(len(s.People))], Order: fmt.Sprint("R", n)}
	if n%50 == 49 {
		d.JobKind, d.Earlier = "comeback", s.ID(n-20)
	}
	then(narrator.Opened, d)
	for step := 1; step <= steps; step++ {
		if n >= s.Size-s.Open && n < s.Size && step > 20 {
			return log, nil
		}
		then(narrator.Arrived, narrator.Detail{Step: fmt.Sprint("step-", step)})
		now = now.Add(narrator.Minutes(2 * math.Exp(0.35*r.NormFloat64())))
		switch step {
		case 10, 30:
			then(narrator.Held, narrator.Detail{Reason: []string{"parts", "phone", "customer"}[r.IntN(3)]})
			now = now.Add(narrator.Minutes(r.ExpFloat64()))
			then(narrator.Resumed, narrator.Detail{})
		case 5, 15, 25:
			then(narrator.Word, narrator.Detail{Word: "repeat", Score: 0.9})
		case 20:
			then(narrator.Recorded, narrator.Detail{File: "memos/" + id + "-20.wav", From: now - narrator.Moment(10*narrator.Second), Length: 8 * narrator.Second})
		}
	}
	then(narrator.Finished, narrator.Detail{})
	return log, nil
}

// Sizes are how many jobs the benchmarks make up: STEPCALLER_BENCH_JOBS adds one to those that are always tried.
func Sizes(b *testing.B, usual ...int) []int {
	more := os.Getenv("STEPCALLER_BENCH_JOBS")
	if more == "" {
		return usual
	}
	jobs, err := strconv.Atoi(more)
	if err != nil || jobs < 100 {
		b.Fatalf("STEPCALLER_BENCH_JOBS=%s is no number of jobs", more)
	}
	return append(usual, jobs)
}

// ForgetPeak makes the kernel measure the process's peak memory from now on.
func ForgetPeak(b *testing.B) {
	debug.FreeOSMemory()
	if err := os.WriteFile("/proc/self/clear_refs", []byte("5"), 0); err != nil {
		b.Logf("the peak includes what was before: %v", err)
	}
}

// Peak is the most memory that the process has had, in MB.
func Peak(b *testing.B) float64 {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		b.Fatal(err)
	}
	for line := range strings.Lines(string(status)) {
		if words := strings.Fields(line); words[0] == "VmHWM:" {
			kb, err := strconv.Atoi(words[1])
			if err != nil {
				b.Fatal(err)
			}
			return float64(kb >> 10)
		}
	}
	return 0
}

// Folder is where a benchmark keeps its figures: STEPCALLER_BENCH_FOLDER, where they are found again by the next one, or one that is
// thrown away.
func Folder(b *testing.B) string {
	if dir := os.Getenv("STEPCALLER_BENCH_FOLDER"); dir != "" {
		return dir
	}
	return b.TempDir()
}

// CPU is how long processors have worked for this process. On a machine with other work it says more than the clock; it includes what is
// done while the benchmark's timer stands.
func CPU(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
