package courier_test

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"testing"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/journal/postgres/pgtest"
)

// childVariable names, in the environment, what the test binary is to do instead of testing.
const childVariable = "COURIER_TEST_CHILD"

// children are the programs that tests run as processes of their own.
var children = map[string]func(args []string) error{
	"work":  workForEver,
	"drain": drain,
}

// cluster waits for the disk, as a shop's server does: what it acknowledged must be there after it was killed.
var cluster = pgtest.Cluster{Durable: true}

func TestMain(m *testing.M) {
	if child, ok := children[os.Getenv(childVariable)]; ok {
		if err := child(os.Args[1:]); err != nil {
			os.Stderr.WriteString(err.Error() + "\n")
			os.Exit(1)
		}
		os.Exit(0)
	}
	code := m.Run()
	cluster.Stop()
	os.Exit(code)
}

// shop is a shop on a real server.
type shop struct {
	admin *postgres.Admin
	url   string // the administrator's
}

const shopName = "kettle-street"

// newShop makes a database with one shop in it.
func newShop(t testing.TB) shop {
	t.Helper()
	s := shop{url: cluster.Database(t)}
	err := postgres.Migrate(t.Context(), s.url)
	if err == nil {
		s.admin, err = postgres.OpenAdmin(t.Context(), s.url)
	}
	if err == nil {
		err = s.admin.CreateShop(t.Context(), shopName)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.admin.Close(context.WithoutCancel(t.Context())) })
	return s
}

// socketAddress adds a bay and returns its address on this machine.
func (s shop) socketAddress(t testing.TB, bay string) string {
	t.Helper()
	address, err := s.admin.AddBay(t.Context(), shopName, bay)
	if err != nil {
		t.Fatal(err)
	}
	return address
}

// address adds a bay and returns its address through a proxy.
func (s shop) address(t testing.TB, bay string, p *proxy) string {
	t.Helper()
	u, err := url.Parse(s.socketAddress(t, bay))
	if err != nil {
		t.Fatal(err)
	}
	u.Host, u.RawQuery = p.listener.Addr().String(), url.Values{"sslmode": {"disable"}}.Encode()
	return u.String()
}

// socket is the file by which the server is reached on this machine.
func (s shop) socket(t testing.TB) string {
	t.Helper()
	u, err := url.Parse(s.url)
	if err != nil {
		t.Fatal(err)
	}
	q := u.Query()
	return filepath.Join(q.Get("host"), ".s.PGSQL."+q.Get("port"))
}

// held reads all that the shop holds.
func (s shop) held(t testing.TB) (all []courier.Held) {
	t.Helper()
	db, err := pgx.Connect(t.Context(), s.url)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close(t.Context())
	tx, err := db.BeginTx(t.Context(), pgx.TxOptions{IsoLevel: pgx.RepeatableRead}) // tenures and events of one moment
	if err != nil {
		t.Fatal(err)
	}
	var h courier.Held
	rows, err := tx.Query(t.Context(), `SELECT job, term, bay, after FROM stepcaller.tenure ORDER BY job, term`)
	if err == nil {
		_, err = pgx.ForEachRow(rows, []any{&h.Job, &h.Term, &h.Bay, &h.After}, func() error { all = append(all, h); return nil })
	}
	if err != nil {
		t.Fatal(err)
	}
	place := map[string]int{}
	for i, h := range all {
		place[fmt.Sprint(h.Job, " ", h.Term)] = i
	}
	rows, err = tx.Query(t.Context(), `SELECT job, term, seq, act, at, noted, kind, detail::text FROM stepcaller.event ORDER BY job, term, seq`)
	var e journal.Marked
	var term int
	if err == nil {
		_, err = pgx.ForEachRow(rows, []any{&e.Job, &term, &e.Seq, &e.Act, &e.At, &e.Noted, &e.Kind, &e.Raw}, func() error {
			i, ok := place[fmt.Sprint(e.Job, " ", term)]
			if !ok {
				return fmt.Errorf("event %d of %s has no tenure %d", e.Seq, e.Job, term)
			}
			all[i].Events = append(all[i].Events, e)
			return nil
		})
	}
	if err != nil {
		t.Fatal(err)
	}
	return all
}
