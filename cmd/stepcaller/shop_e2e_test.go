package main

import (
	"context"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/journal/postgres/pgtest"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/pages"
	"stepcaller/speech"
)

var cluster pgtest.Cluster

// station is a bay of a shop: its data folder, and a session that hears a script.
type station struct {
	*Session
	data   string
	report *reporter
	done   func() error
}

// realShop makes a shop in a real PostgreSQL by the administrator's commands, with bays that have joined it, and returns their data folders.
func realShop(t *testing.T, bays ...string) map[string]string {
	t.Helper()
	atHome(t)
	t.Setenv(adminVariable, cluster.Database(t))
	anywhere := t.TempDir()
	command(t, anywhere, "shop", "create", "hollow-lane")
	folders := map[string]string{}
	for _, bay := range bays {
		address := strings.TrimSpace(command(t, anywhere, "shop", "bay", bay, "--shop", "hollow-lane"))
		folders[bay] = filepath.Join(t.TempDir(), bay)
		if out := command(t, folders[bay], "shop", "join", address); !strings.Contains(out, "bay "+bay+" of shop hollow-lane") {
			t.Fatalf("joined: %s", out)
		}
	}
	return folders
}

// open starts a bay's session on a script, some seconds after the day began.
func open(t *testing.T, data string, after, seconds float64, script ...said) *station {
	t.Helper()
	needVoice(t, speech.DefaultCommand)
	config := defaultConfig()
	config.Data, config.Technician, config.Procedures = data, "Ines", t.TempDir()
	settings, err := config.settings()
	if err != nil {
		t.Fatal(err)
	}
	origin := narrator.MomentOf(time.Date(2000, 1, 1, 8, 0, 0, 0, time.UTC)).Add(narrator.Span(after * narrator.Rate))
	player := speech.NewPlayer()
	s := &station{data: data, report: &reporter{origin: origin}}
	s.Session, s.done, err = assemble(t.Context(), config, settings, data, player, s.report, true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.close(t) })
	ears := &scripted{words: map[speech.Samples]speech.Heard{}}
	for _, w := range script {
		from := speech.Samples(w.at*speech.Rate) / speech.Frame * speech.Frame
		at := from + 50*speech.Frame
		ears.words[at-speech.Frame] = speech.Heard{Label: w.word, From: from, To: from + 30*speech.Frame, At: at, Score: 1, Sure: true}
	}
	s.Ears, s.Source, s.Sink, s.Origin = ears, &silence{end: speech.Samples(seconds * speech.Rate)}, &nowhere{feed: player}, origin
	return s
}

func (s *station) close(t *testing.T) {
	if done := s.done; done != nil {
		s.done = nil
		if err := done(); err != nil {
			t.Error(err)
		}
	}
}

// until lets the session hear of its shop until something is so.
func (s *station) until(t *testing.T, what string, so func() bool) {
	t.Helper()
	b := &bench{Session: s.Session, report: s.report}
	b.until(t, what, so)
}

func (s *station) allSent(t *testing.T) func() bool {
	return (&bench{Session: s.Session}).allSent(t)
}

func (s *station) spoke(t *testing.T, want string) {
	t.Helper()
	if !s.report.spoke(want) {
		t.Errorf("never said %q: %+v", want, s.report.said())
	}
}

