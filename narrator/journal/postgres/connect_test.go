package postgres_test

import (
	"errors"
	"io"
	"net"
	"net/url"
	"path/filepath"
	"strings"
	"testing"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/journal/storetest"
)

// from changes an address's host and parameters.
func from(t *testing.T, address, host, query string) string {
	t.Helper()
	u, err := url.Parse(address)
	must(t, err)
	u.Host, u.RawQuery = host, query
	return u.String()
}

func TestBeyondThisMachineTheServerMustProveItself(t *testing.T) {
	s := newShop(t)
	bay := cluster.OverTLS(t, s.address(t, "lift-2"))
	_, port, err := net.SplitHostPort(strings.Split(strings.Split(bay, "@")[1], "/")[0])
	must(t, err)
	ca, stranger := "sslrootcert="+cluster.CA(), "sslrootcert="+filepath.Join(filepath.Dir(cluster.CA()), "stranger.crt")
	for _, c := range []struct {
		name, host, query string
		want              error
	}{
		{"a trusted certificate, and no word about TLS", "shop.example", ca, nil},
		{"a trusted certificate", "shop.example", "sslmode=verify-full&" + ca, nil},
		{"a certificate that another signed", "shop.example", stranger, postgres.ErrUntrusted},
		{"a certificate of another host", "other.example", ca, postgres.ErrUntrusted},
		{"a certificate that nobody here knows", "shop.example", "", postgres.ErrUntrusted},
	} {
		b, err := postgres.OpenBayAs(from(t, bay, c.host+":"+port, c.query), c.host, "127.0.0.1")
		must(t, err)
		defer b.Close()
		if _, _, err := b.Bay(t.Context()); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	for _, mode := range []string{"disable", "allow", "prefer", "require", "verify-ca"} {
		for _, host := range []string{"shop.example", "192.0.2.7", "[2001:db8::7]", ""} {
			if _, err := postgres.OpenBay(from(t, bay, host, "host=127.0.0.1,shop.example&sslmode="+mode)); !errors.Is(err, postgres.ErrPlain) {
				t.Errorf("%s with sslmode=%s: %v", host, mode, err)
			}
		}
	}
	if err := postgres.Migrate(t.Context(), from(t, s.url, "shop.example", "sslmode=disable")); !errors.Is(err, postgres.ErrPlain) {
		t.Errorf("the administrator: %v", err)
	}
}

func TestAServerWithoutTLSIsTold(t *testing.T) {
	plain, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	defer plain.Close()
	go func() {
		for {
			c, err := plain.Accept()
			if err != nil {
				return
			}
			_, _ = io.ReadFull(c, make([]byte, 8)) // SSLRequest
			_, _ = c.Write([]byte("N"))
			c.Close()
		}
	}()
	b, err := postgres.OpenBay("postgres://lift:secret@" + plain.Addr().String() + "/shop?sslmode=verify-full&sslrootcert=" + caOf(t))
	must(t, err)
	defer b.Close()
	if _, _, err := b.Bay(t.Context()); !errors.Is(err, postgres.ErrPlain) {
		t.Error(err)
	}
}

func caOf(t *testing.T) string {
	t.Helper()
	newShop(t)
	return cluster.CA()
}

func TestWhatIsWrongIsSaid(t *testing.T) {
	s := newShop(t)
	lift := s.address(t, "lift-2")
	pages, err := s.AddPages(t.Context(), s.name)
	must(t, err)
	bare, newer, older := cluster.Database(t), cluster.Database(t), cluster.Database(t)
	must(t, postgres.Migrate(t.Context(), newer), postgres.MigrateTo(t.Context(), older, postgres.NewestSchema()-1))
	_, err = connect(t, newer).Exec(t.Context(), `INSERT INTO stepcaller.migration (version_id, is_applied) VALUES (4711, true)`)
	must(t, err)
	nobody, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err, nobody.Close())
	in := func(database string) string {
		u, err := url.Parse(lift)
		must(t, err)
		d, err := url.Parse(database)
		must(t, err)
		u.Path = d.Path
		return u.String()
	}
	for _, c := range []struct {
		name, address string
		want          error
		says          string
	}{
		{"nobody listens", "postgres://a:topsecret@" + nobody.Addr().String() + "/shop", courier.ErrUnreachable, "is kept, and sent when it answers"},
		{"a wrong password", strings.Replace(lift, ":"+password(t, lift), ":topsecret", 1), courier.ErrRefused, "shop join"},
		{"an unknown database", in("x:///nowhere"), journal.ErrForeign, "no shop in it"},
		{"another program's database", in(bare), journal.ErrForeign, "no shop in it"},
		{"a newer schema", in(newer), journal.ErrNewer, "schema 4711, this program knows"},
		{"an older schema", in(older), postgres.ErrOlder, "whoever runs the shop's server"},
		{"pages", pages, courier.ErrRefused, "shop join"},
		{"the administrator", s.url, courier.ErrRefused, "not a bay's"},
	} {
		b, err := postgres.OpenBay(c.address)
		must(t, err)
		defer b.Close()
		_, _, err = b.Bay(t.Context())
		if !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "topsecret") || strings.Contains(err.Error(), password(t, lift)) {
			t.Errorf("%s: %v\nwant %v, and %q", c.name, err, c.want, c.says)
		}
	}
	for _, address := range []string{"", "shop.example", "http://shop.example/", "postgres:///northside", "postgres://a:topsecret@[::1/x", "postgres://a:topsecret@h/x?sslmode=perhaps"} {
		if _, err := postgres.OpenBay(address); err == nil || strings.Contains(err.Error(), "topsecret") || !strings.Contains(err.Error(), "postgres://ROLE") {
			t.Errorf("address %q: %v", address, err)
		}
	}
	pit := s.bay(t, "pit")
	must(t, pit.Append(t.Context(), storetest.NewJob("2000-01-01-1", storetest.Dawn).Events))
	b := openBay(t, lift)
	if _, err := b.Claim(t.Context(), "2000-01-01-1.pit", false); !errors.Is(err, courier.ErrNotOwner) || !strings.Contains(err.Error(), "bay pit") {
		t.Errorf("another bay's job: %v", err)
	}
}

