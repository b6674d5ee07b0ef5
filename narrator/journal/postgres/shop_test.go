package postgres_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/journal/storetest"
)

// pages opens the shop as its pages do.
func (s shop) pages(t testing.TB) *postgres.Shop {
	t.Helper()
	address, err := s.AddPages(t.Context(), s.name)
	must(t, err)
	return openShop(t, address, "")
}

func openShop(t testing.TB, address, name string) *postgres.Shop {
	t.Helper()
	p, err := postgres.OpenShop(address, name)
	must(t, err)
	t.Cleanup(func() { p.Close() })
	return p
}

func TestAShopTellsAllBays(t *testing.T) {
	s := newShop(t)
	lift, pit, pages := s.bay(t, "lift-2"), s.bay(t, "pit"), s.pages(t)
	first := storetest.NewJob("2000-01-01-1", storetest.Dawn).Then(3, narrator.Recorded, narrator.Detail{File: "memos/2000-01-01-1-1.wav"})
	second := storetest.NewJob("2000-01-01-1", storetest.Dawn.Add(narrator.Hour))
	second.Events[0].Earlier = "1999-12-31-1"
	own := storetest.NewBay(storetest.Dawn).Then(1, narrator.Switched, narrator.Detail{Work: "2000-01-01-1"})
	must(t, lift.Append(t.Context(), first.Events), pit.Append(t.Context(), second.Events), lift.Append(t.Context(), own.Events))

	log, err := pages.Log(t.Context(), "2000-01-01-1.lift-2")
	if err != nil || len(log) != 3 || log[2].Job != "2000-01-01-1.lift-2" || log[2].File != "memos/2000-01-01-1.lift-2-1.wav" {
		t.Errorf("log %+v, %v", log, err)
	}
	if log, err := pages.Log(t.Context(), "2000-01-01-1.pit"); err != nil || len(log) != 2 || log[0].Earlier != "1999-12-31-1.pit" {
		t.Errorf("log %+v, %v", log, err)
	}
	if log, err := pages.Log(t.Context(), "@lift-2"); err != nil || len(log) != 1 || log[0].Work != "2000-01-01-1.lift-2" {
		t.Errorf("log of a bay %+v, %v", log, err)
	}
	if log, err := pages.Log(t.Context(), ""); err != nil || len(log) != 0 {
		t.Errorf("log of the shop %+v, %v", log, err)
	}
	if _, err := pages.Log(t.Context(), "2000-01-01-1"); !errors.Is(err, journal.ErrNoJob) {
		t.Errorf("an id that is no shop's: %v", err)
	}
	changes, err := pages.Changed(t.Context(), 0)
	if err != nil || len(changes) != 2 || changes[0].Job != "2000-01-01-1.lift-2" || changes[1] != (journal.Change{Job: "2000-01-01-1.pit", Mark: 5}) {
		t.Errorf("changes %+v, %v", changes, err)
	}
	since, err := pages.Since(t.Context(), 3, 2)
	if err != nil || len(since) != 2 || since[0].Job != "2000-01-01-1.pit" || !strings.Contains(since[0].Raw, `"earlier":"1999-12-31-1"`) {
		t.Errorf("since %+v, %v", since, err)
	}
	must(t, lift.Append(t.Context(), first.Then(60, narrator.Finished, narrator.Detail{}).Events[3:]))
	for state, want := range map[journal.State][]string{journal.AllJobs: {"2000-01-01-1.pit", "2000-01-01-1.lift-2"}, journal.OpenJobs: {"2000-01-01-1.pit"},
		journal.FinishedJobs: {"2000-01-01-1.lift-2"}, journal.JobsHere: {"2000-01-01-1.pit"}} {
		var got []string
		jobs, err := pages.Jobs(t.Context(), journal.Filter{State: state})
		for _, j := range jobs {
			got = append(got, j.ID)
		}
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("jobs %v: %q, %v, want %q", state, got, err, want)
		}
	}
	if found := journal.Verify(t.Context(), pages); len(found) != 0 {
		t.Errorf("Verify = %v", found)
	}
}

