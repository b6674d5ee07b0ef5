package pages

import (
	"context"
	"embed"
	"io/fs"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"sync"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour/archive"
	"stepcaller/procedures/tongue"
)

//go:embed assets
var assets embed.FS

// Config is what pages show and whom they tell. The zero value of a field leaves its pages without that part.
type Config struct {
	Store    journal.Store  // read only
	Data     string         // folder of the journal and the memos
	Hub      *Hub           // what is going on now; nil where no session runs
	Tongue   *tongue.Tongue // language of the pages
	Shop     string         // whose bays are shown, in the heading of every page; "" for one bay by itself
	Invented bool           // the data are a demonstration, and every page says so
	Now      func() time.Time

	Archive    *archive.Archive // of finished jobs; nil leaves their figures out
	Procedures string           // the shop's own folder, "" for none

	// Change writes what somebody typed about a job; what is wrong with it is an error in words to show. Nil where nothing may be written.
	Change func(context.Context, narrator.Typed) error
	// SideStories reads what other bays told of a job beside its own story; nil where there is nobody to ask.
	SideStories func(ctx context.Context, job string) ([]SideStory, error)

	// Memo reads a spoken note by its name in an event; nil where notes lie in Data.
	Memo func(ctx context.Context, file string) ([]byte, error)

	// CheckToken reports whether a token is a technician's: in a shop only who shows it sees what is theirs alone. Nil at a bay by itself, where whoever
	// stands at its screen sees all.
	CheckToken func(ctx context.Context, technician, token string) (bool, error)

	Metrics http.Handler // of the program, at /metrics; nil for none
	Reasons []string     // of pauses, to choose from; none for the usual ones
}

// server answers requests. Its methods are safe for concurrent use.
type server struct {
	Config
	pages   templates
	write   writer
	started string // tells one run of the program from another

	guests guests
	shelf  *shelf
	saving sync.Mutex // of a procedure's file
}

// New makes the handler of every page. Serve it on a loopback address.
func New(c Config) (http.Handler, error) {
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Hub == nil {
		c.Hub = NewHub()
	}
	s := &server{Config: c, shelf: &shelf{folder: c.Procedures}, write: newWriter(c.Tongue, c.Now().Location()), started: strconv.FormatInt(time.Now().UnixNano(), 36)}
	var err error
	if s.pages, err = parse(c.Tongue, s.write.funcs()); err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	static, err := fs.Sub(assets, "assets")
	if err != nil {
		return nil, err
	}
	mux.Handle("GET /assets/", http.StripPrefix("/assets/", http.FileServerFS(static)))
	mux.HandleFunc("GET /{$}", s.glance)
	mux.HandleFunc("GET /now/stream", s.stream)
	if c.Metrics != nil {
		mux.Handle("GET /metrics", c.Metrics)
	}
	s.reviewPages(mux)
	s.ownPages(mux)
	mux.HandleFunc("/", s.notFound)
	return guard(mux), nil
}

// guard refuses what does not come from this machine's own pages: another host's name for us (DNS rebinding) and forms of other
// sites.
func guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; img-src 'self' data:; style-src 'self' 'unsafe-inline'; frame-ancestors 'none'; form-action 'self'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		if !loopback(r.Host) {
			http.Error(w, "These pages are for this machine alone: open http://localhost and the port.", http.StatusForbidden)
			return
		}
		cross.Handler(next).ServeHTTP(w, r)
	})
}

// loopback reports whether a Host header names this machine to itself.
func loopback(host string) bool {
	u, err := url.Parse("http://" + host)
	if err != nil {
		return false
	}
	name := u.Hostname()
	ip := net.ParseIP(name)
	return name == "localhost" || ip != nil && ip.IsLoopback()
}