func password(t *testing.T, address string) string {
	t.Helper()
	u, err := url.Parse(address)
	must(t, err)
	p, _ := u.User.Password()
	return p
}

func TestTheAdministratorIsToldWhatIsWrong(t *testing.T) {
	s := newShop(t)
	for name, want := range map[string]error{"": postgres.ErrName, "North Side": postgres.ErrName, s.name: postgres.ErrExists} {
		if err := s.CreateShop(t.Context(), name); !errors.Is(err, want) {
			t.Errorf("shop %q: %v", name, err)
		}
	}
	if _, err := s.AddBay(t.Context(), s.name, "lift.2"); !errors.Is(err, postgres.ErrName) {
		t.Errorf("bay: %v", err)
	}
	for _, err := range []error{second(s.AddBay(t.Context(), "nowhere", "pit")), second(s.AddPages(t.Context(), s.name, "nowhere")),
		s.RevokeBay(t.Context(), "nowhere", "pit"), second(s.IssueToken(t.Context(), "nowhere", "Jo"))} {
		if !errors.Is(err, postgres.ErrNoShop) {
			t.Error(err)
		}
	}
	foreign := cluster.Database(t)
	_, err := connect(t, foreign).Exec(t.Context(), `CREATE TABLE recipe (id int)`)
	must(t, err)
	if err := postgres.Migrate(t.Context(), foreign); !errors.Is(err, journal.ErrForeign) {
		t.Errorf("another program's database: %v", err)
	}
	if _, err := postgres.OpenAdmin(t.Context(), foreign); !errors.Is(err, journal.ErrForeign) {
		t.Errorf("another program's database: %v", err)
	}
}

func second[T any](_ T, err error) error { return err }
