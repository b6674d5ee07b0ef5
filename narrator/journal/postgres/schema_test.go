package postgres_test

import (
	"errors"
	"sync"
	"testing"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/journal/storetest"
)

func TestMigratingAgainChangesNothing(t *testing.T) {
	s := newShop(t)
	bay := s.bay(t, "pit")
	must(t, bay.Append(t.Context(), storetest.NewJob("2000-01-01-1", storetest.Dawn).Events), postgres.Migrate(t.Context(), s.url))
	if log, err := bay.Log(t.Context(), "2000-01-01-1"); err != nil || len(log) != 2 {
		t.Errorf("%+v, %v", log, err)
	}
}

func TestSeveralMayMigrateAtOnce(t *testing.T) {
	url := cluster.Database(t)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			if err := postgres.Migrate(t.Context(), url); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	must(t, openAdmin(t, url).CreateShop(t.Context(), "northside"))
}

func TestANewerSchemaIsLeftAlone(t *testing.T) {
	url := cluster.Database(t)
	must(t, postgres.Migrate(t.Context(), url))
	_, err := connect(t, url).Exec(t.Context(), `INSERT INTO stepcaller.migration (version_id, is_applied) VALUES (4711, true)`)
	must(t, err)
	if err := postgres.Migrate(t.Context(), url); !errors.Is(err, journal.ErrNewer) {
		t.Error(err)
	}
}

// What was written under each version that bays could write under is there under the newest.
func TestWhatOlderVersionsHoldIsKept(t *testing.T) {
	for version := int64(4); version < postgres.NewestSchema(); version++ {
		url := cluster.Database(t)
		must(t, postgres.MigrateTo(t.Context(), url, version))
		db := connect(t, url)
		_, err := db.Exec(t.Context(), `SET search_path = stepcaller;
			INSERT INTO shop (name, mark) VALUES ('northside', 2);
			INSERT INTO bay (shop, bay) VALUES (1, 'pit');
			INSERT INTO job (shop, job, bay, month, mark, last, began, at, heading)
				VALUES (1, '2000-01-01-1.pit', 'pit', 360, 2, 2, 15147417600000, 15147417600000, '{"procedure":"fan-belt"}');
			INSERT INTO tenure (shop, job, term, bay, after, at) VALUES (1, '2000-01-01-1.pit', 1, 'pit', 0, 15147417600000);
			SELECT make_partition(360);
			INSERT INTO event (shop, month, job, term, seq, bay, mark, act, at, noted, ref, kind, detail) VALUES
				(1, 360, '2000-01-01-1.pit', 1, 1, 'pit', 1, 1, 15147417600000, 15147417600000, 0, 'opened', '{"procedure":"fan-belt","text":"\u0000"}'),
				(1, 360, '2000-01-01-1.pit', 1, 2, 'pit', 2, 2, 15147417600000, 15147417600000, 0, 'arrived', '{"step":"cover"}')`)
		must(t, err, postgres.Migrate(t.Context(), url))
		s := shop{openAdmin(t, url), url, "northside"}
		address, err := s.AddBay(t.Context(), s.name, "lift-2")
		must(t, err)
		pages := s.pages(t)
		log, err := pages.Log(t.Context(), "2000-01-01-1.pit")
		if err != nil || len(log) != 2 || log[0].Text != "\x00" || log[1].Step != "cover" {
			t.Errorf("from version %d: %+v, %v", version, log, err)
		}
		lift := openBay(t, address)
		taken, err := lift.Claim(t.Context(), "2000-01-01-1.pit", true)
		if err != nil || len(taken) != 2 {
			t.Errorf("from version %d it is taken over: %+v, %v", version, taken, err)
		}
	}
}
