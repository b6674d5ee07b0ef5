package main

import (
	"bufio"
	"context"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/speech"
	"stepcaller/speech/soundtest"
)

// asProgram makes the test binary the program itself, so that a test can start, watch and kill a real process.
const asProgram = "STEPCALLER_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
		code := run(ctx, os.Args[1:])
		stop()
		os.Exit(code)
	}
	code := m.Run()
	cluster.Stop()
	os.Exit(code)
}

// limit is how long a test waits for something that is going to happen.
const limit = 30 * time.Second

// process is the program, running.
type process struct {
	t     testing.TB
	cmd   *exec.Cmd
	lines chan string
	seen  []string
}

func startProgram(t testing.TB, args ...string) *process {
	t.Helper()
	p := &process{t: t, cmd: exec.Command(os.Args[0], args...), lines: make(chan string, 1000)}
	p.cmd.Env = append(os.Environ(), asProgram+"=1")
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	p.cmd.Stderr = p.cmd.Stdout
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	p.follow(out)
	return p
}

// follow reads what the program prints, and ends it with the test.
func (p *process) follow(out io.Reader) {
	go func() {
		defer close(p.lines)
		for s := bufio.NewScanner(out); s.Scan(); {
			p.lines <- s.Text()
		}
	}()
	p.t.Cleanup(func() {
		_ = p.cmd.Process.Kill()
		_ = p.cmd.Wait()
	})
}

// until waits for a line that contains every part.
func (p *process) until(parts ...string) {
	p.t.Helper()
	if !p.within(limit, parts...) {
		p.t.Fatalf("no %q within %s:\n%s", parts, limit, strings.Join(p.seen, "\n"))
	}
}

// within reports whether a line that contains every part comes in time.
func (p *process) within(patience time.Duration, parts ...string) bool {
	p.t.Helper()
	for deadline := time.After(patience); ; {
		select {
		case line, ok := <-p.lines:
			if !ok {
				p.t.Fatalf("ended before %q:\n%s", parts, strings.Join(p.seen, "\n"))
			}
			p.seen = append(p.seen, line)
			if containsAll(line, parts) {
				return true
			}
		case <-deadline:
			return false
		}
	}
}

func containsAll(line string, parts []string) bool {
	for _, part := range parts {
		if !strings.Contains(line, part) {
			return false
		}
	}
	return true
}

// rest reads to the end of the output and waits for the process.
func (p *process) rest() error {
	p.t.Helper()
	return p.restWithin(limit)
}

func (p *process) restWithin(limit time.Duration) error {
	p.t.Helper()
	for deadline := time.After(limit); ; {
		select {
		case line, ok := <-p.lines:
			if !ok {
				return p.cmd.Wait()
			}
			p.seen = append(p.seen, line)
		case <-deadline:
			p.t.Fatalf("still running after %s:\n%s", limit, strings.Join(p.seen, "\n"))
		}
	}
}

// A whole job through PortAudio: the program listens to a virtual microphone, speaks into a virtual loudspeaker, is killed in the
// middle and goes on.
func TestAJobAtTheMicrophone(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	for _, who := range technicians {
		t.Run(who.voice, func(t *testing.T) { jobAtTheMicrophone(t, who) })
	}
}

