package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/storetest"
)

// prey is a shop in which everything is that somebody might want: jobs of two bays, files, tokens.
type prey struct {
	shop
	id       int32
	thief    string // address of bay lift-2
	own      string // sum of a memo of a job of the bay pit
	voice    string // sum of a voice
	attacker *pgx.Conn
}

func newPrey(t *testing.T) prey {
	t.Helper()
	p := prey{shop: newShop(t)}
	p.thief = p.address(t, "lift-2")
	thief, pit := openBay(t, p.thief), p.bay(t, "pit")
	for _, b := range []journal.Store{thief, pit} {
		err := b.Append(t.Context(), slices.Concat(storetest.NewJob("2000-01-01-1", storetest.Dawn).Events,
			storetest.NewBay(storetest.Dawn).Then(1, narrator.Listening, narrator.Detail{}).Events))
		must(t, err, b.Begin(t.Context(), journal.Session{Boot: "5a61"}), b.Beat(t.Context(), storetest.Dawn))
	}
	p.own, p.voice = sumOf("a note"), sumOf("a voice")
	must(t, pit.Put(t.Context(), courier.File{Kind: courier.Memo, Name: "memos/2000-01-01-1.pit-1.wav", Sum: p.own, Size: 6}, 0, []byte("a note")),
		pit.Put(t.Context(), courier.File{Kind: courier.Voice, Name: "ines/ines.voice", Sum: p.voice, Size: 7}, 0, []byte("a voice")),
		pit.Put(t.Context(), courier.File{Kind: courier.Procedure, Name: "fan-belt", Sum: sumOf("a text"), Size: 6}, 0, []byte("a text")))
	must(t, pit.Send(t.Context(), courier.Batch{Journal: "pit's"}))
	_, err := p.IssueToken(t.Context(), p.name, "Ines")
	must(t, err, connect(t, p.url).QueryRow(t.Context(), `SELECT shop FROM stepcaller.shop WHERE name = $1`, p.name).Scan(&p.id))
	p.attacker = connect(t, p.thief)
	return p
}

func must(t testing.TB, errs ...error) {
	t.Helper()
	if err := errors.Join(errs...); err != nil {
		t.Fatal(err)
	}
}

// relations are all tables, partitions, sequences and views of the program's schema.
func relations(t *testing.T, db *pgx.Conn, kinds string) []string {
	t.Helper()
	rows, err := db.Query(t.Context(), `SELECT 'stepcaller.' || quote_ident(relname) FROM pg_class
		WHERE relnamespace = (SELECT oid FROM pg_namespace WHERE nspname = 'stepcaller') AND relkind = ANY (string_to_array($1, NULL)::"char"[]) ORDER BY 1`, kinds)
	must(t, err)
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	must(t, err)
	return names
}

func TestABayReachesNoTable(t *testing.T) {
	p := newPrey(t)
	tables := relations(t, p.attacker, "rp")
	if len(tables) < 14 || !slices.Contains(tables, "stepcaller.event_2000_01") {
		t.Fatalf("the catalogue holds %q", tables)
	}
	for _, table := range tables {
		for _, order := range []string{"SELECT count(*) FROM %s", "SELECT FROM %s", "INSERT INTO %s DEFAULT VALUES", "DELETE FROM %s", "TRUNCATE %s",
			"COPY %s TO STDOUT", "ALTER TABLE %s DISABLE ROW LEVEL SECURITY", "ALTER TABLE %s NO FORCE ROW LEVEL SECURITY", "DROP TABLE %s", "CREATE TRIGGER t BEFORE INSERT ON %s EXECUTE FUNCTION stepcaller.stay()",
			"CREATE POLICY open ON %s USING (true)", "GRANT SELECT ON %s TO PUBLIC"} {
			refused(t, p.attacker, fmt.Sprintf(order, table))
		}
		rows, err := connect(t, p.url).Query(t.Context(), `SELECT attname FROM pg_attribute WHERE attrelid = $1::text::regclass AND attnum > 0`, table)
		must(t, err)
		columns, err := pgx.CollectRows(rows, pgx.RowTo[string])
		must(t, err)
		for _, c := range columns {
			refused(t, p.attacker, fmt.Sprintf("SELECT %s FROM %s", c, table))
			refused(t, p.attacker, fmt.Sprintf("UPDATE %s SET %s = DEFAULT", table, c))
		}
	}
	for _, sequence := range relations(t, p.attacker, "S") {
		refused(t, p.attacker, fmt.Sprintf("SELECT nextval('%s')", sequence))
	}
}

