package courier_test

import (
	"fmt"
	"net"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

// The cable between the two networks of TestThePulledCable.
const (
	farNetwork = "stepcaller-test"
	nearEnd    = "stepcaller-t0"
	farEnd     = "stepcaller-t1"
	nearIP     = "10.213.77.1"
	farIP      = "10.213.77.2"
)

// ip runs the tool that sets up networks.
func ip(args ...string) error {
	out, err := exec.Command("ip", args...).CombinedOutput()
	if err != nil {
		return fmt.Errorf("ip %q: %w: %s", args, err, out)
	}
	return nil
}

// layCable makes a network that only a cable joins to this one, in which shop.example is this machine.
func layCable(t *testing.T) {
	t.Helper()
	if os.Geteuid() != 0 {
		t.Skip("only root makes networks")
	}
	hosts := filepath.Join("/etc/netns", farNetwork, "hosts")
	remove := func() {
		_ = ip("netns", "del", farNetwork) // it takes its end of the cable with it, and that the other
		os.RemoveAll(filepath.Dir(hosts))
		os.Remove(filepath.Dir(filepath.Dir(hosts))) // unless somebody else has networks
	}
	remove()
	if err := ip("netns", "add", farNetwork); err != nil {
		t.Skipf("this machine makes no networks: %v", err)
	}
	t.Cleanup(remove)
	if err := os.MkdirAll(filepath.Dir(hosts), 0o755); err != nil {
		t.Skipf("this machine lets nobody name hosts: %v", err)
	}
	if err := os.WriteFile(hosts, []byte("127.0.0.1 localhost\n"+nearIP+" shop.example\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"link", "add", nearEnd, "type", "veth", "peer", "name", farEnd, "netns", farNetwork},
		{"addr", "add", nearIP + "/30", "dev", nearEnd},
		{"link", "set", nearEnd, "up"},
		{"-n", farNetwork, "addr", "add", farIP + "/30", "dev", farEnd},
		{"-n", farNetwork, "link", "set", farEnd, "up"},
		{"-n", farNetwork, "link", "set", "lo", "up"},
	} {
		if err := ip(args...); err != nil {
			t.Skipf("this machine joins no networks: %v", err)
		}
	}
}

// A bay on another machine works on while its cable is out, which no end of the line is told of, and sends what it has when it is in again. The
// certificate of the shop is verified.
func TestThePulledCable(t *testing.T) {
	s := newShop(t)
	layCable(t)
	proxy := newProxyAt(t, nearIP, func() (net.Conn, error) {
		return (&net.Dialer{}).DialContext(t.Context(), "tcp", net.JoinHostPort("127.0.0.1", fmt.Sprint(cluster.Port())))
	})
	_, port, err := net.SplitHostPort(proxy.listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	u, err := url.Parse(s.socketAddress(t, "lift-2"))
	if err != nil {
		t.Fatal(err)
	}
	u.Host, u.RawQuery = net.JoinHostPort("shop.example", port), url.Values{"sslmode": {"verify-full"}, "sslrootcert": {cluster.CA()}}.Encode()
	p := &post{t: t, dir: filepath.Join(t.TempDir(), "lift-2"), proxy: proxy, where: []string{"ip", "netns", "exec", farNetwork}}
	if err := os.MkdirAll(filepath.Join(p.dir, "procedures"), 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := courier.Join(p.dir, u.String()); err != nil {
		t.Fatal(err)
	}
	p.start("work", "1")
	sent := func() (n int) {
		for _, h := range s.held(t) {
			n += len(h.Events)
		}
		return n
	}
	until(t, "the bay's events arrive", func() bool { return sent() > 20 })
	if err := ip("link", "set", nearEnd, "down"); err != nil {
		t.Fatal(err)
	}
	before := recorded(t, p.dir)
	until(t, "the bay works on", func() bool { return recorded(t, p.dir) > before+50 })
	there := sent()
	if err := ip("link", "set", nearEnd, "up"); err != nil {
		t.Fatal(err)
	}
	until(t, "the bay sends again", func() bool { return sent() > there+50 })
	p.kill()
	p.start("drain")
	<-p.done
	if p.complaint != "" {
		t.Fatal(p.complaint)
	}
	held := 0
	for _, h := range s.held(t) {
		held += len(h.Events)
	}
	if have := recorded(t, p.dir); held != have {
		t.Errorf("the bay has %d events, the shop %d", have, held)
	}
}

// recorded counts the events of a bay's journal.
func recorded(t *testing.T, dir string) int {
	t.Helper()
	disk, err := journal.Open(dir, journal.Reader)
	if err != nil {
		t.Fatal(err)
	}
	defer disk.Close()
	events, err := disk.Since(t.Context(), 0, 1<<30)
	if err != nil {
		t.Fatal(err)
	}
	return len(events)
}
