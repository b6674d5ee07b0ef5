package postgres_test

import (
	"net/url"
	"testing"

	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/journal/postgres/pgtest"
	"stepcaller/narrator/journal/storetest"
)

// A hosted service gives no superuser: its administrator may make roles and owns the database.
func TestAnAdministratorWithoutAllRightsWillDo(t *testing.T) {
	var hosted pgtest.Cluster
	defer hosted.Stop()
	operator := hosted.Database(t)
	database, err := url.Parse(operator)
	must(t, err)
	_, err = connect(t, operator).Exec(t.Context(), `CREATE ROLE customer LOGIN CREATEROLE PASSWORD 'invented'; ALTER DATABASE `+database.Path[1:]+` OWNER TO customer`)
	must(t, err)
	database.User = url.UserPassword("customer", "invented")
	must(t, postgres.Migrate(t.Context(), database.String()), postgres.Migrate(t.Context(), database.String()))
	s := shop{openAdmin(t, database.String()), database.String(), "northside"}
	must(t, s.CreateShop(t.Context(), s.name))
	bay := s.bay(t, "pit")
	must(t, bay.Append(t.Context(), storetest.NewJob("2000-01-01-1", storetest.Dawn).Events))
	if log, err := s.pages(t).Log(t.Context(), "2000-01-01-1.pit"); err != nil || len(log) != 2 {
		t.Errorf("%+v, %v", log, err)
	}
	_, err = s.IssueToken(t.Context(), s.name, "Ines")
	bays, listed := s.Bays(t.Context(), s.name)
	must(t, err, listed, s.RevokeBay(t.Context(), s.name, "pit"))
	if len(bays) != 1 || bays[0].Mark != 2 {
		t.Errorf("bays %+v", bays)
	}
}
