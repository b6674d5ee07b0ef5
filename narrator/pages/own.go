package pages

import (
	"crypto/rand"
	"net/http"
	"slices"
	"sync"
	"time"

	"stepcaller/narrator/labour/archive"
)

// guests are the technicians who showed their token to the pages of a shop. It is safe for concurrent use.
type guests struct {
	mu sync.Mutex
	in map[string]guest // by what their browser was given
}

type guest struct {
	technician string
	until      time.Time
}

// Limits of the visits of technicians.
const (
	guestCookie = "stepcaller_own"
	guestStay   = 30 * time.Minute // a shop's screen is shared: nobody stays longer
	mostGuests  = 1000
)

// let lets a technician in and returns what their browser is given.
func (g *guests) let(technician string, now time.Time) (key string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	for k, v := range g.in {
		if now.After(v.until) {
			delete(g.in, k)
		}
	}
	if g.in == nil || len(g.in) >= mostGuests {
		g.in = map[string]guest{}
	}
	key = rand.Text()
	g.in[key] = guest{technician, now.Add(guestStay)}
	return key
}

// who is the technician of a request, "" for anybody.
func (g *guests) who(r *http.Request, now time.Time) string {
	cookie, err := r.Cookie(guestCookie)
	if err != nil {
		return ""
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if v, ok := g.in[cookie.Value]; ok && now.Before(v.until) {
		return v.technician
	}
	return ""
}

func (g *guests) leave(r *http.Request) {
	if cookie, err := r.Cookie(guestCookie); err == nil {
		g.mu.Lock()
		defer g.mu.Unlock()
		delete(g.in, cookie.Value)
	}
}

// mayChoose reports whether a technician's own figures may be asked for: of anybody at a bay by itself; in a shop of oneself alone.
func (s *server) mayChoose(r *http.Request, technician string) bool {
	return s.CheckToken == nil || technician != "" && s.guests.who(r, s.Now()) == technician
}

// ownPage is a technician's own: their jobs, and the procedures of which their learning is shown.
type ownPage struct {
	Technician string // "" for somebody who has to show a token first
	Wrong      string
	Rows       []row
	Total      int
	Procedures []archive.Row // one job of each
}

func (s *server) ownPages(mux *http.ServeMux) {
	if s.CheckToken == nil {
		return
	}
	mux.HandleFunc("GET /own", s.own)
	mux.HandleFunc("POST /own", s.comeIn)
	mux.HandleFunc("POST /own/leave", s.leave)
}

func (s *server) own(w http.ResponseWriter, r *http.Request) {
	page := ownPage{Technician: s.guests.who(r, s.Now())}
	if page.Technician == "" {
		s.show(w, r, http.StatusOK, "own", s.Tongue.F("My own times"), page)
		return
	}
	rows, total, err := s.finished(r, archive.Query{Technician: page.Technician, Limit: paged})
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page.Rows, page.Total = rowsOf(rows), total
	for _, of := range rows {
		if !slices.ContainsFunc(page.Procedures, func(p archive.Row) bool { return p.Procedure == of.Procedure }) {
			page.Procedures = append(page.Procedures, of)
		}
	}
	s.show(w, r, http.StatusOK, "own", s.Tongue.F("My own times"), page)
}

// comeIn takes a technician's token.
func (s *server) comeIn(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, longestForm)
	name := r.PostFormValue("technician")
	ok, err := s.CheckToken(r.Context(), name, r.PostFormValue("token"))
	switch {
	case err != nil:
		s.broken(w, r, err)
	case !ok || name == "":
		s.show(w, r, http.StatusForbidden, "own", s.Tongue.F("My own times"),
			ownPage{Wrong: s.Tongue.F("That is not the token that was issued to this name. A new one is issued with: stepcaller shop token NAME")})
	default:
		http.SetCookie(w, &http.Cookie{Name: guestCookie, Value: s.guests.let(name, s.Now()), Path: "/", MaxAge: int(guestStay.Seconds()), HttpOnly: true, SameSite: http.SameSiteStrictMode}) //nolint:gosec // served on loopback, without TLS
		http.Redirect(w, r, "/own", http.StatusSeeOther)
	}
}

func (s *server) leave(w http.ResponseWriter, r *http.Request) {
	s.guests.leave(r)
	http.Redirect(w, r, "/own", http.StatusSeeOther)
}