// refused fails unless an order is refused for want of a right, and not by chance.
func refused(t *testing.T, db *pgx.Conn, order string, args ...any) {
	t.Helper()
	wantCode(t, db, "42501", order, args...)
}

// wantCode fails unless an order is refused with one of some SQLSTATEs.
func wantCode(t *testing.T, db *pgx.Conn, codes, order string, args ...any) {
	t.Helper()
	_, err := db.Exec(t.Context(), order, args...)
	var refusal *pgconn.PgError
	if !errors.As(err, &refusal) || !strings.Contains(codes, refusal.Code) {
		t.Errorf("%s\n\tis answered with %v, want %s", order, err, codes)
	}
}

// What a bay can do is what these functions do. Whoever adds one shows here, or in the next test, that it cannot be misused.
func TestABayMayCallJustTheseFunctions(t *testing.T) {
	p := newPrey(t)
	rows, err := p.attacker.Query(t.Context(), `SELECT proname FROM pg_proc WHERE pronamespace = (SELECT oid FROM pg_namespace WHERE nspname = 'stepcaller')
		AND has_function_privilege(oid, 'EXECUTE') ORDER BY 1`)
	must(t, err)
	got, err := pgx.CollectRows(rows, pgx.RowTo[string])
	want := []string{"append", "arrived", "beat", "begin_session", "branch", "channel", "claim", "files", "get", "has", "job_log", "jobs", "last_beat", "last_session", "lost",
		"offers", "put", "release", "schema_version", "since", "told", "whoami", "withdraw"}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("a bay may call %q, %v\nwant %q", got, err, want)
	}
	rows, err = p.attacker.Query(t.Context(), `SELECT proname FROM pg_proc WHERE pronamespace = (SELECT oid FROM pg_namespace WHERE nspname = 'stepcaller')
		AND NOT coalesce(array_to_string(proconfig, ',') = 'search_path=stepcaller, pg_temp', false) ORDER BY 1`)
	must(t, err)
	if open, err := pgx.CollectRows(rows, pgx.RowTo[string]); err != nil || len(open) != 0 {
		t.Errorf("without a fixed search path: %q, %v", open, err)
	}
}

