package postgres

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net/url"
	"strings"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator/journal/courier"
)

// What can be wrong with an administrator's order, for errors.Is.
var (
	ErrExists = errors.New("there is one of that name already")
	ErrNoShop = errors.New("there is no such shop")
	ErrNoBay  = courier.ErrNoSuchBay
	ErrName   = errors.New("the name cannot be used")
)

// Admin is a database of shops as its administrator reaches it, on one connection. Its methods are called by one goroutine.
type Admin struct {
	conn    *pgx.Conn
	db      *database // for faults
	address *url.URL
}

// OpenAdmin connects to a database that [Migrate] has made ready.
func OpenAdmin(ctx context.Context, address string) (*Admin, error) {
	config, where, err := adminConfig(address)
	if err != nil {
		return nil, err
	}
	a := &Admin{db: &database{where: where}}
	if a.address, err = url.Parse(address); err != nil {
		return nil, badAddress("it cannot be read")
	}
	if a.conn, err = pgx.ConnectConfig(ctx, config); err != nil {
		return nil, a.db.fault("open", err)
	}
	if err := checkSchema(ctx, a.conn); err != nil {
		return nil, errors.Join(a.db.fault("open", err), a.Close(ctx))
	}
	return a, nil
}

func adminConfig(address string) (config *pgx.ConnConfig, where string, err error) {
	if address, err = demandTLS(address); err != nil {
		return nil, "", err
	}
	if config, err = pgx.ParseConfig(address); err != nil {
		return nil, "", badAddress("%w", withoutPassword(err))
	}
	if config.ConnectTimeout == 0 {
		config.ConnectTimeout = connectLimit
	}
	return config, fmt.Sprintf("%s/%s", config.Host, config.Database), checkTLS(config)
}

// Close gives up the connection.
func (a *Admin) Close(ctx context.Context) error { return a.conn.Close(ctx) }

// CreateShop adds a shop, which is named like a bay ([courier.ValidBay]).
func (a *Admin) CreateShop(ctx context.Context, name string) error {
	if !courier.ValidBay(name) {
		return badName(name)
	}
	return a.add(ctx, "shop "+name, `INSERT INTO stepcaller.shop (name) VALUES ($1) ON CONFLICT DO NOTHING`, name)
}

func badName(name string) error {
	return fmt.Errorf("%w: %q; use lower-case letters, digits and dashes, at most 24", ErrName, name)
}

// add runs an insertion that does nothing where the row is there.
func (a *Admin) add(ctx context.Context, what, insert string, args ...any) error {
	done, err := a.conn.Exec(ctx, insert, args...)
	if err == nil && done.RowsAffected() == 0 {
		err = fmt.Errorf("%s: %w; choose another", what, ErrExists)
	}
	return a.db.fault("add to", err)
}

// AddBay adds a bay to a shop, or gives one whose role was revoked a new one, and returns the address for it. It holds the bay's password, which is nowhere else.
func (a *Admin) AddBay(ctx context.Context, shop, bay string) (address string, err error) {
	if !courier.ValidBay(bay) {
		return "", badName(bay)
	}
	err = a.within(ctx, "add to", func(tx pgx.Tx) error {
		id, err := shopID(ctx, tx, shop)
		if err != nil {
			return err
		}
		var taken bool
		err = tx.QueryRow(ctx, `SELECT EXISTS (SELECT FROM stepcaller.member WHERE shop = $1 AND bay = $2)`, id, bay).Scan(&taken)
		if err == nil && taken {
			err = fmt.Errorf("bay %s: %w; choose another, or revoke that one first", bay, ErrExists)
		}
		if err == nil {
			_, err = tx.Exec(ctx, `INSERT INTO stepcaller.bay (shop, bay) VALUES ($1, $2) ON CONFLICT (shop, bay) DO UPDATE SET open = true`, id, bay)
		}
		if err == nil {
			address, err = a.login(ctx, tx, "bay", &bay, id)
		}
		return err
	})
	return address, err
}

// AddPages adds a login for a server of review pages, and returns its address. It reads the shops named.
func (a *Admin) AddPages(ctx context.Context, shops ...string) (address string, err error) {
	return a.addReader(ctx, "pages", shops)
}

// AddOwner adds a login for an owner, and returns its address. It reads the shops named.
func (a *Admin) AddOwner(ctx context.Context, shops ...string) (address string, err error) {
	return a.addReader(ctx, "owner", shops)
}

func (a *Admin) addReader(ctx context.Context, kind string, shops []string) (address string, err error) {
	err = a.within(ctx, "add to", func(tx pgx.Tx) error {
		var ids []int32
		for _, shop := range shops {
			id, err := shopID(ctx, tx, shop)
			if err != nil {
				return err
			}
			ids = append(ids, id)
		}
		address, err = a.login(ctx, tx, kind, nil, ids...)
		return err
	})
	return address, err
}

