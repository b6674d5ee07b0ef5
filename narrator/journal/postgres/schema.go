package postgres

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"stepcaller/narrator/journal"
)

//go:embed migrations/*.sql
var migrations embed.FS

// newestSchema is the last migration that this program knows.
func newestSchema() (int64, error) {
	files, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil || len(files) == 0 {
		return 0, errors.Join(errors.New("no migrations are built in"), err)
	}
	return goose.NumericComponent(files[len(files)-1])
}

// groundwork makes what the migrations build on: the roles, which all databases of a server share, and the schema. It may be run again.
const groundwork = `
SELECT pg_advisory_xact_lock(hashtext('stepcaller groundwork'));
DO $$
DECLARE name text;
BEGIN
	FOREACH name IN ARRAY ARRAY['stepcaller_keeper', 'stepcaller_bay', 'stepcaller_pages', 'stepcaller_owner'] LOOP
		IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = name) THEN
			BEGIN
				EXECUTE format('CREATE ROLE %I NOLOGIN', name);
			EXCEPTION WHEN duplicate_object OR unique_violation THEN -- another database is being made at the same time
			END;
		END IF;
	END LOOP;
	IF NOT (SELECT rolsuper FROM pg_roles WHERE rolname = current_user) THEN
		EXECUTE format('GRANT stepcaller_keeper TO %I', current_user);
	END IF;
	EXECUTE format('REVOKE ALL ON DATABASE %I FROM PUBLIC', current_database());
	EXECUTE format('GRANT CONNECT ON DATABASE %I TO stepcaller_bay, stepcaller_pages, stepcaller_owner', current_database());
	EXECUTE format('GRANT CREATE ON DATABASE %I TO stepcaller_keeper', current_database());
	REVOKE ALL ON SCHEMA public FROM PUBLIC;
	IF (SELECT rolsuper FROM pg_roles WHERE rolname = current_user) THEN -- of a hosted service only its operator may
		REVOKE EXECUTE ON FUNCTION lo_create(oid), lo_creat(integer), lo_from_bytea(oid, bytea) FROM PUBLIC;
	END IF;
END
$$;
CREATE SCHEMA IF NOT EXISTS stepcaller AUTHORIZATION stepcaller_keeper;
GRANT USAGE ON SCHEMA stepcaller TO stepcaller_bay, stepcaller_pages, stepcaller_owner;
`

// Migrate makes a database ready for shops, or brings one that was made by an older program up to date; the address is the administrator's. It may be run
// again at any time, also by several at once. What a newer program made is left as it is ([journal.ErrNewer]), and so is another program's database.
func Migrate(ctx context.Context, admin string) error {
	newest, err := newestSchema()
	if err != nil {
		return err
	}
	return migrateTo(ctx, admin, newest)
}

func migrateTo(ctx context.Context, admin string, version int64) error {
	config, where, err := adminConfig(admin)
	if err != nil {
		return err
	}
	d := &database{where: where}
	c, err := pgx.ConnectConfig(ctx, config)
	if err != nil {
		return d.fault("migrate", err)
	}
	err = prepare(ctx, c)
	if err = errors.Join(err, c.Close(ctx)); err != nil {
		return d.fault("migrate", err)
	}
	config.RuntimeParams["role"] = "stepcaller_keeper"
	config.RuntimeParams["search_path"] = "stepcaller"
	return d.fault("migrate", applyMigrations(ctx, config, version))
}

// prepare looks whether the database may be touched, and lays the groundwork.
func prepare(ctx context.Context, c *pgx.Conn) error {
	var server int
	var ours, foreign bool
	err := c.QueryRow(ctx, `SELECT current_setting('server_version_num')::int, to_regprocedure('stepcaller.schema_version()') IS NOT NULL,
		EXISTS (SELECT FROM pg_tables WHERE schemaname NOT IN ('pg_catalog', 'information_schema', 'stepcaller'))`).Scan(&server, &ours, &foreign)
	switch {
	case err != nil:
		return err
	case server < 150000:
		return fmt.Errorf("the server is PostgreSQL %d, and 15 is the oldest that will do; install a newer one", server/10000)
	case !ours && foreign:
		return fmt.Errorf("%w; have an empty database made, with CREATE DATABASE, and name that", journal.ErrForeign)
	}
	if ours {
		if err := checkSchema(ctx, c); err != nil && !errors.Is(err, ErrOlder) {
			return err
		}
	}
	_, err = c.Exec(ctx, groundwork)
	return err
}

// applyMigrations runs those that are missing, each in a transaction of its own, while nobody else does.
func applyMigrations(ctx context.Context, config *pgx.ConnConfig, version int64) error {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	one, err := lock.NewPostgresSessionLocker()
	if err != nil {
		return err
	}
	db := stdlib.OpenDB(*config)
	provider, err := goose.NewProvider(goose.DialectPostgres, db, files, goose.WithDisableGlobalRegistry(true), goose.WithTableName("stepcaller.migration"),
		goose.WithSessionLocker(one))
	if err == nil {
		_, err = provider.UpTo(ctx, version)
	}
	return errors.Join(err, db.Close())
}
