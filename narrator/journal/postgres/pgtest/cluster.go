// Package pgtest lends tests a real PostgreSQL of their own: a cluster in a temporary folder, run without privileges, reached through a socket in that folder and,
// with TLS, over loopback. It is gone when the tests are.
package pgtest

import (
	"bufio"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// startLimit is how long a server may take until it answers.
const startLimit = 30 * time.Second

// Cluster is a server that starts with the first test that wants a database. Its zero value is ready; one serves all tests of a binary:
//
//	var cluster pgtest.Cluster
//
//	func TestMain(m *testing.M) {
//		code := m.Run()
//		cluster.Stop()
//		os.Exit(code)
//	}
//
// All methods may be called from any goroutine.
type Cluster struct {
	Durable bool // to wait for the disk as a shop's server does; otherwise tests are faster

	mu       sync.Mutex
	dir      string // of the cluster, the certificates and the socket
	bin      string
	user     *syscall.Credential // nil for whoever runs the tests
	port     int
	password string
	server   *server
	failed   error
	made     int // databases
}

// server is a running postgres.
type server struct {
	cmd  *exec.Cmd
	log  *tail
	gone chan struct{} // closed when it has ended
}

// Database creates an empty database and returns the URL by which the cluster's administrator reaches it through the socket. The database is left
// to the end of the cluster. The test is skipped where no server is installed, and fails there when CI=true.
func (c *Cluster) Database(t testing.TB) string {
	t.Helper()
	return c.create(t, "")
}

// CopyOf creates a database that is a copy of another, to which nobody may be connected, and returns its URL like Database.
func (c *Cluster) CopyOf(t testing.TB, original string) string {
	t.Helper()
	u, err := url.Parse(original)
	if err != nil {
		t.Fatal(err)
	}
	return c.create(t, strings.TrimPrefix(u.Path, "/"))
}

func (c *Cluster) create(t testing.TB, template string) string {
	t.Helper()
	c.mu.Lock()
	defer c.mu.Unlock()
	c.need(t)
	c.made++
	name := fmt.Sprintf("test_%d", c.made)
	order := "CREATE DATABASE " + name
	if template != "" {
		order += " TEMPLATE " + pgx.Identifier{template}.Sanitize()
	}
	db, err := pgx.Connect(t.Context(), c.url("postgres"))
	if err == nil {
		_, err = db.Exec(t.Context(), order)
		err = errors.Join(err, db.Close(t.Context()))
	}
	if err != nil {
		t.Fatalf("create a database: %v\n%s", err, c.server.log)
	}
	return c.url(name)
}

// url is how the administrator reaches a database through the socket.
func (c *Cluster) url(database string) string {
	u := url.URL{Scheme: "postgres", User: url.UserPassword("admin", c.password), Path: "/" + database,
		RawQuery: url.Values{"host": {c.dir}, "port": {fmt.Sprint(c.port)}}.Encode()}
	return u.String()
}

// OverTLS turns a URL for the socket into one for loopback, where the server's certificate is verified.
func (c *Cluster) OverTLS(t testing.TB, socket string) string {
	t.Helper()
	u, err := url.Parse(socket)
	if err != nil {
		t.Fatal(err)
	}
	u.Host = net.JoinHostPort("127.0.0.1", fmt.Sprint(c.port))
	u.RawQuery = url.Values{"sslmode": {"verify-full"}, "sslrootcert": {c.CA()}}.Encode()
	return u.String()
}

// CA is the file of the certificate that signed the server's: for 127.0.0.1, localhost and shop.example.
func (c *Cluster) CA() string { return filepath.Join(c.dir, "ca.crt") }

// Port is the server's, on loopback.
func (c *Cluster) Port() int { return c.port }

// Crash ends the server without a shutdown, and returns when it is gone. What was committed is there after Restart.
func (c *Cluster) Crash(t testing.TB) {
	t.Helper()
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.end(syscall.SIGQUIT); err != nil {
		t.Fatal(err)
	}
}

// Restart starts the server again after Crash, at the same places.
func (c *Cluster) Restart(t testing.TB) {
	t.Helper()
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.start(); err != nil {
		t.Fatal(err)
	}
}

// Stop ends the server and removes all of it. A cluster that never started is stopped already.
func (c *Cluster) Stop() {
	c.mu.Lock()
	defer c.mu.Unlock()
	err := c.end(syscall.SIGQUIT)
	if c.dir != "" {
		err = errors.Join(err, os.RemoveAll(c.dir))
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "pgtest:", err)
	}
}

// need starts the server unless it runs.
func (c *Cluster) need(t testing.TB) {
	t.Helper()
	if c.server != nil {
		return
	}
	if c.failed == nil && c.dir == "" {
		if c.bin = newestServer(); c.bin == "" {
			missing(t, "no PostgreSQL server is installed in /usr/lib/postgresql: .ci/setup.sh test installs it")
		}
		if c.failed = c.make(); c.failed == nil {
			c.failed = c.start()
		}
	}
	if c.failed != nil {
		t.Fatalf("start PostgreSQL: %v", c.failed)
	}
	if c.server == nil {
		t.Fatal("the server was crashed, and not restarted")
	}
}

