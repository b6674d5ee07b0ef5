package pages

import (
	"net/http"
)

// record is the job's record on one clean sheet, to be printed.
func (s *server) record(w http.ResponseWriter, r *http.Request) {
	j, now, ok := s.job(w, r)
	if !ok {
		return
	}
	page := s.review(j, now)
	s.show(w, r, http.StatusOK, "record", s.Tongue.F("Record of job %s", j.ID), page)
}

// Fact is what was typed into a field of the record, "" for nothing.
func (p jobPage) Fact(field string) string {
	for _, f := range p.Sheet.Facts {
		if f.Field == field {
			return f.Value
		}
	}
	return ""
}