// login makes a login role with a new password and makes it a member of shops.
func (a *Admin) login(ctx context.Context, tx pgx.Tx, kind string, bay *string, shops ...int32) (address string, err error) {
	role, password := kind+"_"+strings.ToLower(rand.Text()), rand.Text()
	secret, err := verifier(password)
	if err != nil {
		return "", err
	}
	_, err = tx.Exec(ctx, fmt.Sprintf(`CREATE ROLE %s LOGIN PASSWORD '%s' CONNECTION LIMIT 20 IN ROLE stepcaller_%s`, pgx.Identifier{role}.Sanitize(), secret, kind))
	if err == nil { // a bay that hangs holds nobody up
		_, err = tx.Exec(ctx, fmt.Sprintf(`ALTER ROLE %s SET idle_in_transaction_session_timeout = '30s'`, pgx.Identifier{role}.Sanitize()))
	}
	for _, shop := range shops {
		if err == nil {
			_, err = tx.Exec(ctx, `INSERT INTO stepcaller.member (shop, role, kind, bay) VALUES ($1, $2, $3, $4)`, shop, role, kind, bay)
		}
	}
	u := *a.address
	u.User = url.UserPassword(role, password)
	return u.String(), err
}

// IssueToken makes the token with which a technician opens the pages about themselves, and returns it. It is kept nowhere; one from before no longer opens them.
func (a *Admin) IssueToken(ctx context.Context, shop, technician string) (token string, err error) {
	token = rand.Text()
	err = a.within(ctx, "add to", func(tx pgx.Tx) error {
		id, err := shopID(ctx, tx, shop)
		if err == nil {
			_, err = tx.Exec(ctx, `INSERT INTO stepcaller.token (shop, technician, sum) VALUES ($1, $2, $3) ON CONFLICT (shop, technician) DO UPDATE SET sum = $3`,
				id, technician, tokenSum(token))
		}
		return err
	})
	return token, err
}

// RevokeToken makes a technician's token open nothing.
func (a *Admin) RevokeToken(ctx context.Context, shop, technician string) error {
	return a.within(ctx, "take from", func(tx pgx.Tx) error {
		id, err := shopID(ctx, tx, shop)
		if err == nil {
			_, err = tx.Exec(ctx, `DELETE FROM stepcaller.token WHERE shop = $1 AND technician = $2`, id, technician)
		}
		return err
	})
}

// Bays lists a shop's bays by name.
func (a *Admin) Bays(ctx context.Context, shop string) (bays []BayState, err error) {
	err = a.within(ctx, "ask", func(tx pgx.Tx) error {
		id, err := shopID(ctx, tx, shop)
		if err == nil {
			bays, err = baysOf(ctx, tx, id)
		}
		return err
	})
	return bays, err
}

// Shops lists the names of all shops, in order.
func (a *Admin) Shops(ctx context.Context) ([]string, error) {
	rows, err := a.conn.Query(ctx, `SELECT name FROM stepcaller.shop ORDER BY name`)
	if err != nil {
		return nil, a.db.fault("ask", err)
	}
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	return names, a.db.fault("ask", err)
}

// RevokeBay takes a bay's role away at once. What it sent stays, and what it has still to send comes with the next role.
func (a *Admin) RevokeBay(ctx context.Context, shop, bay string) error {
	return a.within(ctx, "take from", func(tx pgx.Tx) error {
		id, err := shopID(ctx, tx, shop)
		if err != nil {
			return err
		}
		rows, err := tx.Query(ctx, `DELETE FROM stepcaller.member WHERE shop = $1 AND bay = $2 RETURNING role`, id, bay)
		if err != nil {
			return err
		}
		roles, err := pgx.CollectRows(rows, pgx.RowTo[string])
		if err == nil && len(roles) == 0 {
			err = fmt.Errorf("%w: %q; see `stepcaller shop create` and `stepcaller sent` for those it has", ErrNoBay, bay)
		}
		if err == nil {
			_, err = tx.Exec(ctx, `UPDATE stepcaller.bay SET open = false WHERE shop = $1 AND bay = $2`, id, bay)
		}
		for _, role := range roles {
			if err == nil { // whom the administrator may not throw out is no member any more, and so may do nothing
				_, err = tx.Exec(ctx, `SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE usename = $1
					AND (SELECT rolsuper FROM pg_roles WHERE rolname = current_user)`, role)
			}
			if err == nil {
				_, err = tx.Exec(ctx, `DROP ROLE `+pgx.Identifier{role}.Sanitize())
			}
		}
		return err
	})
}

// within runs one transaction.
func (a *Admin) within(ctx context.Context, deed string, do func(pgx.Tx) error) error {
	return a.db.fault(deed, pgx.BeginFunc(ctx, a.conn, do))
}

func shopID(ctx context.Context, tx pgx.Tx, name string) (id int32, err error) {
	err = tx.QueryRow(ctx, `SELECT shop FROM stepcaller.shop WHERE name = $1`, name).Scan(&id)
	if errors.Is(err, pgx.ErrNoRows) {
		err = fmt.Errorf("%w: %q; add it with `stepcaller shop create %s`", ErrNoShop, name, name)
	}
	return id, err
}
