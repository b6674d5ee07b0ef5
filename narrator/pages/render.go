package pages

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"

	"stepcaller/narrator/labour/archive"
	"stepcaller/procedures/tongue"
)

//go:embed html
var html embed.FS

// templates are the pages by name, each within the layout.
type templates map[string]*template.Template

// parse reads every page of html/. All may use what html/parts/ defines.
func parse(t *tongue.Tongue, review template.FuncMap) (templates, error) {
	base := template.New("").Funcs(template.FuncMap{"t": t.F, "n": t.N, "tag": t.Tag}).Funcs(review)
	base, err := base.ParseFS(html, "html/parts/*.html")
	if err != nil {
		return nil, err
	}
	names, err := fs.Glob(html, "html/*.html")
	if err != nil {
		return nil, err
	}
	pages := templates{}
	for _, file := range names {
		name := strings.TrimSuffix(path.Base(file), ".html")
		page, err := base.Clone()
		if err != nil {
			return nil, err
		}
		if pages[name], err = page.ParseFS(html, file); err != nil {
			return nil, err
		}
	}
	return pages, nil
}

// view is what the layout is given: Page is the page's own.
type view struct {
	Name     string // of the page
	Title    string
	Path     string // of the request, to mark where one is
	Shop     string
	Own      bool // technicians have a page of their own
	Invented bool
	Progress archive.Progress // of the figures, on pages that look back
	Page     any
}

// show writes a page. It is made whole first, so that a mistake in it never leaves half a page.
func (s *server) show(w http.ResponseWriter, r *http.Request, status int, name, title string, page any) {
	var out bytes.Buffer
	of := view{Name: name, Title: title, Path: r.URL.Path, Shop: s.Shop, Own: s.CheckToken != nil, Invented: s.Invented, Page: page}
	if s.Archive != nil && name != "glance" {
		of.Progress = s.Archive.Progress()
	}
	err := s.pages[name].ExecuteTemplate(&out, "layout", of)
	if err != nil {
		http.Error(w, fmt.Sprintf("%s: %v", s.Tongue.F("Something went wrong"), err), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = out.WriteTo(w)
}

// trouble is what the page of an error says.
type trouble struct{ What, Do string }

// fail shows what went wrong and what to do.
func (s *server) fail(w http.ResponseWriter, r *http.Request, status int, what, do string) {
	s.show(w, r, status, "trouble", s.Tongue.F("Something went wrong"), trouble{what, do})
}

func (s *server) notFound(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusNotFound, "trouble", s.Tongue.F("Not found"), trouble{s.Tongue.F("There is no page %s.", r.URL.Path), ""})
}
