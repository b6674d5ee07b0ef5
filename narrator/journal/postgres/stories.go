package postgres

import (
	"cmp"
	"context"
	"slices"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// Story is what a bay told of a job beside the main story: after another had taken the job by force, or before a backup was put back.
type Story struct {
	Bay    string
	Term   int              // of the tenure that tells it, in the order in which they were opened
	After  int64            // seq of the last event that it shares with the main story
	Events []narrator.Event // those after that, by the shop's ids
}

// Stories lists the stories of a job beside the main one, in the order in which they were opened. Most jobs have none.
func (s *Shop) Stories(ctx context.Context, job string) ([]Story, error) {
	id, err := s.which(ctx)
	if err != nil {
		return nil, err
	}
	stories, err := s.stories(ctx, id, job)
	return stories, s.db.fault("read", err)
}

func (s *Shop) stories(ctx context.Context, shop int32, job string) (stories []Story, err error) {
	rows, err := s.db.Query(ctx, `SELECT term FROM stepcaller.tenure WHERE shop = $1 AND job = $2 ORDER BY aside, term DESC`, shop, job)
	if err != nil {
		return nil, err
	}
	terms, err := pgx.CollectRows(rows, pgx.RowTo[int])
	if err != nil {
		return nil, err
	}
	if len(terms) == 0 {
		return nil, journal.NoJob(job)
	}
	var main []row
	told := map[journal.Mark]bool{}
	for i, term := range terms { // the main one comes first
		story, err := s.db.events(ctx, eventsOf+`stepcaller.story($1, $2, $3)`, shop, job, term)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			main = story
		} else if n := len(story); n > 0 && !told[story[n-1].mark] {
			after := shared(main, story)
			stories = append(stories, Story{Bay: story[n-1].bay, Term: term, After: int64(after), Events: inShop(story[after:])})
		}
		for _, r := range story {
			told[r.mark] = true
		}
	}
	slices.SortFunc(stories, func(a, b Story) int { return cmp.Compare(a.Term, b.Term) })
	return stories, nil
}

// shared is how many events two stories begin with alike.
func shared(a, b []row) (n int) {
	for n < len(a) && n < len(b) && a[n].mark == b[n].mark {
		n++
	}
	return n
}