func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatal(what)
	}
	t.Skip(what)
}

// make creates the cluster and its certificates.
func (c *Cluster) make() error {
	var err error
	if c.user, err = unprivileged(); err != nil {
		return err
	}
	if c.dir, err = os.MkdirTemp("", "pgtest"); err != nil {
		return err
	}
	c.password = rand.Text()
	if err := writeCertificates(c.dir); err != nil {
		return err
	}
	files := map[string]string{"password": c.password, "hba": "local all all scram-sha-256\nhostssl all all 127.0.0.1/32 scram-sha-256\n"}
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(c.dir, name), []byte(text), 0o600); err != nil {
			return err
		}
	}
	if err := c.give(); err != nil {
		return err
	}
	out, err := c.command("initdb", "--username=admin", "--pwfile="+filepath.Join(c.dir, "password"), "--auth=scram-sha-256", "--encoding=UTF8",
		"--locale=C.UTF-8", "--no-sync", "--no-instructions", filepath.Join(c.dir, "data")).CombinedOutput()
	if err != nil {
		return fmt.Errorf("initdb: %w\n%s", err, out)
	}
	c.port, err = freePort()
	return err
}

// give makes the user that runs the server the owner of what is in the folder.
func (c *Cluster) give() error {
	if c.user == nil {
		return nil
	}
	own := func(path string) error { return os.Chown(path, int(c.user.Uid), int(c.user.Gid)) }
	files, err := os.ReadDir(c.dir)
	err = errors.Join(err, own(c.dir))
	for _, f := range files {
		err = errors.Join(err, own(filepath.Join(c.dir, f.Name())))
	}
	return err
}

// command is a program of the server's, to be run by its user.
func (c *Cluster) command(program string, args ...string) *exec.Cmd {
	cmd := exec.Command(filepath.Join(c.bin, program), args...)
	cmd.Dir = c.dir
	cmd.Env = []string{"PATH=/usr/bin:/bin", "LC_ALL=C.UTF-8", "TZ=UTC"}
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: c.user}
	return cmd
}

// start runs the server and returns when it answers.
func (c *Cluster) start() error {
	at := func(name string) string { return filepath.Join(c.dir, name) }
	settings := []string{"listen_addresses=127.0.0.1", fmt.Sprintf("port=%d", c.port), "unix_socket_directories=" + c.dir, "max_connections=200",
		"shared_buffers=128MB", "hba_file=" + at("hba"), "ssl=on", "ssl_cert_file=" + at("server.crt"), "ssl_key_file=" + at("server.key")}
	if !c.Durable {
		settings = append(settings, "fsync=off", "synchronous_commit=off", "full_page_writes=off", "max_wal_size=4GB")
	}
	args := []string{"-D", at("data")}
	for _, s := range settings {
		args = append(args, "-c", s)
	}
	cmd := c.command("postgres", args...)
	cmd.SysProcAttr.Setpgid = true // a terminal's interrupt is for the tests, which then stop it
	cmd.SysProcAttr.Pdeathsig = syscall.SIGQUIT
	out, err := cmd.StderrPipe()
	if err != nil {
		return err
	}
	s := &server{cmd: cmd, log: &tail{ready: make(chan struct{})}, gone: make(chan struct{})}
	started := make(chan error)
	go func() {
		defer close(s.gone)
		runtime.LockOSThread() // the kernel ends the server with the thread that started it, so that killed tests leave none behind
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			s.log.read(out)
			_ = cmd.Wait() // how it ended stands in its log
		}
	}()
	if err := <-started; err != nil {
		return err
	}
	select {
	case <-s.log.ready:
		c.server = s
		return nil
	case <-s.gone:
		return fmt.Errorf("it ended at once:\n%s", s.log)
	case <-time.After(startLimit):
		return errors.Join(fmt.Errorf("it does not answer:\n%s", s.log), cmd.Process.Kill())
	}
}

// end stops the server, if it runs, and waits until it is gone.
func (c *Cluster) end(how syscall.Signal) error {
	s := c.server
	if s == nil {
		return nil
	}
	c.server = nil
	if err := s.cmd.Process.Signal(how); err != nil && !errors.Is(err, os.ErrProcessDone) {
		return err
	}
	select {
	case <-s.gone:
		return nil
	case <-time.After(startLimit):
		return errors.Join(fmt.Errorf("the server does not stop:\n%s", s.log), s.cmd.Process.Kill())
	}
}

// tail keeps the end of a server's log.
type tail struct {
	mu    sync.Mutex
	lines []string
	ready chan struct{} // closed when the server says that it answers
}

func (l *tail) read(from io.Reader) {
	var once sync.Once
	for lines := bufio.NewScanner(from); lines.Scan(); {
		l.mu.Lock()
		l.lines = append(l.lines[max(0, len(l.lines)-40):], lines.Text())
		l.mu.Unlock()
		if strings.Contains(lines.Text(), "ready to accept connections") {
			once.Do(func() { close(l.ready) })
		}
	}
}

// String is the end of the log.
func (l *tail) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return strings.Join(l.lines, "\n")
}
