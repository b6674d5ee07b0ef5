package pages_test

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
	"stepcaller/narrator/pages"
)

func TestAJobsPageSaysWhereItWasWorked(t *testing.T) {
	job := func() *storetest.Script { return storetest.NewJob("2000-01-01-1", storetest.Dawn) }
	handed := job().Then(600, narrator.Handed, narrator.Detail{To: "lift-3"})
	taken := job().Then(600, narrator.Handed, narrator.Detail{}).Then(900, narrator.TakenOver, narrator.Detail{Bay: "lift-2", To: "lift-3"}).Then(300, narrator.Finished, narrator.Detail{})
	for name, c := range map[string]struct {
		log    *storetest.Script
		beside bool
		want   []string
		absent string
	}{
		"stayed":      {job(), false, []string{"This job is not finished"}, "At which bay"},
		"handed over": {job().Then(600, narrator.Handed, narrator.Detail{}), false, []string{"This job is handed over and waits for a bay", "At which bay", "this bay"}, "<form"},
		"given":       {handed, false, []string{"This job is with bay lift-3 now"}, "not finished"},
		"lost":        {job().Then(600, narrator.Handed, narrator.Detail{To: "lift-3", On: true}), false, []string{"Bay lift-3 took this job over."}, "not finished"},
		"taken over":  {taken, true, []string{">lift-2<", ">lift-3<", "Bay lift-2 has a story of its own of this job", "worked 5 min"}, "waits for a bay"},
	} {
		t.Run(name, func(t *testing.T) {
			store := &journal.Memory{}
			if err := store.Append(t.Context(), c.log.Events); err != nil {
				t.Fatal(err)
			}
			config := pages.Config{Store: store, Data: t.TempDir(), Change: func(context.Context, narrator.Typed) error { return nil }}
			if c.beside {
				config.SideStories = func(context.Context, string) ([]pages.SideStory, error) {
					side, err := narrator.NewJob(job().Then(600, narrator.Word, narrator.Detail{Word: "next"}).Then(300, narrator.Word, narrator.Detail{Word: "next"}).Events)
					return []pages.SideStory{pages.SideStoryOf("lift-2", side, 2)}, err
				}
			}
			status, body := get(t, request(t, http.MethodGet, serve(t, config).URL+"/jobs/2000-01-01-1"))
			for _, want := range c.want {
				if status != http.StatusOK || !strings.Contains(body, want) {
					t.Errorf("%d, without %q: %s", status, want, body)
				}
			}
			if strings.Contains(body, c.absent) {
				t.Errorf("with %q", c.absent)
			}
		})
	}
}
