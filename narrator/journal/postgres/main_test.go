package postgres_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/journal/postgres/pgtest"
	"stepcaller/narrator/journal/storetest"
)

var cluster pgtest.Cluster

func TestMain(m *testing.M) {
	code := m.Run()
	cluster.Stop()
	os.Exit(code)
}

// ground is the database of all tests, which share it as shops do.
var ground struct {
	sync.Mutex
	url   string
	err   error
	shops int
}

// shop is a shop of a test's own.
type shop struct {
	*postgres.Admin
	url  string // the administrator's
	name string
}

// newShop adds a shop to the database of all tests.
func newShop(t testing.TB) shop {
	t.Helper()
	ground.Lock()
	defer ground.Unlock()
	if ground.url == "" {
		ground.url = cluster.Database(t)
		ground.err = postgres.Migrate(t.Context(), ground.url)
	}
	if ground.err != nil {
		t.Fatal(ground.err)
	}
	ground.shops++
	s := shop{openAdmin(t, ground.url), ground.url, fmt.Sprintf("shop-%d", ground.shops)}
	if err := s.CreateShop(t.Context(), s.name); err != nil {
		t.Fatal(err)
	}
	return s
}

func openAdmin(t testing.TB, url string) *postgres.Admin {
	t.Helper()
	admin, err := postgres.OpenAdmin(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { admin.Close(t.Context()) })
	return admin
}

// bay adds a bay and opens the shop as it.
func (s shop) bay(t testing.TB, name string) *postgres.Bay {
	t.Helper()
	return openBay(t, s.address(t, name))
}

// address adds a bay and returns its address.
func (s shop) address(t testing.TB, bay string) string {
	t.Helper()
	url, err := s.AddBay(t.Context(), s.name, bay)
	if err != nil {
		t.Fatal(err)
	}
	return url
}

func openBay(t testing.TB, url string) *postgres.Bay {
	t.Helper()
	b, err := postgres.OpenBay(url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

// connect is a connection of its own to a database.
func connect(t testing.TB, url string) *pgx.Conn {
	t.Helper()
	db, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close(t.Context()) })
	return db
}

func TestABaysStoreKeepsTheContract(t *testing.T) {
	storetest.Run(t, func(t *testing.T) journal.Store { return newShop(t).bay(t, "lift-2") })
}

func sumOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// raw is an event's detail as a bay stores it.
func raw(e narrator.Event) string {
	text, err := json.Marshal(e.Detail)
	if err != nil {
		panic(err)
	}
	return string(text)
}

func oneOf(e narrator.Event) []narrator.Event { return []narrator.Event{e} }
