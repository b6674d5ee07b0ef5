package pages_test

import (
	"encoding/json"
	"fmt"
	"os"
	"runtime/debug"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/journal/postgres/pgtest"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/labour/archive/archivetest"
	"stepcaller/narrator/pages"
)

// BenchmarkShop is as BenchmarkPages over a real PostgreSQL that holds so many jobs: STEPCALLER_BENCH_SHOP, 20 000 without. It prints as well what an event takes
// on the server's disk, and how fast figures are worked out from there. STEPCALLER_BENCH_SHOP=400000 is 50 bays' year, 20 million events.
func BenchmarkShop(b *testing.B) {
	jobs := 20_000
	if more := os.Getenv("STEPCALLER_BENCH_SHOP"); more != "" {
		var err error
		if jobs, err = strconv.Atoi(more); err != nil || jobs < 1000 {
			b.Fatalf("STEPCALLER_BENCH_SHOP=%s is no number of jobs", more)
		}
	}
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(80 << 20))
	var cluster pgtest.Cluster
	defer cluster.Stop()
	y := fillServer(b, cluster.Database(b), jobs)
	store, err := postgres.OpenShop(y.reader, "")
	if err != nil {
		b.Fatal(err)
	}
	defer store.Close()
	dir := archivetest.Folder(b)
	a, err := archive.Open(dir, store)
	if err != nil {
		b.Fatal(err)
	}
	defer a.Close()
	began := time.Now()
	if err := a.Refresh(b.Context()); err != nil {
		b.Fatal(err)
	}
	b.Run("server", func(b *testing.B) {
		for b.Loop() {
		}
		b.ReportMetric(y.size/float64(y.events), "bytes/event")
		b.ReportMetric(float64(y.events), "events")
		b.ReportMetric(float64(y.events)/y.took.Seconds(), "loaded-events/s")
		b.ReportMetric(float64(jobs)/time.Since(began).Seconds(), "figures-jobs/s")
		b.ReportMetric(0, "ns/op")
	})
	now := y.shop.Begun(jobs - 1).Add(time.Hour)
	handler, err := pages.New(pages.Config{Store: store, Data: dir, Archive: a, Shop: "mill", Procedures: b.TempDir(), Now: func() time.Time { return now }})
	if err != nil {
		b.Fatal(err)
	}
	benchEach(b, handler, y.shop, y.finish(b))
}

// yearOfAShop is what a server was filled with.
type yearOfAShop struct {
	shop   *archivetest.Shop
	reader string  // address of a login that reads the shop
	bay    string  // address of bay lift-1
	events int64   //
	size   float64 // bytes on the server's disk
	took   time.Duration
}

// fillServer copies the made-up jobs of a shop into a server's tables: sent by their bays it would take hours.
func fillServer(b *testing.B, admin string, jobs int) yearOfAShop {
	b.Helper()
	y := yearOfAShop{shop: archivetest.Usual(jobs)}
	if len(y.shop.Bays) == 0 {
		y.shop.Bays = []string{"lift-1", "lift-2"}
	}
	must := func(err error) {
		b.Helper()
		if err != nil {
			b.Fatal(err)
		}
	}
	ctx := b.Context()
	must(postgres.Migrate(ctx, admin))
	keeper, err := postgres.OpenAdmin(ctx, admin)
	must(err)
	defer keeper.Close(ctx)
	must(keeper.CreateShop(ctx, "mill"))
	for _, bay := range y.shop.Bays {
		address, err := keeper.AddBay(ctx, "mill", bay)
		must(err)
		if bay == "lift-1" {
			y.bay = address
		}
	}
	y.reader, err = keeper.AddPages(ctx, "mill")
	must(err)
	db, err := pgx.Connect(ctx, admin)
	must(err)
	defer db.Close(ctx)
	began := time.Now()
	months := map[int]bool{}
	var mark int64
	const part = 2000 // jobs copied at once
	for from := 0; from < jobs; from += part {
		var heads, terms, events [][]any
		for n := from; n < min(from+part, jobs); n++ {
			id, begun := y.shop.ID(n), y.shop.Begun(n)
			month := begun.Year()*12 - 1970*12 + int(begun.Month()) - 1
			if !months[month] {
				months[month] = true
				_, err := db.Exec(ctx, `SELECT stepcaller.make_partition($1)`, month)
				must(err)
			}
			bay := y.shop.Bays[n%len(y.shop.Bays)]
			log, err := y.shop.Log(ctx, id)
			must(err)
			for _, e := range log {
				mark++
				events = append(events, []any{1, month, id, 1, e.Seq, bay, mark, e.Act, int64(e.At), int64(e.Noted), e.Ref, string(e.Kind), heading(b, e), detail(b, e.Detail)})
			}
			last, ended := log[len(log)-1], int64(0)
			if last.Kind == narrator.Finished {
				ended = int64(last.At)
			}
			heads = append(heads, []any{1, id, bay, month, mark, last.Seq, int64(log[0].At), ended, int64(last.At), heading(b, log[0])})
			terms = append(terms, []any{1, id, 1, bay, 0, int64(log[0].At)})
		}
		for _, t := range []struct {
			name    string
			columns string
			rows    [][]any
		}{
			{"job", "shop job bay month mark last began ended at heading", heads},
			{"tenure", "shop job term bay after at", terms},
			{"event", "shop month job term seq bay mark act at noted ref kind heading detail", events},
		} {
			_, err := db.CopyFrom(ctx, pgx.Identifier{"stepcaller", t.name}, strings.Fields(t.columns), pgx.CopyFromRows(t.rows))
			must(err)
		}
	}
	_, err = db.Exec(ctx, `UPDATE stepcaller.shop SET mark = $1`, mark)
	must(err)
	_, err = db.Exec(ctx, `VACUUM (ANALYZE)`)
	must(err)
	must(db.QueryRow(ctx, `SELECT pg_database_size(current_database())`).Scan(&y.size))
	y.events, y.took = mark, time.Since(began)
	return y
}

// heading is the detail of an event that opens a job, without the file's text, as the server keeps it beside; nil for any other.
func heading(b *testing.B, e narrator.Event) any {
	if e.Kind != narrator.Opened {
		return nil
	}
	e.Text = ""
	return detail(b, e.Detail)
}

func detail(b *testing.B, d narrator.Detail) string {
	b.Helper()
	text, err := json.Marshal(d)
	if err != nil {
		b.Fatal(err)
	}
	return string(text)
}

// finish has bay lift-1 send one finished job more each time.
func (y yearOfAShop) finish(b *testing.B) func() {
	b.Helper()
	bay, err := postgres.OpenBay(y.bay)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { bay.Close() })
	var store journal.Store = bay
	n := 0
	return func() {
		n++
		log, err := y.shop.Log(b.Context(), y.shop.ID(n))
		if err != nil {
			b.Fatal(err)
		}
		for i := range log {
			log[i].Job = fmt.Sprintf("2002-02-02-%d", n)
		}
		if err := store.Append(b.Context(), log); err != nil {
			b.Fatal(err)
		}
	}
}