func TestAShopIsRead(t *testing.T) {
	pages := newShop(t).pages(t)
	_, err := pages.NextJob(t.Context(), storetest.Dawn.Time())
	for _, err := range []error{err, pages.Append(t.Context(), nil), pages.Beat(t.Context(), 1), pages.Begin(t.Context(), journal.Session{})} {
		if !errors.Is(err, postgres.ErrReader) {
			t.Errorf("it writes: %v", err)
		}
	}
	must(t, pages.Close())
	if _, err := pages.Jobs(t.Context(), journal.Filter{}); err == nil {
		t.Error("closed, it reads")
	}
}

func TestAnOwnerReadsSeveralShops(t *testing.T) {
	a, b, c := newShop(t), newShop(t), newShop(t)
	must(t, b.bay(t, "pit").Append(t.Context(), storetest.NewJob("2000-01-01-1", storetest.Dawn).Events))
	address, err := a.AddOwner(t.Context(), a.name, b.name)
	must(t, err)
	want := []string{a.name, b.name}
	slices.Sort(want)
	if names, err := postgres.Names(t.Context(), address); err != nil || !slices.Equal(names, want) {
		t.Errorf("shops %q, %v", names, err)
	}
	if jobs, err := openShop(t, address, b.name).Jobs(t.Context(), journal.Filter{}); err != nil || len(jobs) != 1 {
		t.Errorf("jobs %+v, %v", jobs, err)
	}
	if jobs, err := openShop(t, address, a.name).Jobs(t.Context(), journal.Filter{}); err != nil || len(jobs) != 0 {
		t.Errorf("jobs of another shop %+v, %v", jobs, err)
	}
	for _, name := range []string{"", c.name} {
		if _, err := openShop(t, address, name).Jobs(t.Context(), journal.Filter{}); !errors.Is(err, postgres.ErrNoShop) {
			t.Errorf("shop %q: %v", name, err)
		}
	}
}

func TestBothStoriesAreShown(t *testing.T) {
	s := newShop(t)
	lift, pit, pages := s.bay(t, "lift-2"), s.bay(t, "pit"), s.pages(t)
	job := storetest.NewJob("2000-01-01-1", storetest.Dawn)
	must(t, lift.Append(t.Context(), job.Events))
	if stories, err := pages.Stories(t.Context(), "2000-01-01-1.lift-2"); err != nil || len(stories) != 0 {
		t.Errorf("one story: %+v, %v", stories, err)
	}
	_, err := pit.Claim(t.Context(), "2000-01-01-1.lift-2", true)
	must(t, err)
	other := storetest.NewJob("2000-01-01-1.lift-2", storetest.Dawn).Then(9, narrator.Remarked, narrator.Detail{Value: "in the pit"})
	must(t, pit.Append(t.Context(), other.Events[2:]))
	job.Then(5, narrator.Remarked, narrator.Detail{Value: "on the lift"}).Then(5, narrator.Remarked, narrator.Detail{Value: "still"})
	must(t, lift.Append(t.Context(), job.Events[2:]), lift.Branch(t.Context(), "2000-01-01-1.lift-2", 3),
		lift.Append(t.Context(), storetest.NewJob("2000-01-01-1", storetest.Dawn).Then(7, narrator.Word, narrator.Detail{}).Then(7, narrator.Word, narrator.Detail{}).Events[3:]))
	if log, err := pages.Log(t.Context(), "2000-01-01-1.lift-2"); err != nil || len(log) != 3 || log[2].Value != "in the pit" {
		t.Errorf("main story %+v, %v", log, err)
	}
	stories, err := pages.Stories(t.Context(), "2000-01-01-1.lift-2")
	if err != nil || len(stories) != 2 || stories[0].Bay != "lift-2" || stories[0].After != 2 || len(stories[0].Events) != 2 || stories[0].Events[1].Value != "still" ||
		stories[1].Term != 3 || stories[1].After != 2 || len(stories[1].Events) != 2 || stories[1].Events[0].Value != "on the lift" || stories[1].Events[1].Kind != narrator.Word {
		t.Errorf("side stories %+v, %v", stories, err)
	}
	if _, err := pages.Stories(t.Context(), "2000-01-01-9.lift-2"); !errors.Is(err, journal.ErrNoJob) {
		t.Errorf("no such job: %v", err)
	}
}

