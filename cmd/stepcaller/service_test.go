package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/speech"
	"stepcaller/speech/soundtest"
	"stepcaller/speech/voicetest"
)

// notices listens as systemd does and gives every line that a service tells.
func notices(t *testing.T) (socket string, lines chan string) {
	t.Helper()
	socket = filepath.Join(t.TempDir(), "notify")
	c, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: socket, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	lines = make(chan string, 10_000)
	go func() {
		defer close(lines)
		for buffer := make([]byte, 4096); ; {
			n, err := c.Read(buffer)
			if err != nil {
				return
			}
			for line := range strings.Lines(string(buffer[:n])) {
				lines <- strings.TrimSpace(line)
			}
		}
	}()
	return socket, lines
}

// await reads lines up to one that begins so, and returns those before.
func await(t *testing.T, lines chan string, prefix string) (before []string) {
	t.Helper()
	for deadline := time.After(limit); ; {
		select {
		case line := <-lines:
			if strings.HasPrefix(line, prefix) {
				return before
			}
			before = append(before, line)
		case <-deadline:
			t.Fatalf("no %s within %s, but %q", prefix, limit, before)
		}
	}
}

// startService starts the program as a service of systemd: with a socket for its state, a watchdog, and its output a stream of the journal.
func startService(t *testing.T, socket string, args ...string) *process {
	t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	info, err := w.Stat()
	if err != nil {
		t.Fatal(err)
	}
	stat := info.Sys().(*syscall.Stat_t)
	p := &process{t: t, cmd: exec.Command(os.Args[0], args...), lines: make(chan string, 10_000)}
	p.cmd.Env = append(os.Environ(), asProgram+"=1", "NOTIFY_SOCKET="+socket, "WATCHDOG_USEC=300000", fmt.Sprintf("JOURNAL_STREAM=%d:%d", stat.Dev, stat.Ino))
	p.cmd.Stdout, p.cmd.Stderr = w, w
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	w.Close()
	p.follow(r)
	return p
}

// A service tells that it is ready, lives and stops, in this order; ended while it speaks it loses nothing, and its log holds nothing of what was said.
func TestTheDaemonAsAService(t *testing.T) {
	needVoice(t, speech.DefaultCommand)
	for _, level := range []string{"debug", "info"} {
		t.Run(level, func(t *testing.T) {
			atHome(t)
			server := soundtest.Start(t)
			socket, told := notices(t)
			data, procedure := filepath.Join(t.TempDir(), "data"), writeProcedure(t, fanBelt)
			daemon := startService(t, socket, "listen", "--data", data, "--log", level)
			if before := await(t, told, "READY=1"); len(before) > 0 {
				t.Errorf("before it is ready: %q", before)
			}
			await(t, told, "WATCHDOG=1")
			first := startProgram(t, "start", procedure, "--data", data)
			recorded := server.RecordSpeaker()
			first.until("Job", "is now the bay's job")
			await(t, told, "STATUS=Listening; job "+time.Now().Format(time.DateOnly)+"-1, step 1 of 3")
			if !recorded.Await(func(pcm []int16) bool { return slices.Max(append(pcm, 0)) > 500 }) {
				t.Fatal("nothing was said")
			}
			recorded.Stop()
			begun := time.Now()
			if err := daemon.cmd.Process.Signal(syscall.SIGTERM); err != nil {
				t.Fatal(err)
			}
			await(t, told, "STOPPING=1")
			if err := daemon.rest(); err != nil {
				t.Errorf("ended with %v", err)
			}
			t.Logf("gone %s after SIGTERM", time.Since(begun).Round(10*time.Millisecond))

			report, err := journal.Examine(t.Context(), data, soundMemo)
			if err != nil || !report.Whole() || report.Jobs != 1 {
				t.Errorf("%+v, %v", report, err)
			}
			log := strings.Join(daemon.seen, "\n")
			said := regexp.MustCompile(`(?i)fan belt|cover|pony|ines|step 1`)
			if level == "debug" {
				if !said.MatchString(log) || !strings.Contains(log, "level=DEBUG msg=says") || strings.Contains(log, "time=") {
					t.Errorf("the log:\n%s", log)
				}
				return
			}
			if found := said.FindAllString(log, -1); len(found) > 0 || !strings.Contains(log, "level=INFO msg=started") {
				t.Errorf("%q in the log:\n%s", found, log)
			}
		})
	}
}

