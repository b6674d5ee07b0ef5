package postgres

import (
	"context"
	"net"

	"github.com/jackc/pgx/v5"
)

// MigrateTo stops at a version, as an older program does.
var MigrateTo = migrateTo

// VerifierOf is the verifier of a password with a salt that is known.
var VerifierOf = verifierOf

// NewestSchema is the last version.
func NewestSchema() int64 {
	newest, err := newestSchema()
	if err != nil {
		panic(err)
	}
	return newest
}

// OpenBayAs is OpenBay with a name server that knows one host.
func OpenBayAs(address, host, leadsTo string) (*Bay, error) {
	db, err := open(address, bayConnections, func(c *pgx.ConnConfig) {
		c.LookupFunc = func(_ context.Context, name string) ([]string, error) {
			if name == host {
				return []string{leadsTo}, nil
			}
			return nil, &net.DNSError{Err: "no such host", Name: name, IsNotFound: true}
		}
	})
	if err != nil {
		return nil, err
	}
	return newBay(db), nil
}
