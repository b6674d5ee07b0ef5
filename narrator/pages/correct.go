package pages

import (
	"net/http"

	"stepcaller/narrator"
)

// form is what may be written to a job: corrections of one's own time, remarks and the facts of its record.
type form struct {
	Technicians []string // of the job
	Reasons     []string
	From, To    string // filled in
}

func (s *server) form(r *http.Request, j *narrator.Job, now narrator.Moment) *form {
	return nil
}

// showLong marks the steps that ran long.
func (s *server) showLong(r *http.Request, page *jobPage) {}