func TestATokenOpensOnePersonsPages(t *testing.T) {
	s := newShop(t)
	pages := s.pages(t)
	old, err := s.IssueToken(t.Context(), s.name, "Inés")
	must(t, err)
	token, err := s.IssueToken(t.Context(), s.name, "Inés")
	must(t, err)
	for _, c := range []struct {
		technician, token string
		want              bool
	}{{"Inés", token, true}, {"Inés", old, false}, {"Jo", token, false}, {"Inés", "", false}, {"", "", false}} {
		if ok, err := pages.CheckToken(t.Context(), c.technician, c.token); ok != c.want || err != nil {
			t.Errorf("%q with %q: %v, %v", c.technician, c.token, ok, err)
		}
	}
	if ok, err := newShop(t).pages(t).CheckToken(t.Context(), "Inés", token); ok || err != nil {
		t.Errorf("in another shop: %v, %v", ok, err)
	}
	must(t, s.RevokeToken(t.Context(), s.name, "Inés"))
	if ok, err := pages.CheckToken(t.Context(), "Inés", token); ok || err != nil {
		t.Errorf("revoked: %v, %v", ok, err)
	}
}

func TestBaysAreListedAndRevoked(t *testing.T) {
	s := newShop(t)
	lift, pages := s.bay(t, "lift-2"), s.pages(t)
	s.bay(t, "pit")
	rest := courier.Rest{Events: 3, Jobs: 2, Notes: 1}
	must(t, lift.Append(t.Context(), storetest.NewJob("2000-01-01-1", storetest.Dawn).Events), lift.Told(t.Context(), rest))
	if _, err := s.AddBay(t.Context(), s.name, "pit"); !errors.Is(err, postgres.ErrExists) {
		t.Errorf("a second bay of one name: %v", err)
	}
	must(t, s.RevokeBay(t.Context(), s.name, "lift-2"))
	if err := lift.Told(t.Context(), courier.Rest{}); err == nil {
		t.Error("a revoked bay speaks on")
	}
	if _, err := lift.Log(t.Context(), ""); !errors.Is(err, courier.ErrRefused) {
		t.Errorf("a revoked bay is told %v", err)
	}
	if err := s.RevokeBay(t.Context(), s.name, "lift-2"); !errors.Is(err, postgres.ErrNoBay) {
		t.Errorf("revoked twice: %v", err)
	}
	for _, list := range []func() ([]postgres.BayState, error){func() ([]postgres.BayState, error) { return pages.Bays(t.Context()) },
		func() ([]postgres.BayState, error) { return s.Bays(t.Context(), s.name) }} {
		bays, err := list()
		if err != nil || len(bays) != 2 || bays[0].Name != "lift-2" || bays[0].Rest != rest || bays[0].Mark != 2 || bays[0].Heard.IsZero() || !bays[0].Revoked ||
			bays[1] != (postgres.BayState{Name: "pit"}) {
			t.Errorf("bays %+v, %v", bays, err)
		}
	}
	if log, err := s.bay(t, "lift-2").Log(t.Context(), "2000-01-01-1"); err != nil || len(log) != 2 {
		t.Errorf("with a new role: %+v, %v", log, err)
	}
}

func TestNotesAreReadWhole(t *testing.T) {
	s := newShop(t)
	lift, pages := s.bay(t, "lift-2"), s.pages(t)
	must(t, lift.Append(t.Context(), storetest.NewJob("2000-01-01-1", storetest.Dawn).Events))
	note := strings.Repeat("sound", 1000)
	f := courier.File{Kind: courier.Memo, Name: "memos/2000-01-01-1.lift-2-1.wav", Sum: sumOf(note), Size: 5000}
	must(t, lift.Put(t.Context(), f, 0, []byte(note[:3000])))
	if _, err := pages.Memo(t.Context(), f.Name); !errors.Is(err, courier.ErrNoSuchFile) {
		t.Errorf("half a note: %v", err)
	}
	must(t, lift.Put(t.Context(), f, 3000, []byte(note[3000:])))
	if sound, err := pages.Memo(t.Context(), f.Name); err != nil || string(sound) != note {
		t.Errorf("%d bytes, %v", len(sound), err)
	}
	f.Bay = "lift-2"
	if files, err := pages.Files(t.Context(), courier.Memo); err != nil || !slices.Equal(files, []courier.File{f}) {
		t.Errorf("files %+v, %v", files, err)
	}
}
