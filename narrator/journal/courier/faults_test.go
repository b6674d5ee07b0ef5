package courier_test

import (
	"bufio"
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/postgres"
)

// faultsVariable says how many faults TestEveryFault makes: 200 are what was promised, and take some minutes.
const faultsVariable = "STEPCALLER_FAULTS"

// post is a bay of the test: a folder, the network in front of it, and the process that works in it.
type post struct {
	t     *testing.T
	dir   string
	proxy *proxy
	where []string // command that runs the child in a network of its own, nil for this one
	cmd   *exec.Cmd
	done  chan struct{}

	mu        sync.Mutex
	complaint string
	state     string // as it told last
}

func newPost(t *testing.T, s shop, name string) *post {
	t.Helper()
	p := &post{t: t, dir: filepath.Join(t.TempDir(), name), proxy: newProxy(t, dialer(s.socket(t)))}
	if err := os.MkdirAll(filepath.Join(p.dir, "procedures"), 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := courier.Join(p.dir, s.address(t, name, p.proxy)); err != nil {
		t.Fatal(err)
	}
	return p
}

// start runs a child in the folder.
func (p *post) start(child string, args ...string) {
	p.t.Helper()
	line := slices.Concat(p.where, []string{os.Args[0], p.dir}, args)
	p.cmd = exec.CommandContext(context.WithoutCancel(p.t.Context()), line[0], line[1:]...)
	p.cmd.Env = append(os.Environ(), childVariable+"="+child)
	out, err := p.cmd.StdoutPipe()
	var complaint strings.Builder
	p.cmd.Stderr = &complaint
	if err == nil {
		err = p.cmd.Start()
	}
	if err != nil {
		p.t.Fatal(err)
	}
	p.done = make(chan struct{})
	go func() {
		defer close(p.done)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			if text, ok := strings.CutPrefix(lines.Text(), "refused: "); ok {
				p.complain("it refused a claimed job: " + text)
			}
			if text, ok := strings.CutPrefix(lines.Text(), "state: "); ok {
				p.mu.Lock()
				p.state = text
				p.mu.Unlock()
			}
		}
		p.cmd.Wait()
		if complaint.Len() > 0 {
			p.complain(complaint.String())
		}
	}()
}

func (p *post) complain(text string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.complaint += text + "\n"
}

// kill ends the child at once.
func (p *post) kill() {
	p.cmd.Process.Kill()
	<-p.done
}

