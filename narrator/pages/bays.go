package pages

import (
	"context"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
)

// SideStory is what a bay told of a job that another had taken from it, or of one that it began anew from a backup. It stands beside the job and counts
// nowhere.
type SideStory struct {
	Bay      string
	From, To narrator.Moment // of its first event that the job's own story does not have, and of its last
	Worked   narrator.Span   // between them
}

// SideStoryOf sums up a story, folded whole, from the seq after which it is its own.
func SideStoryOf(bay string, j *narrator.Job, after int64) SideStory {
	s := SideStory{Bay: bay}
	for _, e := range j.Log() {
		if e.Seq > after {
			if s.From == 0 || e.At < s.From {
				s.From = e.At
			}
			s.To = max(s.To, e.At)
		}
	}
	for _, stretch := range j.Timeline(s.To) {
		if stretch.What == narrator.Working {
			s.Worked += max(0, min(stretch.To, s.To).Since(max(stretch.From, s.From)))
		}
	}
	return s
}

// stay is the time for which a bay had the job.
type stay struct {
	Bay      string // "" for this one
	From, To time.Time
	Lasts    bool
	Worked   labour.Seconds
}

// sideStory is a story beside the job.
type sideStory struct {
	Bay      string
	From, To time.Time
	Worked   labour.Seconds
}

// moved is where a job was worked, and who has it now.
type moved struct {
	Stays  []stay
	Gone   bool
	To     string // bay that has it now, "" for any; where it is Gone
	Forced bool   // that bay took it
	Beside []sideStory
}

// moved tells where a job was worked. Stories that cannot be read are left out: the job is all here.
func (s *server) moved(ctx context.Context, j *narrator.Job, sheet labour.Sheet) moved {
	m := moved{Forced: j.TakenByForce()}
	m.To, m.Gone = j.Elsewhere()
	at := func(of labour.Seconds) time.Time {
		return j.Start.Time().Add(time.Duration(float64(of) * float64(time.Second)))
	}
	for _, b := range sheet.Bays {
		row := stay{Bay: b.Bay, From: at(b.From), Lasts: b.To == nil, Worked: b.Worked}
		if b.To != nil {
			row.To = at(*b.To)
		}
		m.Stays = append(m.Stays, row)
	}
	if s.SideStories == nil {
		return m
	}
	stories, err := s.SideStories(ctx, j.ID)
	if err != nil {
		return m
	}
	for _, of := range stories {
		m.Beside = append(m.Beside, sideStory{Bay: of.Bay, From: of.From.Time(), To: of.To.Time(), Worked: labour.Seconds(of.Worked.Seconds())})
	}
	return m
}
