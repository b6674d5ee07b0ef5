package pages

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/labour/figures"
	"stepcaller/narrator/labour/study"
	"stepcaller/procedures"
)

// procedureList is what can be done, and what was.
type procedureList struct {
	Done     []archive.Summary
	Others   []*procedures.Procedure // of which no job is finished
	Mistakes []procedures.Mistake
}

func (s *server) procedureList(w http.ResponseWriter, r *http.Request) {
	var page procedureList
	var err error
	if s.Archive != nil {
		if err = s.Archive.CatchUp(r.Context()); err == nil {
			page.Done, err = s.Archive.Procedures(r.Context())
		}
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	all, mistakes, err := s.shelf.list()
	if err != nil {
		mistakes = append(mistakes, procedures.Mistake{What: err.Error()})
	}
	page.Mistakes = mistakes
	for _, p := range all {
		if !slices.ContainsFunc(page.Done, func(d archive.Summary) bool { return d.Procedure == p.ID }) {
			page.Others = append(page.Others, p)
		}
	}
	s.show(w, r, http.StatusOK, "procedures", s.Tongue.F("Procedures"), page)
}

// procedurePage is what all jobs of a procedure tell.
type procedurePage struct {
	*figures.Figures
	Steps     []stepFigures
	Long      []longRun
	Chosen    *learner // a technician, where one is chosen
	Names     []string // to choose from
	Own       bool     // learning is shown to whoever showed their token
	Chart     chart
	Editable  bool
	Cumulated []stepFigures // the steps that took most first
	Newest    []figures.Run // that are drawn and listed, oldest first
	Since     int           // how many older ones are not
	CameBack  []figures.Run
}

// drawn is how many jobs are drawn and listed one by one, the newest.
const drawn = 300

// stepFigures is a step with its number of the newest edition.
type stepFigures struct {
	figures.Step
	BasisText string
	Whys      []string
}

// longRun is a step that ran long in a job.
type longRun struct {
	figures.Long
	Job     string
	Started time.Time
	Number  int
	Title   string
	Whats   []string
}

// learner is a chosen technician's own runs.
type learner struct {
	figures.Learner
	Rows  []learnt
	Doubt string
}

// learnt is one run of a learner, with what the curve says of it; in hours.
type learnt struct {
	Number  int       `json:"n"`
	Job     string    `json:"job"`
	Started time.Time `json:"at"`
	Hours   float64   `json:"hours"`
	Curve   float64   `json:"curve"`
}

// chart is what the script draws from, with the words that it writes.
type chart struct {
	Words map[string]string `json:"words"`
	Steps []chartStep       `json:"steps"`
	Runs  []chartRun        `json:"runs"`
	Book  float64           `json:"book"` // hours, 0 for none
	Next  *study.Interval   `json:"next"` // of the whole job, in minutes
	Learn []learnt          `json:"learn"`
	Curve bool              `json:"curve"` // it is to be believed
	Lang  string            `json:"lang"`
}

type chartStep struct {
	Name      string          `json:"name"`
	Times     []float64       `json:"times"` // minutes
	Long      []float64       `json:"long"`
	Median    float64         `json:"median"`
	Next      *study.Interval `json:"next"`
	Expected  float64         `json:"expected"`
	Share     float64         `json:"share"`
	Cumulated float64         `json:"cumulated"`
	Rank      int             `json:"rank"`
}

type chartRun struct {
	Job   string    `json:"job"`
	At    time.Time `json:"at"`
	Hours float64   `json:"hours"`
	Why   string    `json:"why"`
}

func (s *server) procedure(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("procedure")
	var f *figures.Figures
	err := archive.ErrNoProcedure
	if s.Archive != nil {
		if err = s.Archive.CatchUp(r.Context()); err == nil {
			f, err = s.Archive.Procedure(r.Context(), id)
		}
	}
	switch {
	case errors.Is(err, archive.ErrNoProcedure):
		s.unusedProcedure(w, r, id)
		return
	case err != nil:
		s.broken(w, r, err)
		return
	}
	page := s.figures(f, func(technician string) bool { return s.mayChoose(r, technician) }, r.URL.Query().Get("technician"))
	page.Own = s.CheckToken != nil
	_, missing := s.shelf.find(id)
	page.Editable = missing == nil
	s.show(w, r, http.StatusOK, "procedure", f.Title, page)
}

// unusedProcedure is the page of a procedure of which no job is finished.
func (s *server) unusedProcedure(w http.ResponseWriter, r *http.Request, id string) {
	p, err := s.shelf.find(id)
	switch {
	case err != nil:
		s.fail(w, r, http.StatusNotFound, s.Tongue.F("There is no procedure %s.", id), s.Tongue.F("The list of procedures has them all."))
	case p == nil:
		http.Redirect(w, r, "/procedures/"+url.PathEscape(id)+"/edit", http.StatusSeeOther) // #nosec G710 -- a path of ours
	default:
		s.show(w, r, http.StatusOK, "unused", p.Title, p)
	}
}

func (s *server) figures(f *figures.Figures, may func(technician string) bool, technician string) procedurePage {
	page := procedurePage{Figures: f}
	for _, step := range f.Steps {
		row := stepFigures{Step: step, BasisText: s.write.basis(step.Expected.Basis)}
		for _, t := range step.Why {
			row.Whys = append(row.Whys, fmt.Sprintf("%s (%d)", s.write.what(t.What), t.Times))
		}
		page.Steps = append(page.Steps, row)
	}
	page.Cumulated = slices.Clone(page.Steps)
	slices.SortFunc(page.Cumulated, func(a, b stepFigures) int { return a.Rank - b.Rank })
	const shown = 20
	for _, l := range f.Long[:min(len(f.Long), shown)] {
		row := longRun{Long: l, Job: f.Runs[l.Run].Job, Started: f.Runs[l.Run].Started, Number: f.Steps[l.Step].Number, Title: f.Steps[l.Step].Title}
		for _, w := range l.What.Each() {
			row.Whats = append(row.Whats, s.write.what(w))
		}
		page.Long = append(page.Long, row)
	}
	page.Since = max(0, len(f.Runs)-drawn)
	page.Newest = f.Runs[page.Since:]
	for _, l := range f.Learners {
		if !may(l.Technician) {
			continue
		}
		page.Names = append(page.Names, l.Technician)
		if l.Technician == technician {
			page.Chosen = s.learner(f, l)
		}
	}
	page.Chart = s.chart(page)
	return page
}

func (s *server) learner(f *figures.Figures, l figures.Learner) *learner {
	chosen := &learner{Learner: l, Doubt: s.doubt(l)}
	for i, run := range l.Runs {
		row := learnt{Number: i + 1, Job: f.Runs[run].Job, Started: f.Runs[run].Started, Hours: f.Runs[run].Worked / 60}
		if l.Curve != nil {
			row.Curve = l.Curve.At(i+1) / 60
		}
		chosen.Rows = append(chosen.Rows, row)
	}
	chosen.Rows = chosen.Rows[max(0, len(chosen.Rows)-drawn):]
	return chosen
}

func (s *server) chart(page procedurePage) chart {
	c := chart{Book: page.BookHours, Next: page.Whole.Next, Lang: s.Tongue.Tag(), Steps: []chartStep{}, Runs: []chartRun{}, Learn: []learnt{}, Words: map[string]string{
		"minutes": s.Tongue.F("minutes"), "hours": s.Tongue.F("hours"), "book": s.Tongue.F("book"), "share": s.Tongue.F("share of the procedure's time, cumulated"),
		"run": s.Tongue.F("own job"),
	}}
	for _, step := range page.Steps {
		if step.Count == 0 {
			continue
		}
		row := chartStep{Name: fmt.Sprintf("%d  %s", step.Number, step.Title), Times: []float64{}, Long: []float64{}, Median: step.Median, Next: step.Next,
			Share: step.Share, Cumulated: step.Cumulated, Rank: step.Rank}
		if step.Expected.Basis != figures.NoBasis {
			row.Expected = step.Expected.Minutes
		}
		for _, t := range step.Times {
			switch {
			case t.Run < page.Since:
			case t.Long:
				row.Long = append(row.Long, t.Minutes)
			default:
				row.Times = append(row.Times, t.Minutes)
			}
		}
		c.Steps = append(c.Steps, row)
	}
	for _, run := range page.Newest {
		c.Runs = append(c.Runs, chartRun{run.Job, run.Started, run.Worked / 60, s.write.why(run.Why)})
	}
	if page.Chosen != nil {
		c.Learn, c.Curve = page.Chosen.Rows, page.Chosen.Curve != nil && page.Chosen.Doubt == ""
	}
	return c
}

// Bare is what a job costs without those that came back, in hours.
func (p procedurePage) Bare() float64 { return p.Cost.Hours / float64(max(1, p.Cost.Jobs)) }

// doubt is why a learning curve is not to be believed, in the shop's language.
func (s *server) doubt(l figures.Learner) string {
	switch {
	case l.Doubt == "":
		return ""
	case strings.Contains(l.Doubt, "too few"):
		return s.Tongue.N(len(l.Runs), "%d own job is too few to tell", "%d own jobs are too few to tell")
	case strings.Contains(l.Doubt, "spread"):
		return s.Tongue.F("the times spread too much to tell learning from chance")
	default:
		return s.Tongue.F("the jobs get longer, not shorter: that is no learning")
	}
}
