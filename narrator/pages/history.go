package pages

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/narrator/labour/archive"
)

// history is the list of jobs, filtered.
type history struct {
	Query      url.Values
	Rows       []row
	Open       []archive.Unfinished
	Total      int
	Most       int // the total is more than it, 0 where it is as counted
	First      int // number of the first row shown
	Before     string
	Next       string // addresses of the pages around this one, "" for none
	Kinds      []string
	Bays       []string // to choose from, none where there is one alone
	Procedures []archive.Summary
	Wrong      string
	Filtered   bool
	Choose     bool // whether a technician may be looked for
}

// row is a finished job with its bars, in per cent of the longest of the page.
type row struct {
	archive.Row
	Worked, Book float64
}

// Beyond is the bar of what was worked beyond the book.
func (r row) Beyond() float64 {
	if r.Book == 0 {
		return 0
	}
	return max(0, r.Worked-r.Book)
}

// paged is how many jobs a page lists.
const paged = 50

func (s *server) history(w http.ResponseWriter, r *http.Request) {
	if s.Store == nil || s.Archive == nil {
		s.nothingYet(w, r)
		return
	}
	q, page := s.query(r)
	rows, total, err := s.finished(r, q)
	if err == nil && q.Offset > 0 && q.Offset >= total {
		q.Offset = max(0, total-1) / paged * paged
		rows, total, err = s.finished(r, q)
	}
	if err == nil && !page.Filtered && q.Offset == 0 {
		page.Open, err = s.Archive.Unfinished(r.Context(), "")
	}
	if err == nil {
		page.Bays, err = s.bays(r)
	}
	if err == nil {
		page.Procedures, err = s.Archive.Procedures(r.Context())
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page.Rows, page.Total, page.First = rowsOf(rows), total, q.Offset+1
	if q.Text != "" && total > archive.MostFound {
		page.Most = archive.MostFound
	}
	at := func(offset int) string {
		next := url.Values{}
		for key, values := range page.Query {
			next[key] = values
		}
		next.Set("offset", strconv.Itoa(offset))
		return "/jobs?" + next.Encode()
	}
	if q.Offset > 0 {
		page.Before = at(max(0, q.Offset-paged))
	}
	if q.Offset+len(rows) < total {
		page.Next = at(q.Offset + paged)
	}
	s.show(w, r, http.StatusOK, "jobs", s.Tongue.F("Jobs"), page)
}

// query reads what is looked for. What cannot be understood is left out, and said.
func (s *server) query(r *http.Request) (archive.Query, history) {
	r.URL.RawQuery = strings.ReplaceAll(r.URL.RawQuery, ";", "%3B")
	v := r.URL.Query()
	q := archive.Query{Text: v.Get("text"), Procedure: v.Get("procedure"), Technician: v.Get("technician"), Kind: v.Get("kind"), Bay: v.Get("bay"), Limit: paged}
	page := history{Query: v, Kinds: narrator.JobKinds(), Choose: s.CheckToken == nil}
	if q.Technician != "" && !s.mayChoose(r, q.Technician) {
		q.Technician, page.Wrong = "", s.Tongue.F("Jobs of one technician are shown to them alone, under My own times.")
	}
	day := func(key string, more int) (t time.Time) {
		text := v.Get(key)
		if text == "" {
			return t
		}
		t, err := time.ParseInLocation(time.DateOnly, text, s.write.zone)
		if err != nil {
			page.Wrong = s.Tongue.F("%q is no date; write it as 2000-01-31.", text)
			return time.Time{}
		}
		return t.AddDate(0, 0, more)
	}
	q.From, q.To = day("from", 0), day("to", 1)
	if text := v.Get("offset"); text != "" {
		q.Offset, _ = strconv.Atoi(text)
		q.Offset = max(0, q.Offset)
	}
	page.Filtered = cmp.Or(q.Text, q.Procedure, q.Technician, q.Kind, q.Bay) != "" || !q.From.IsZero() || !q.To.IsZero()
	return q, page
}

// finished lists finished jobs, as of now.
func (s *server) finished(r *http.Request, q archive.Query) ([]archive.Row, int, error) {
	if err := s.Archive.CatchUp(r.Context()); err != nil {
		return nil, 0, err
	}
	return s.Archive.Jobs(r.Context(), q)
}

// bays lists the bays to choose from, none where there is one alone.
func (s *server) bays(r *http.Request) ([]string, error) {
	all, err := s.Archive.Bays(r.Context())
	if len(all) < 2 {
		return nil, err
	}
	return slices.DeleteFunc(all, func(bay string) bool { return bay == "" }), err
}

func rowsOf(rows []archive.Row) []row {
	longest := 1.0
	for _, r := range rows {
		longest = max(longest, float64(r.Worked), 3600*r.BookHours)
	}
	var all []row
	for _, r := range rows {
		all = append(all, row{r, 100 * float64(r.Worked) / longest, 100 * 3600 * r.BookHours / longest})
	}
	return all
}

// Back adds up the time of the jobs that came back from this one.
func (r row) Back() labour.Seconds {
	var sum labour.Seconds
	for _, c := range r.Comebacks {
		sum += c.Worked
	}
	return sum
}

// WorkedHours is what was worked, in hours.
func (r row) WorkedHours() float64 { return float64(r.Row.Worked) / 3600 }

// Last is the number of the last row shown.
func (h history) Last() int { return h.First + len(h.Rows) - 1 }