// Nothing that is said or heard goes to the log above debug, troubles of the voice among it.
func TestTheLogHoldsNothingOfWhatIsSaid(t *testing.T) {
	for _, level := range []string{"debug", "info"} {
		var out bytes.Buffer
		parsed, err := parseLevel(level)
		if err != nil {
			t.Fatal(err)
		}
		voice := voicetest.ScriptedVoice{Before: func(_ context.Context, text string) error { return fmt.Errorf("speaking %q: no voice today", text) }}
		b := newBench(t, voice, 60, said{10, "next"}, said{15, "torque"}, said{20, "finish job"}, said{24, "yes"})
		b.Watch = logWatch{newLog(&out, parsed, true)}
		b.Speaker.Watch = b.Watch
		b.begin(t)
		if err := b.Run(t.Context(), nil); err != nil {
			t.Fatal(err)
		}
		b.Watch.Trouble(errors.New("the disk is full"))
		words := regexp.MustCompile(`(?i)cover|belt|next|torque|finish|yes`)
		if found := words.MatchString(out.String()); found != (level == "debug") {
			t.Errorf("%s: %v in\n%s", level, found, out.String())
		}
		if !strings.Contains(out.String(), "level=WARN msg=\"the voice failed") || !strings.Contains(out.String(), "level=WARN msg=trouble error=\"the disk is full\"") {
			t.Errorf("%s:\n%s", level, out.String())
		}
	}
}

func TestTheLastSentenceIsSaidToItsEnd(t *testing.T) {
	for _, c := range []struct {
		ended   float64 // s
		cut     bool
		atMost  float64 // s of sound after the end
		because string
	}{
		{0.5, true, 1.8, "it is too long"},
		{4.2, false, 1.5, "it ends soon"},
	} {
		b := newBench(t, longVoice{}, 60)
		b.begin(t)
		b.upTo(t, c.ended)
		ctx, end := context.WithCancel(t.Context())
		end()
		if err := b.Run(ctx, nil); err != nil {
			t.Fatal(err)
		}
		all := b.report.said()
		if len(all) == 0 || all[0].Interrupted != c.cut {
			t.Errorf("%s: said %+v", c.because, all)
		}
		if after := b.read.Duration().Seconds() - c.ended; after > c.atMost {
			t.Errorf("%s: it went on for %.2f s", c.because, after)
		}
		if b.Player.Speaking() {
			t.Errorf("%s: something is still being said", c.because)
		}
	}
}

// longVoice takes five seconds for every sentence.
type longVoice struct{}

func (longVoice) Speak(context.Context, string) ([]int16, error) {
	return slices.Repeat([]int16{900, -900}, 5*speech.Rate/2), nil
}

// The watchdog is fed by the session's blocks and by nothing else.
func TestTheWatchdogIsFedByTheLoop(t *testing.T) {
	socket, told := notices(t)
	t.Setenv("NOTIFY_SOCKET", socket)
	t.Setenv("WATCHDOG_USEC", "3")
	b := newBench(t, voicetest.ScriptedVoice{}, 60)
	system := newSupervisor()
	b.Alive = func() { system.alive(func() string { return statusOf(b.Bay) }) }
	b.begin(t)
	b.Source.(*silence).end = speech.Rate
	if err := b.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	tell("END=1")
	fed := 0
	for _, line := range await(t, told, "END=1") {
		if line == "WATCHDOG=1" {
			fed++
		}
	}
	if blocks := int(speech.Rate / speech.Frame); fed < blocks/2 || fed > blocks {
		t.Errorf("fed %d times in %d blocks", fed, blocks)
	}
	if text := statusOf(narrator.NewBay(narrator.DefaultSettings())); text != "Listening; no job, 0 others open" {
		t.Error(text)
	}
}