// A job begins at one bay, is handed over by word, and is finished at another: the shop has the whole, and its sheet adds up.
func TestAJobGoesThroughTwoBaysOfARealShop(t *testing.T) {
	folders := realShop(t, "lift-2", "lift-3")
	a := open(t, folders["lift-2"], 0, 80, said{20, "next"}, said{40, "hand it over"}, said{52, "yes"}, said{70, "all sent"})
	runJob(t, a.Session, narrator.Start{At: a.Origin, Job: "2000-01-01-1", Procedure: "fan-belt.yaml", Text: fanBelt, Technician: "Ines"})
	a.spoke(t, "Hand this job over? It stops here, and any bay may take it on.")
	a.spoke(t, "Handed over at step 2.")
	a.until(t, "all is sent", a.allSent(t))
	a.close(t)
	if out := command(t, a.data, "sent"); !strings.HasPrefix(out, "Everything is sent.") {
		t.Errorf("sent: %s", out)
	}
	if out := command(t, folders["lift-3"], "takeover"); !strings.Contains(out, "2000-01-01-1.lift-2") {
		t.Errorf("on offer: %s", out)
	}

	b := open(t, folders["lift-3"], 600, 240, said{10, "other job"}, said{22, "yes"}, said{90, "next"}, said{120, "finish job"}, said{128, "yes"})
	b.listen()
	b.until(t, "the job is on offer", func() bool { return len(b.Bay.Dialogue.Offers) == 1 })
	if err := b.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	b.spoke(t, "Job Ostwick Pony, Fan belt, from bay lift-2, step 2. Take it?")
	b.spoke(t, "Step 2 of 3")
	b.spoke(t, "Job finished.")
	b.until(t, "all is sent", b.allSent(t))
	b.close(t)

	sheet := sheetOf(t, "2000-01-01-1.lift-2", b.data)
	if sheet.State != labour.Finished || sheet.Elapsed != 720 || sheet.Unsure != 0 || sheet.Gap != 0 || len(sheet.Bays) != 2 ||
		sheet.Bays[0].Bay != "lift-2" || sheet.Bays[0].Worked != 40 || sheet.Bays[1].Bay != "lift-3" {
		t.Errorf("sheet %+v", sheet)
	}
	if sum := sheet.Worked + sheet.Paused - sheet.Elapsed; sum > 1e-3 || sum < -1e-3 {
		t.Errorf("worked %v, paused %v of %v", sheet.Worked, sheet.Paused, sheet.Elapsed)
	}
	if out := command(t, b.data, "labour", "2000-01-01-1.lift-2"); !strings.Contains(out, "bay lift-2 worked 0:40") || !strings.Contains(out, "handover ") {
		t.Errorf("sheet: %s", out)
	}
	shop, err := shopAt(t.Context(), joinedAt(t, b.data))
	if err != nil {
		t.Fatal(err)
	}
	defer shop.Close()
	log, err := shop.Claim(t.Context(), "2000-01-01-1.lift-2", false) // the owner is told all of it again
	if own, err := b.stored(t, "2000-01-01-1.lift-2"); err != nil || len(log) != len(own) {
		t.Errorf("the shop has %d events of %d, %v", len(log), len(own), err)
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range []string{a.data, b.data} {
		if code := run(t.Context(), []string{"verify", "--data", d}); code != exitDone {
			t.Errorf("verify of %s: exit code %d", d, code)
		}
	}
}

// Taken by force from a bay that is cut off, both stories are kept: the main one at the taker, the other beside it.
func TestAJobIsTakenByForceInARealShop(t *testing.T) {
	folders := realShop(t, "lift-2", "lift-3")
	a := open(t, folders["lift-2"], 0, 300, said{20, "next"}, said{100, "next"})
	a.listen()
	if err := a.take(t.Context(), narrator.Start{At: a.Origin, Job: "2000-01-01-1", Procedure: "fan-belt.yaml", Text: fanBelt, Technician: "Ines"}); err != nil {
		t.Fatal(err)
	}
	early := &bench{Session: a.Session, report: a.report}
	early.upTo(t, 50)
	a.until(t, "all is sent", a.allSent(t))
	a.close(t) // the cable is cut: the bay works on in its own journal

	if out := command(t, folders["lift-3"], "takeover", "2000-01-01-1.lift-2", "--force"); !strings.Contains(out, "is this bay's now") {
		t.Errorf("taken: %s", out)
	}
	b := open(t, folders["lift-3"], 0, 30)
	if j := b.Bay.Job(); j == nil || j.ID != "2000-01-01-1.lift-2" || j.Step != 1 || len(j.Stays) != 2 {
		t.Fatalf("at lift-3: %+v", j)
	}
	b.close(t)

	again := open(t, folders["lift-2"], 60, 60, said{20, "next"})
	again.Shop = nil // nobody tells it yet
	again.listen()
	late := &bench{Session: again.Session, report: again.report}
	late.upTo(t, 30)
	if j := again.Bay.Job(); j == nil || j.Step != 2 {
		t.Fatalf("at lift-2: %+v", j)
	}
	again.close(t)
	last := open(t, folders["lift-2"], 120, 60)
	last.listen()
	last.until(t, "it is told", func() bool { return last.Bay.Job() == nil })
	if err := last.Run(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	last.spoke(t, "Bay lift-3 took this job over at")
	last.until(t, "the side story is sent", last.allSent(t))
	log, err := last.stored(t, "2000-01-01-1")
	if end := log[len(log)-1]; err != nil || end.Kind != narrator.Handed || !end.On {
		t.Errorf("%v: ends with %+v", err, end)
	}
	page := shopPage(t, "/jobs/2000-01-01-1.lift-2")
	for _, want := range []string{"Bay lift-2 has a story of its own of this job", "hollow-lane", ">lift-3<", "At which bay"} {
		if !strings.Contains(page, want) {
			t.Errorf("the shop's page lacks %q: %s", want, page)
		}
	}
	if strings.Contains(page, "<form") {
		t.Error("the shop's page can be written to")
	}
	if token := command(t, t.TempDir(), "shop", "token", "Ines", "--shop", "hollow-lane"); len(strings.TrimSpace(token)) < 16 {
		t.Errorf("token %q", token)
	}
	for bay, c := range map[string]struct {
		job string
		end narrator.Kind
	}{"lift-2": {"2000-01-01-1", narrator.Handed}, "lift-3": {"2000-01-01-1.lift-2", narrator.TakenOver}} { // each bay reads its own story in the shop
		shop, err := postgres.OpenBay(joinedAt(t, folders[bay]))
		if err != nil {
			t.Fatal(err)
		}
		story, err := shop.Log(t.Context(), c.job)
		if err != nil || !slices.ContainsFunc(story, func(e narrator.Event) bool { return e.Kind == c.end && e.On }) || bay == "lift-2" && len(story) != len(log) {
			t.Errorf("the story of %s, %v: %+v", bay, err, story)
		}
		if err := shop.Close(); err != nil {
			t.Error(err)
		}
	}
}

// shopPage reads a page of the shop.
func shopPage(t *testing.T, path string) string {
	t.Helper()
	address := strings.TrimSpace(command(t, t.TempDir(), "shop", "pages-role", "--shops", "hollow-lane"))
	config, closing, err := openShopPages(t.Context(), defaultConfig(), address, "", t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := closing(); err != nil {
			t.Error(err)
		}
	}()
	handler, err := pages.New(config)
	if err != nil {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, path, nil)
	r.Host = "127.0.0.1"
	handler.ServeHTTP(w, r)
	if w.Code != http.StatusOK {
		t.Errorf("%s: %d", path, w.Code)
	}
	return w.Body.String()
}

// stored is a job's log in the bay's journal.
func (s *station) stored(t *testing.T, job string) ([]narrator.Event, error) {
	t.Helper()
	j, _, err := readJob(context.WithoutCancel(t.Context()), Config{Data: s.data}, job)
	if err != nil {
		return nil, err
	}
	return j.Log(), nil
}

func joinedAt(t *testing.T, data string) string {
	t.Helper()
	j, err := courier.ReadJoined(data)
	if err != nil {
		t.Fatal(err)
	}
	return j.URL
}