func TestABayGetsNothingByForeignNames(t *testing.T) {
	p, other := newPrey(t), newPrey(t)
	event := func(job string, seq int) string {
		return fmt.Sprintf(`SELECT stepcaller.append(NULL, 0, '', '{1}', '{%s}', '{%d}', '{1}', '{1}', '{1}', '{0}', '{word}', '{NULL}', '{"{}"}')`, job, seq)
	}
	wantCode(t, p.attacker, "SC002", event("2000-01-01-1.pit", 3))
	wantCode(t, p.attacker, "SC002", event("2000-01-01-9.pit", 1))
	wantCode(t, p.attacker, "SC002", event("2000-01-01-9.pit.lift-2", 1))
	wantCode(t, p.attacker, "SC002", event("2000-01-01-9", 1))
	wantCode(t, p.attacker, "SC002", event(".lift-2", 1))
	wantCode(t, p.attacker, "SC002", event("@pit", 2))
	wantCode(t, p.attacker, "SC002", event("@pit.lift-2", 1)) // looks like a job, and like another bay's log
	wantCode(t, p.attacker, "SC001", event("2000-01-01-1.lift-2", 2))
	wantCode(t, p.attacker, "SC002", `SELECT stepcaller.claim('2000-01-01-1.pit', false)`)
	wantCode(t, p.attacker, "SC003", `SELECT stepcaller.claim('@pit', true)`)
	wantCode(t, p.attacker, "SC002", `SELECT stepcaller.release('2000-01-01-1.pit', 2, 'lift-2')`)
	wantCode(t, p.attacker, "SC010", `SELECT stepcaller.release('2000-01-01-1.lift-2', 2, 'nobody')`)
	wantCode(t, p.attacker, "SC002", `SELECT stepcaller.branch('2000-01-01-1.pit', 0)`)
	wantCode(t, p.attacker, "SC003", `SELECT stepcaller.branch('2000-01-01-1.elsewhere', 0)`)
	wantCode(t, p.attacker, "SC002", `SELECT stepcaller.put('memo', 'memos/2000-01-01-1.pit-2.wav', $1, 1, '', 0, 'x')`, sumOf("x"))
	wantCode(t, p.attacker, "SC009", `SELECT stepcaller.get('memo', 'memos/2000-01-01-1.pit-1.wav', $1, 0, 100)`, p.own)
	wantCode(t, p.attacker, "23514", `SELECT stepcaller.put('token', 'Ines', $1, 1, '', 0, 'x')`, sumOf("x"))
	empty(t, p.attacker, `SELECT * FROM stepcaller.job_log('2000-01-01-1.pit')`)
	empty(t, p.attacker, `SELECT * FROM stepcaller.job_log('@pit')`)
	empty(t, p.attacker, `SELECT * FROM stepcaller.files('token')`)
	empty(t, p.attacker, `SELECT FROM stepcaller.since(0, 1000) WHERE bay <> 'lift-2'`)
	empty(t, p.attacker, `SELECT FROM stepcaller.jobs(0, '') WHERE job LIKE '%pit'`)
	empty(t, p.attacker, `SELECT FROM stepcaller.arrived('pit''s') WHERE mark > 0`)
	for _, f := range []string{`since(-9, 1000)`, `jobs(-9, '')`, `files('voice')`, `files('procedure')`, `files('memo')`, `last_session()`} {
		empty(t, p.attacker, fmt.Sprintf(`SELECT FROM stepcaller.%s WHERE shop <> %d`, f, p.id))
	}
	before := snapshot(t, other)
	for _, order := range []string{`SELECT stepcaller.withdraw('ines')`, `SELECT stepcaller.withdraw('')`, `SELECT stepcaller.told(9, 9, 9)`, `SELECT stepcaller.beat(9)`,
		`SELECT stepcaller.begin_session('', 9, 9)`, `SELECT stepcaller.claim('2000-01-01-1.pit', true)`} {
		if _, err := p.attacker.Exec(t.Context(), order); err != nil {
			t.Error(order, err)
		}
	}
	wantCode(t, p.attacker, "SC009", `SELECT stepcaller.get('voice', 'ines/ines.voice', $1, 0, 100)`, p.voice) // withdrawn, and the other shop's has the same name
	if after := snapshot(t, other); after != before {
		t.Errorf("another shop was changed:\n%s\nwas\n%s", after, before)
	}
}

func empty(t *testing.T, db *pgx.Conn, query string) {
	t.Helper()
	done, err := db.Exec(t.Context(), query)
	if err != nil || done.RowsAffected() != 0 {
		t.Errorf("%s: %d rows, %v", query, done.RowsAffected(), err)
	}
}

// snapshot is all that a shop holds, in one text.
func snapshot(t *testing.T, p prey) string {
	t.Helper()
	db := connect(t, p.url)
	var all strings.Builder
	for _, table := range relations(t, db, "rp") {
		if table == "stepcaller.migration" {
			continue
		}
		var rows string
		must(t, db.QueryRow(t.Context(), fmt.Sprintf(`SELECT coalesce(string_agg(t::text, E'\n' ORDER BY t::text), '') FROM %s t WHERE shop = $1`, table), p.id).Scan(&rows))
		fmt.Fprintln(&all, table, rows)
	}
	return all.String()
}

