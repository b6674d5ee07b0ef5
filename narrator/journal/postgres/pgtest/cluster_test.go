package pgtest_test

import (
	"os"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator/journal/postgres/pgtest"
)

var cluster pgtest.Cluster

func TestMain(m *testing.M) {
	code := m.Run()
	cluster.Stop()
	os.Exit(code)
}

func TestEveryDatabaseIsFreshAndBothWaysLeadToIt(t *testing.T) {
	one, two := cluster.Database(t), cluster.Database(t)
	exec(t, one, `CREATE TABLE thing (n int)`)
	exec(t, cluster.OverTLS(t, one), `SELECT * FROM thing`)
	if err := try(t, two, `SELECT * FROM thing`); err == nil {
		t.Error("two databases are one")
	}
	exec(t, cluster.CopyOf(t, one), `SELECT * FROM thing`)
}

func TestNothingButTLSOverLoopback(t *testing.T) {
	url := cluster.OverTLS(t, cluster.Database(t))
	plain := strings.Replace(url, "verify-full", "disable", 1)
	if err := try(t, plain, `SELECT 1`); err == nil {
		t.Error("the server speaks plain text")
	}
	exec(t, url, `SELECT 1`)
}

func TestWhatWasCommittedOutlivesACrash(t *testing.T) {
	durable := pgtest.Cluster{Durable: true}
	defer durable.Stop()
	url := durable.Database(t)
	exec(t, url, `CREATE TABLE thing (n int)`)
	durable.Crash(t)
	if err := try(t, url, `SELECT 1`); err == nil {
		t.Error("it answers though it crashed")
	}
	durable.Restart(t)
	exec(t, url, `SELECT * FROM thing`)
}

func exec(t *testing.T, url, order string) {
	t.Helper()
	if err := try(t, url, order); err != nil {
		t.Fatal(err)
	}
}

func try(t *testing.T, url, order string) error {
	db, err := pgx.Connect(t.Context(), url)
	if err != nil {
		return err
	}
	defer db.Close(t.Context())
	_, err = db.Exec(t.Context(), order)
	return err
}