// A bay that is killed, a network that is cut, slow or deaf, a server that is killed: whatever happens and when, the shop has in the end what the bays
// have, byte for byte and once.
func TestEveryFault(t *testing.T) {
	faults := 16
	if n, err := strconv.Atoi(os.Getenv(faultsVariable)); err == nil {
		faults = n
	}
	s := newShop(t)
	posts := map[string]*post{}
	for _, name := range []string{"lift-2", "pit", "lift-3"} {
		posts[name] = newPost(t, s, name)
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	storm := &storm{t: t, random: rand.New(rand.NewPCG(seed, 3)), posts: posts, shop: s, made: map[string]int{}}
	for _, name := range slices.Sorted(maps.Keys(posts)) {
		storm.revive(posts[name])
	}
	t.Cleanup(func() {
		for name, p := range posts {
			if t.Failed() {
				t.Logf("bay %s stood so: %s %s", name, p.state, p.complaint)
			}
		}
	})
	storm.handover() // jobs change hands from before the first fault on
	start := time.Now()
	for range faults {
		storm.fault()
	}
	for _, p := range posts {
		p.proxy.heal()
		p.proxy.breakAll()
		p.kill()
		p.start("drain")
	}
	for name, p := range posts {
		<-p.done
		if p.complaint != "" {
			t.Fatalf("bay %s: %s", name, p.complaint)
		}
	}
	t.Logf("%d faults in %v: %v", faults, time.Since(start).Round(time.Second), storm.made)
	compare(t, s, posts)
}

// storm makes faults.
type storm struct {
	t      *testing.T
	random *rand.Rand
	posts  map[string]*post
	shop   shop
	made   map[string]int
}

func (s *storm) revive(p *post) { p.start("work", fmt.Sprint(s.random.Uint64())) }

// calm lets the bays work for a while: how long is part of the fault.
func (s *storm) calm(most time.Duration) { time.Sleep(time.Duration(s.random.Int64N(int64(most)))) }

// fault makes one fault somewhere.
func (s *storm) fault() {
	names := slices.Sorted(maps.Keys(s.posts))
	p := s.posts[names[s.random.IntN(len(names))]]
	n := s.random.IntN(100)
	var kind string
	switch {
	case n < 25:
		kind = "bay killed"
		p.kill()
		s.revive(p)
	case n < 45:
		kind = "connections cut"
		p.proxy.ghosts.Store(s.random.IntN(2) == 0)
		p.proxy.breakAll()
	case n < 60:
		kind = "cut in the middle of a message"
		p.proxy.limit.Store(1 + s.random.Int64N(20_000))
		p.proxy.breakAll()
	case n < 70:
		kind = "network gone for a while"
		p.proxy.cut.Store(true)
		p.proxy.breakAll()
	case n < 80:
		kind = "answers lost"
		p.proxy.deaf.Store(true)
		s.calm(100 * time.Millisecond)
		p.proxy.breakAll()
	case n < 88:
		kind = "slow network"
		p.proxy.delay.Store(int64(20 * time.Millisecond))
	case n < 95:
		kind = "server's process killed"
		s.killBackend()
	default:
		kind = "server stopped at once"
		cluster.Crash(s.t)
		s.calm(100 * time.Millisecond)
		cluster.Restart(s.t)
	}
	s.made[kind]++
	s.calm(150 * time.Millisecond)
	p.proxy.heal()
	s.calm(100 * time.Millisecond)
}

// handover waits until one more job has changed hands.
func (s *storm) handover() {
	moved := func() (n int) {
		db, err := pgx.Connect(s.t.Context(), s.shop.url)
		if err != nil {
			return 0 // the server is starting over
		}
		defer db.Close(s.t.Context())
		if db.QueryRow(s.t.Context(), `SELECT count(*) FROM stepcaller.tenure WHERE term > 1`).Scan(&n) != nil {
			return 0
		}
		return n
	}
	before := moved()
	until(s.t, "one more job changes hands", func() bool { return moved() > before })
}

// killBackend kills the server's process that serves a bay, as a lack of memory does; the server then starts over.
func (s *storm) killBackend() {
	ctx := s.t.Context()
	db, err := pgx.Connect(ctx, s.shop.url)
	if err != nil {
		return // it is starting over
	}
	defer db.Close(ctx)
	var pid int
	if db.QueryRow(ctx, `SELECT pid FROM pg_stat_activity WHERE usename LIKE 'bay\_%' ORDER BY random() LIMIT 1`).Scan(&pid) == nil {
		if p, err := os.FindProcess(pid); err == nil {
			p.Kill()
		}
	}
}

// compare holds the shop to the journals of all bays: each of their events and notes is there once, and nothing else is.
func compare(t *testing.T, s shop, posts map[string]*post) {
	t.Helper()
	type place struct {
		bay, job string
		seq      int64
	}
	inBays := map[place]journal.Marked{}
	for name, p := range posts {
		disk, err := journal.Open(p.dir, journal.Reader)
		if err != nil {
			t.Fatal(err)
		}
		events, err := disk.Since(t.Context(), 0, 1<<30)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range events {
			inBays[place{name, courier.InShop(name, e.Job), e.Seq}] = e
		}
		compareNotes(t, disk, p, name)
		disk.Close()
	}
	own, inShop := map[place]int{}, map[string]journal.Marked{}
	moved := 0
	for _, h := range s.held(t) {
		if h.Term > 1 {
			moved++
		}
		for _, e := range h.Events {
			at := place{h.Bay, h.Job, e.Seq}
			own[at]++
			inShop[fmt.Sprint(h.Job, " ", e.Seq)] = e
			have, ok := inBays[at]
			if !ok || !courier.Same(have.Event, e.Event) || have.Raw != e.Raw {
				t.Errorf("%+v: the shop has %s %q, the bay %s %q", at, e.Kind, e.Raw, have.Kind, have.Raw)
			}
			if own[at] > 1 {
				t.Errorf("%+v: the shop has it twice", at)
			}
		}
	}
	taken := 0
	for at, e := range inBays {
		if own[at] == 1 {
			continue
		}
		taken++ // from another bay: the shop has it as that one wrote it
		if have, ok := inShop[fmt.Sprint(at.job, " ", at.seq)]; !ok || !courier.Same(have.Event, e.Event) {
			t.Errorf("%+v: %s is in the bay alone", at, e.Kind)
		}
	}
	t.Logf("%d events in three bays are in the shop; jobs changed bay %d times, with %d events", len(inBays)-taken, moved, taken)
	if len(own) != len(inBays)-taken {
		t.Errorf("the bays wrote %d events, the shop has %d", len(inBays)-taken, len(own))
	}
}

// compareNotes holds the notes in the shop to those that a bay took.
func compareNotes(t *testing.T, disk *journal.SQLite, p *post, name string) {
	t.Helper()
	joined, err := courier.ReadJoined(p.dir)
	if err != nil {
		t.Fatal(err)
	}
	shop, err := postgres.OpenBay(joined.URL)
	if err != nil {
		t.Fatal(err)
	}
	defer shop.Close()
	files, err := shop.Files(t.Context(), courier.Memo)
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]string{}
	for _, f := range files {
		if f.Bay == name {
			there[f.Name] = f.Sum
		}
	}
	kept, err := disk.Memos().Kept()
	if err != nil {
		t.Fatal(err)
	}
	events, err := disk.Since(t.Context(), 0, 1<<30)
	if err != nil {
		t.Fatal(err)
	}
	named := map[string]bool{}
	for _, e := range events {
		if e.Kind == narrator.Recorded {
			named[e.File] = true
		}
	}
	sent := 0
	for _, m := range kept {
		sum := sumOf(t, m.Path)
		switch got, ok := there[courier.FileInShop(name, m.File)]; {
		case ok && got != sum:
			t.Errorf("bay %s: note %s is another in the shop", name, m.File)
		case ok:
			sent++
		case named[m.File] && strings.Count(m.File, ".") == 1: // of a job that began here and nobody else noted in
			t.Errorf("bay %s: note %s is not in the shop", name, m.File)
		}
	}
	t.Logf("bay %s: %d notes are in the shop", name, sent)
}

func sumOf(t *testing.T, path string) string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%x", h.Sum(nil))
}