func TestABayBecomesNobodyElseAndMakesNothing(t *testing.T) {
	p := newPrey(t)
	u, err := url.Parse(p.thief)
	must(t, err)
	for _, role := range []string{"stepcaller_keeper", "stepcaller_owner", "stepcaller_pages", "admin", "pg_read_all_data"} {
		refused(t, p.attacker, `SET ROLE `+role)
		refused(t, p.attacker, `SELECT set_config('role', $1, false)`, role)
		refused(t, p.attacker, `SET SESSION AUTHORIZATION `+role)
		refused(t, p.attacker, fmt.Sprintf(`GRANT %s TO %s`, role, u.User.Username()))
	}
	for _, order := range []string{`CREATE TABLE stepcaller.mine (n int)`, `CREATE TABLE public.mine (n int)`, `CREATE TEMP TABLE member (role text)`,
		`CREATE FUNCTION stepcaller.me() RETURNS int LANGUAGE sql AS 'SELECT 1'`, `CREATE FUNCTION pg_temp.now() RETURNS int LANGUAGE sql AS 'SELECT 1'`, `CREATE SCHEMA mine`,
		`CREATE EXTENSION dblink SCHEMA public`, `CREATE ROLE mine`, `CREATE DATABASE mine`, `SELECT lo_create(0)`, `SELECT lo_from_bytea(0, 'x')`, `SELECT lo_creat(1)`, `COPY (SELECT 1) TO PROGRAM 'true'`,
		`SELECT pg_read_file('/etc/passwd')`, `ALTER SYSTEM SET fsync = off`, `SET session_replication_role = replica`, `SELECT * FROM pg_authid`,
		`CREATE OR REPLACE FUNCTION stepcaller.stay() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN OLD; END'`, `ALTER FUNCTION stepcaller.me() SECURITY INVOKER`,
		`DO 'BEGIN PERFORM FROM stepcaller.event; END'`, `ALTER ROLE stepcaller_bay BYPASSRLS`, `DROP SCHEMA stepcaller CASCADE`, `SELECT stepcaller.make_partition(400)`,
		`CALL stepcaller.guard('stepcaller.event')`, `SELECT stepcaller.story(1, '', 1)`, `SELECT stepcaller.check_token(1, 'Ines', '')`} {
		refused(t, p.attacker, order)
	}
	for _, order := range []string{`SET search_path = pg_temp, public`, `SET stepcaller.shop = '1'`} { // may be said, and changes nothing
		if _, err := p.attacker.Exec(t.Context(), order); err != nil {
			t.Error(err)
		}
	}
	var bay, shop string
	_, err = p.attacker.Exec(t.Context(), `SET row_security = off`)
	must(t, err)
	refused(t, p.attacker, `SELECT stepcaller.whoami()`) // it shuts the door behind itself
	_, err = p.attacker.Exec(t.Context(), `SET row_security = on`)
	must(t, err, p.attacker.QueryRow(t.Context(), `SELECT bay, shop FROM stepcaller.whoami()`).Scan(&bay, &shop))
	if bay != "lift-2" || shop != p.name {
		t.Errorf("with a search path of its own, the bay is %s of %s", bay, shop)
	}
}

// A mistake in a function shows no other shop: the role that owns the functions is bound too.
func TestAFaultyFunctionStaysInItsShop(t *testing.T) {
	p, other := newPrey(t), newPrey(t)
	admin := connect(t, p.url)
	_, err := admin.Exec(t.Context(), `SET ROLE stepcaller_keeper; CREATE FUNCTION stepcaller.faulty(query text) RETURNS bigint LANGUAGE plpgsql SECURITY DEFINER AS
		'DECLARE n bigint; BEGIN EXECUTE query INTO n; RETURN n; END'; GRANT EXECUTE ON FUNCTION stepcaller.faulty TO stepcaller_bay; RESET ROLE`)
	must(t, err)
	t.Cleanup(func() {
		_, err := admin.Exec(context.WithoutCancel(t.Context()), `DROP FUNCTION stepcaller.faulty`)
		must(t, err)
	})
	for _, table := range relations(t, p.attacker, "rp") {
		if table == "stepcaller.migration" {
			continue
		}
		var foreign, own int
		must(t, p.attacker.QueryRow(t.Context(), `SELECT stepcaller.faulty($1)`, fmt.Sprintf(`SELECT count(*) FROM %s WHERE shop <> %d`, table, p.id)).Scan(&foreign),
			admin.QueryRow(t.Context(), fmt.Sprintf(`SELECT count(*) FROM %s WHERE shop = %d`, table, other.id)).Scan(&own))
		if foreign != 0 || own == 0 && !strings.Contains(table, "event_") {
			t.Errorf("%s: %d rows of other shops, of %d", table, foreign, own)
		}
	}
	wantCode(t, p.attacker, "P0001", `SELECT stepcaller.faulty('UPDATE stepcaller.event SET at = 1 RETURNING 1')`)
	wantCode(t, p.attacker, "P0001", `SELECT stepcaller.faulty('DELETE FROM stepcaller.event_2000_01 RETURNING 1')`)
	wantCode(t, p.attacker, "P0001", `SELECT stepcaller.faulty('TRUNCATE stepcaller.event')`)
	wantCode(t, p.attacker, "P0001", `SELECT stepcaller.faulty('TRUNCATE stepcaller.event_2000_01')`)
	wantCode(t, p.attacker, "P0001", `SELECT stepcaller.faulty('DELETE FROM stepcaller.tenure RETURNING 1')`)
	wantCode(t, p.attacker, "P0001", `SELECT stepcaller.faulty('UPDATE stepcaller.tenure SET bay = ''lift-2'' RETURNING 1')`)
	wantCode(t, p.attacker, "42501", fmt.Sprintf(`SELECT stepcaller.faulty('UPDATE stepcaller.journal SET shop = %d RETURNING 1')`, other.id))
	wantCode(t, p.attacker, "42501", fmt.Sprintf(`SELECT stepcaller.faulty('INSERT INTO stepcaller.token (shop, technician, sum) VALUES (%d, ''Jo'', sha256('''')) RETURNING 1')`, other.id))
}