func jobAtTheMicrophone(t *testing.T, who technician) {
	atHome(t)
	server := soundtest.Start(t)
	data, procedure := filepath.Join(t.TempDir(), "data"), writeProcedure(t, fanBelt)
	var p *process
	// say says a word until a line answers it, as a person would: at most three times.
	say := func(word string, answer ...string) {
		t.Helper()
		sound := append(make([]int16, speech.Rate/2), append(who.speak(t, word), make([]int16, speech.Rate/2)...)...)
		for range 2 {
			server.SayInto(sound)
			if p.within(5*time.Second, answer...) {
				return
			}
			t.Logf("%q has to be said again", word)
		}
		server.SayInto(sound)
		p.until(answer...)
	}

	p = startProgram(t, "start", procedure, "--data", data, "--technician", "Ines")
	recorded := server.RecordSpeaker()
	p.until("says", "Step 1.")
	if !recorded.Await(spokenOut) {
		t.Fatal("the first step never came out of the loudspeaker")
	}
	recorded.Stop()
	say("next", "stamp", "step belt")
	p.until("says", "Step 2.")
	say("repeat", "heard", `"repeat"`) // over the voice

	if err := p.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = p.rest()
	recorded = server.RecordSpeaker()
	p = startProgram(t, "resume", "--data", data)
	p.until("stamp", "not running for")
	p.until("says", "Step 2 of 3")
	if !recorded.Await(spokenOut) {
		t.Fatal("where the job is was never said")
	}
	recorded.Stop()
	say("next", "stamp", "step close")
	p.until("says", "Step 3.")
	say("torque", "stamp", "torque: cover bolts, 7 lbf·ft")
	say("finish job", "says", "Finish the job?")
	say("yes", "stamp", "job finished")
	if err := p.rest(); err != nil {
		t.Errorf("ended with %v", err)
	}
	if out := strings.Join(p.seen, "\n"); !strings.Contains(out, "finished: fan-belt") {
		t.Errorf("no labour table in\n%s", out)
	}

	store, err := journal.Open(data, journal.Writer)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	if found := journal.Verify(t.Context(), store); len(found) > 0 {
		t.Errorf("the journal is not sound: %v", found)
	}
	jobs, err := store.Jobs(t.Context(), journal.Filter{State: journal.FinishedJobs})
	if err != nil || len(jobs) != 1 {
		t.Fatalf("jobs %v, %v", jobs, err)
	}
	log, err := store.Log(t.Context(), jobs[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	job, err := narrator.NewJob(log)
	if err != nil {
		t.Fatal(err)
	}
	sum := narrator.Sum(job.Timeline(job.End))
	if sum.Gap <= 0 || sum.Worked <= 0 || sum.Elapsed != job.End.Since(job.Start) {
		t.Errorf("sums %+v", sum)
	}
}

// spokenOut reports whether a second of voice or more was heard, and then a second of quiet.
func spokenOut(pcm []int16) bool {
	loud, last := 0, 0
	for i, v := range pcm {
		if v > 500 || v < -500 {
			loud, last = loud+1, i
		}
	}
	return loud > speech.Rate/4 && len(pcm)-last > speech.Rate
}

// A second terminal opens a job at the daemon that listens already.
func TestASecondTerminalOpensAJobAtTheDaemon(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	atHome(t)
	soundtest.Start(t)
	data, procedure := filepath.Join(t.TempDir(), "data"), writeProcedure(t, fanBelt)
	daemon := startProgram(t, "listen", "--data", data)
	for deadline := time.Now().Add(limit); ; {
		if _, err := os.Stat(socketPath(data)); err == nil {
			break
		}
		if time.Now().After(deadline) {
			t.Fatal("the daemon does not take orders")
		}
		time.Sleep(10 * time.Millisecond)
	}
	first := startProgram(t, "start", procedure, "--data", data)
	first.until("Job", "is now the bay's job")
	daemon.until("says", "Step 1.")
	second := startProgram(t, "start", "valve-cover", "--data", data)
	second.until("Job", "is now the bay's job")
	daemon.until("stamp", "on hold")
	daemon.until("says", "valve cover")
	if err := daemon.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := daemon.rest(); err != nil {
		t.Errorf("SIGTERM: ended with %v\n%s", err, strings.Join(daemon.seen, "\n"))
	}
}

// Killed 50 times at random moments of a job, the program loses nothing that it had acknowledged.
func TestNothingAcknowledgedIsLost(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	track := writeTrack(t, technicians[0].track(t, 46, said{9, "next"}, said{12, "hold the job"}, said{15, "parts"}, said{18, "carry on"},
		said{21, "take a note"}, said{23, "something is worn in here"}, said{31, "next"}, said{34, "torque"}, said{37, "undo that"}, said{40, "previous step"}, said{43, "next"}))
	procedure := writeProcedure(t, fanBelt)
	whole := runKilled(t, procedure, track, 0)
	seed := rand.Uint64()
	t.Logf("seed %d, a whole job takes %s", seed, whole)
	random := rand.New(rand.NewPCG(seed, 0))
	for range 50 {
		runKilled(t, procedure, track, time.Duration(1+random.Int64N(int64(whole))))
	}
}

// runKilled rehearses into a new folder, kills the program after a time (0 lets it end) and compares the journal with what was
// printed.
func runKilled(t *testing.T, procedure, track string, after time.Duration) (took time.Duration) {
	t.Helper()
	data := filepath.Join(t.TempDir(), "data")
	begun := time.Now()
	p := startProgram(t, "rehearse", procedure, "--hear", track, "--data", data)
	if after > 0 {
		killer := time.AfterFunc(after, func() { _ = p.cmd.Process.Kill() })
		defer killer.Stop()
	}
	_ = p.rest()
	took = time.Since(begun)
	var acknowledged []string
	for _, line := range p.seen {
		if at := strings.Index(line, "  stamp  "); at >= 0 {
			acknowledged = append(acknowledged, line[at+len("  stamp  "):])
		}
	}
	store, err := journal.Open(data, journal.Writer)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	for _, finding := range journal.Verify(t.Context(), store) {
		t.Errorf("killed after %s: %v", after, finding)
	}
	jobs, err := store.Jobs(t.Context(), journal.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	var kept []string
	for _, job := range jobs {
		log, err := store.Log(t.Context(), job.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range log {
			if text := stamped(e); text != "" {
				kept = append(kept, text)
			}
		}
		if _, err := narrator.NewJob(log); err != nil {
			t.Error(err)
		}
	}
	if len(acknowledged) > len(kept) {
		t.Fatalf("killed after %s: %d acknowledged, %d kept", after, len(acknowledged), len(kept))
	}
	for i, text := range acknowledged {
		if kept[i] != text {
			t.Errorf("killed after %s: acknowledged %q, kept %q", after, text, kept[i])
		}
	}
	if after == 0 && len(acknowledged) < 8 {
		t.Errorf("only %q acknowledged of a whole job", acknowledged)
	}
	return took
}
