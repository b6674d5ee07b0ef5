package soundtest

import (
	"bytes"
	"os/exec"
	"strings"
	"sync"
	"syscall"
)

// daemon is a program that runs until it is killed.
type daemon struct {
	command *exec.Cmd
	done    chan struct{} // closed when it has ended and been waited for
}

// startDaemon starts a program whose words go to log. It dies with the test.
func startDaemon(log *log, name string, arguments ...string) (*daemon, error) {
	d := &daemon{command: exec.Command(name, arguments...), done: make(chan struct{})}
	d.command.Stdout, d.command.Stderr = log, log
	d.command.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	if err := d.command.Start(); err != nil {
		return nil, err
	}
	go func() {
		defer close(d.done)
		d.command.Wait()
	}()
	return d, nil
}

func (d *daemon) ended() bool {
	select {
	case <-d.done:
		return true
	default:
		return false
	}
}

func (d *daemon) kill() {
	d.command.Process.Kill()
	<-d.done
}

// log keeps what daemons say.
type log struct {
	mu   sync.Mutex
	said bytes.Buffer
}

// Write implements io.Writer.
func (l *log) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.said.Write(b)
}

func (l *log) has(words string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return bytes.Contains(l.said.Bytes(), []byte(words))
}

// last is the last n lines.
func (l *log) last(n int) string {
	l.mu.Lock()
	defer l.mu.Unlock()
	lines := strings.Split(l.said.String(), "\n")
	return strings.Join(lines[max(0, len(lines)-n):], "\n")
}

func (l *log) clear() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.said.Reset()
}