func TestPagesReadTheirShopsAndNoSecrets(t *testing.T) {
	p, other := newPrey(t), newPrey(t)
	for _, add := range []func(context.Context, ...string) (string, error){p.AddPages, p.AddOwner} {
		address, err := add(t.Context(), p.name)
		must(t, err)
		db := connect(t, address)
		for _, table := range relations(t, db, "rp") {
			for _, order := range []string{"INSERT INTO %s DEFAULT VALUES", "DELETE FROM %s", "TRUNCATE %s", "DROP TABLE %s"} {
				refused(t, db, fmt.Sprintf(order, table))
			}
			switch short := strings.TrimPrefix(table, "stepcaller."); {
			case slices.Contains([]string{"token", "journal", "migration"}, short), strings.HasPrefix(short, "event_"):
				refused(t, db, "SELECT FROM "+table)
			default:
				empty(t, db, fmt.Sprintf(`SELECT FROM %s WHERE shop = %d`, table, other.id))
				var n int
				if err := db.QueryRow(t.Context(), `SELECT count(*) FROM `+table).Scan(&n); err != nil || n == 0 {
					t.Errorf("%s: %d rows, %v", table, n, err)
				}
			}
		}
		for _, table := range []string{"file", "piece", "current"} {
			empty(t, db, `SELECT FROM stepcaller.`+table+` WHERE kind = 'voice'`)
		}
		wantCode(t, db, "42501", `SELECT stepcaller.whoami()`)
		wantCode(t, db, "42501", `SELECT stepcaller.append(NULL, 0, '', '{}', '{}', '{}', '{}', '{}', '{}', '{}', '{}', '{}', '{}')`)
		var ok bool
		must(t, db.QueryRow(t.Context(), `SELECT stepcaller.check_token($1, 'Ines', sha256('x'))`, other.id).Scan(&ok))
		if ok {
			t.Error("a token that was never issued")
		}
	}
}

// Whoever adds a table guards it.
func TestEveryTableIsGuarded(t *testing.T) {
	p := newPrey(t)
	rows, err := connect(t, p.url).Query(t.Context(), `SELECT relname FROM pg_class WHERE relnamespace = 'stepcaller'::regnamespace AND relkind IN ('r', 'p', 'v', 'm', 'f')
		AND relname <> 'migration' AND NOT (relrowsecurity AND relforcerowsecurity AND EXISTS (SELECT FROM pg_policy WHERE polrelid = pg_class.oid)
			AND relowner = 'stepcaller_keeper'::regrole)`)
	must(t, err)
	if open, err := pgx.CollectRows(rows, pgx.RowTo[string]); err != nil || len(open) != 0 {
		t.Errorf("not guarded: %q, %v; see guard() in the migrations", open, err)
	}
	var keeper, group bool
	must(t, connect(t, p.url).QueryRow(t.Context(), `SELECT bool_or(rolsuper OR rolbypassrls OR rolcreaterole OR rolcanlogin) FILTER (WHERE rolname LIKE 'stepcaller\_%'),
		bool_or(rolsuper OR rolbypassrls OR rolcreaterole OR rolcreatedb OR rolreplication) FILTER (WHERE rolname LIKE 'bay\_%') FROM pg_roles`).Scan(&keeper, &group))
	if keeper || group {
		t.Error("a role may do more than it should")
	}
}
