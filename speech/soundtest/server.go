package soundtest

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
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

// Server is a private sound server, PulseAudio or else PipeWire. It reaches no
// real device, needs no privilege and shares nothing with a server of the
// desktop. One goroutine uses it.
type Server struct {
	t       testing.TB
	dir     string
	daemons []*daemon
	log     log // what the daemons say in their present life
}

// Start starts a server and points the process at it: until the test ends,
// ALSA's default device is the server's microphone and loudspeaker. It uses
// t.Setenv, so the test cannot be parallel. Without a sound server on the
// machine the test is skipped at a desk and fails in CI.
func Start(t testing.TB) *Server {
	t.Helper()
	Need(t, "pactl", "pacat")
	dir, err := os.MkdirTemp("", "sound") //nolint:usetesting // t.TempDir may be too long for a socket's name
	if err == nil {
		err = os.Mkdir(filepath.Join(dir, "pulse"), 0o700)
	}
	if err != nil {
		t.Fatal(err)
	}
	s := &Server{t: t, dir: dir}
	t.Cleanup(func() {
		s.Kill()
		os.RemoveAll(dir)
		if t.Failed() {
			t.Logf("the sound server said last:\n%s", s.log.last(20))
		}
	})
	for name, value := range map[string]string{
		"HOME":                 dir,
		"XDG_RUNTIME_DIR":      dir,
		"XDG_CONFIG_HOME":      dir,
		"PIPEWIRE_RUNTIME_DIR": dir,
		"PULSE_SERVER":         "unix:" + s.socket(),
		"PULSE_COOKIE":         filepath.Join(dir, "cookie"),
		"PULSE_SINK":           loudspeaker,
		"PULSE_SOURCE":         microphone,
		"LC_ALL":               "C",
	} {
		t.Setenv(name, value)
	}
	s.write(".asoundrc", "pcm.!default { type pulse }\nctl.!default { type pulse }\n")
	s.Restart()
	return s
}

func (s *Server) socket() string { return filepath.Join(s.dir, "pulse", "native") }

func (s *Server) write(name, text string) string {
	s.t.Helper()
	path := filepath.Join(s.dir, name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		s.t.Fatal(err)
	}
	return path
}

// Restart starts the server, ending one that runs, and waits until it serves.
func (s *Server) Restart() {
	s.t.Helper()
	s.Kill()
	if _, err := exec.LookPath("pulseaudio"); err == nil {
		s.startPulseAudio()
		return
	}
	for _, p := range []string{"pipewire", "wireplumber", "pipewire-pulse"} {
		if _, err := exec.LookPath(p); err != nil {
			missing(s.t, "a sound server, pulseaudio or "+p)
		}
	}
	s.startPipeWire()
}

func (s *Server) startPulseAudio() {
	s.t.Helper()
	// Without rewinds the virtual devices keep no more than 50 ms back instead
	// of 2 s.
	script := s.write("server.pa", fmt.Sprintf(`
load-module module-native-protocol-unix auth-anonymous=1 socket=%s
load-module module-null-sink sink_name=%s rate=48000 channels=2 norewinds=1
load-module module-null-sink sink_name=%s rate=48000 channels=2 norewinds=1
load-module module-remap-source source_name=%s master=%s.monitor
`, s.socket(), loudspeaker, hearing, microphone, hearing))
	s.run("pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1", "--realtime=no",
		"--high-priority=no", "--disable-shm=yes", "--log-level=info", "--log-target=stderr", "-F", script)
	s.await("the sound server serves", func() bool { return s.log.has("Daemon startup complete") })
}

func (s *Server) startPipeWire() {
	s.t.Helper()
	exists := func(name string) func() bool {
		return func() bool {
			_, err := os.Stat(filepath.Join(s.dir, name))
			return err == nil
		}
	}
	s.run("pipewire")
	s.await("pipewire serves", exists("pipewire-0"))
	// Only the part that connects clients, which needs neither a bus nor a
	// seat; until 0.5 it was called otherwise.
	policy := []string{"-c", "policy.conf"}
	if help, _ := exec.Command("wireplumber", "--help").CombinedOutput(); bytes.Contains(help, []byte("--profile")) {
		policy = []string{"-p", "policy"}
	}
	s.run("wireplumber", policy...)
	s.run("pipewire-pulse")
	for _, module := range [][]string{
		{"module-null-sink", "sink_name=" + loudspeaker},
		{"module-null-sink", "sink_name=" + hearing},
		{"module-remap-source", "source_name=" + microphone, "master=" + hearing + ".monitor"},
	} {
		s.await("pipewire-pulse loads "+module[0], func() bool {
			return exec.Command("pactl", append([]string{"load-module"}, module...)...).Run() == nil
		})
	}
}

// Kill ends the server as a crash would, and waits until it is gone.
func (s *Server) Kill() {
	for _, d := range s.daemons {
		d.kill()
	}
	s.daemons = nil
	s.log.clear()
	os.Remove(s.socket())
	os.Remove(filepath.Join(s.dir, "pipewire-0"))
}

// Freeze stops the server where it stands: no sound flows, and calls to it
// hang. Thaw lets it go on.
func (s *Server) Freeze() { s.signal(syscall.SIGSTOP) }

// Thaw lets a frozen server go on.
func (s *Server) Thaw() { s.signal(syscall.SIGCONT) }

func (s *Server) signal(what syscall.Signal) {
	for _, d := range s.daemons {
		d.command.Process.Signal(what)
	}
}

func (s *Server) run(name string, arguments ...string) {
	s.t.Helper()
	d, err := startDaemon(&s.log, name, arguments...)
	if err != nil {
		s.t.Fatalf("start the sound server: %v", err)
	}
	s.daemons = append(s.daemons, d)
}

// await waits until something is so, looking every few milliseconds.
func (s *Server) await(what string, so func() bool) {
	s.t.Helper()
	limit := time.After(patience)
	look := time.NewTicker(5 * time.Millisecond)
	defer look.Stop()
	for !so() {
		select {
		case <-look.C:
		case <-limit:
			s.t.Fatalf("it is not so within %v that %s", patience, what)
		}
		for _, d := range s.daemons {
			if d.ended() && !so() {
				s.t.Fatalf("%s ended before %s", d.command.Path, what)
			}
		}
	}
}
