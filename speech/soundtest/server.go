package soundtest

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// patience is how long a test waits for something that is going to happen.
const patience = 30 * time.Second

// Names of the virtual devices inside the server.
const (
	loudspeaker = "bench_loudspeaker"
	hearing     = "bench_air" // what is played here, the microphone hears
	microphone  = "bench_microphone"
)

// Server is a private sound server. It reaches no real device, needs no
// privilege and shares nothing with a server of the desktop. One goroutine
// uses it.
type Server struct {
	t      testing.TB
	dir    string
	daemon *daemon
	log    bytes.Buffer // what the daemons said, of all their lives
}

// Start starts a server and points the process at it: until the test ends,
// ALSA's default device is the server's microphone and loudspeaker. It uses
// t.Setenv, so the test cannot be parallel. Without a sound server on the
// machine the test is skipped at a desk and fails in CI.
func Start(t testing.TB) *Server {
	t.Helper()
	Need(t, "pactl", "pacat")
	s := &Server{t: t, dir: t.TempDir()}
	for _, e := range s.environment() {
		name, value, _ := strings.Cut(e, "=")
		t.Setenv(name, value)
	}
	s.write(".asoundrc", "pcm.!default { type pulse }\nctl.!default { type pulse }\n")
	s.Restart()
	t.Cleanup(func() {
		s.Kill()
		if t.Failed() {
			t.Logf("the sound server said last:\n%s", last(s.log.String(), 20))
		}
	})
	return s
}

// last is the last n lines of text.
func last(text string, n int) string {
	lines := strings.Split(text, "\n")
	return strings.Join(lines[max(0, len(lines)-n):], "\n")
}

// environment is what tells libpulse and ALSA about this server and about no
// other.
func (s *Server) environment() []string {
	return []string{
		"HOME=" + s.dir,
		"XDG_RUNTIME_DIR=" + s.dir,
		"XDG_CONFIG_HOME=" + s.dir,
		"PULSE_SERVER=unix:" + s.socket(),
		"PULSE_COOKIE=" + filepath.Join(s.dir, "cookie"),
		"LC_ALL=C",
	}
}

func (s *Server) socket() string { return filepath.Join(s.dir, "native") }

func (s *Server) write(name, text string) string {
	s.t.Helper()
	path := filepath.Join(s.dir, name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		s.t.Fatal(err)
	}
	return path
}

// Kill ends the server as a crash would, and waits until it is gone.
func (s *Server) Kill() {
	if s.daemon != nil {
		s.daemon.kill()
		s.daemon = nil
	}
	os.Remove(s.socket())
}

// Restart starts the server, ending one that runs, and waits until it serves.
func (s *Server) Restart() {
	s.t.Helper()
	s.Kill()
	script := s.write("server.pa", fmt.Sprintf(`
load-module module-native-protocol-unix auth-anonymous=1 socket=%s
load-module module-null-sink sink_name=%s rate=48000 channels=2 norewinds=1
load-module module-null-sink sink_name=%s rate=48000 channels=2 norewinds=1
load-module module-remap-source source_name=%s master=%s.monitor
set-default-sink %s
set-default-source %s
`, s.socket(), loudspeaker, hearing, microphone, hearing, loudspeaker, microphone))
	if _, err := exec.LookPath("pulseaudio"); err != nil {
		missing(s.t, "pulseaudio")
	}
	d, err := startDaemon(s.environment(), &s.log, "Daemon startup complete", "pulseaudio", "-n", "--daemonize=no",
		"--use-pid-file=no", "--exit-idle-time=-1", "--realtime=no", "--high-priority=no", "--disable-shm=yes",
		"--log-level=info", "--log-target=stderr", "-F", script)
	if err != nil {
		s.t.Fatalf("start the sound server: %v\n%s", err, s.log.String())
	}
	s.daemon = d
}

// Freeze stops the server where it stands: no sound flows, and calls to it
// hang. Thaw lets it go on.
func (s *Server) Freeze() { s.daemon.signal(syscall.SIGSTOP) }

// Thaw lets a frozen server go on.
func (s *Server) Thaw() { s.daemon.signal(syscall.SIGCONT) }

// daemon is a running program and the reader of what it says.
type daemon struct {
	command *exec.Cmd
	read    chan struct{} // closed when its stderr has ended
}

// startDaemon runs a program and waits until it has said the given words on
// its stderr, which goes to log.
func startDaemon(environment []string, log *bytes.Buffer, ready, name string, arguments ...string) (*daemon, error) {
	c := exec.Command(name, arguments...)
	c.Env = append(os.Environ(), environment...)
	c.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	said, err := c.StderrPipe()
	if err != nil {
		return nil, err
	}
	if err := c.Start(); err != nil {
		return nil, err
	}
	d := &daemon{command: c, read: make(chan struct{})}
	serving := make(chan struct{})
	go func() {
		defer close(d.read)
		for lines := bufio.NewScanner(said); lines.Scan(); {
			fmt.Fprintln(log, lines.Text())
			if strings.Contains(lines.Text(), ready) {
				close(serving)
				ready = "\x00"
			}
		}
	}()
	select {
	case <-serving:
		return d, nil
	case <-d.read:
		d.kill()
		return nil, fmt.Errorf("%s ended: %v", name, c.ProcessState)
	case <-time.After(patience):
		d.kill()
		return nil, fmt.Errorf("%s does not serve within %v", name, patience)
	}
}

func (d *daemon) kill() {
	d.signal(syscall.SIGKILL)
	<-d.read
	d.command.Wait()
}

func (d *daemon) signal(s syscall.Signal) { d.command.Process.Signal(s) }
