package pages

import (
	"errors"
	"net/http"
	"path/filepath"
	"strings"

	"stepcaller/narrator/labour"
	"stepcaller/procedures"
)

// editPage is a procedure's file with what the checker says of it.
type editPage struct {
	ID      string // "" for a new one
	Text    string
	Version string
	Path    string // where it is saved, "" where it cannot be
	Bundled bool   // the file comes with the program: a copy is saved
	Job     string // that it was spoken in, "" for none
	Notes   []note // of that job
	Remarks []lineRemark
	Errors  int
	Checked bool
	Good    bool // it was checked, and can be used
	Wrong   string
	Newer   bool // the file on disk is another
	Saved   bool
}

// lineRemark is what the checker says, with the line that it means.
type lineRemark struct {
	procedures.Mistake
	Question bool
	Quoted   string
}

// Lines is how high the text is, for its field.
func (p editPage) Lines() int { return min(2000, strings.Count(p.Text, "\n")+3) }

// Numbers are the lines' numbers, with a mark where something is said of one.
func (p editPage) Numbers() []lineNumber {
	all := make([]lineNumber, strings.Count(p.Text, "\n")+1)
	for i := range all {
		all[i].Number = i + 1
	}
	for _, r := range p.Remarks {
		if r.Line < 1 || r.Line > len(all) {
			continue
		}
		if mark := &all[r.Line-1].Mark; *mark != "error" {
			*mark = map[bool]string{true: "question", false: "error"}[r.Question]
		}
	}
	return all
}

// lineNumber is one with its mark: error, question, or "" for none.
type lineNumber struct {
	Number int
	Mark   string
}

// edit shows a procedure's file.
func (s *server) edit(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("procedure")
	of, err := s.sourceOf(id)
	if errors.Is(err, procedures.ErrNotFound) {
		s.fail(w, r, http.StatusNotFound, s.Tongue.F("There is no procedure %s.", id), s.Tongue.F("The list of procedures has them all."))
		return
	}
	if err != nil {
		s.fail(w, r, http.StatusInternalServerError, s.Tongue.F("The file cannot be read."), err.Error())
		return
	}
	page := editPage{ID: id, Text: of.Text, Version: of.Version, Path: s.placeOf(of.Path, id), Bundled: of.Path == "", Saved: r.URL.Query().Has("saved")}
	page.check()
	s.show(w, r, http.StatusOK, "edit", s.Tongue.F("File of %s", id), page)
}

// placeOf is where a procedure is saved.
func (s *server) placeOf(path, id string) string {
	if path != "" || s.Procedures == "" || id == "" {
		return path
	}
	return filepath.Join(s.Procedures, id+".yaml")
}

// draft shows a new file: what was spoken in a job without a procedure, or next to nothing.
func (s *server) draft(w http.ResponseWriter, r *http.Request) {
	page := editPage{Job: r.URL.Query().Get("job")}
	if page.Job == "" {
		page.Text = string(procedures.Draft{Title: s.Tongue.F("New procedure"), Steps: []procedures.DraftStep{{Step: procedures.Step{Say: s.Tongue.F("Say here what is to be done.")}}}}.YAML())
	} else if !s.spoken(w, r, &page, true) {
		return
	}
	page.check()
	s.show(w, r, http.StatusOK, "edit", s.Tongue.F("New procedure"), page)
}

// spoken adds a job's recordings to the page, and its draft where that is wanted. Where there is none a page says so.
func (s *server) spoken(w http.ResponseWriter, r *http.Request, page *editPage, text bool) bool {
	r.SetPathValue("job", page.Job)
	j, now, ok := s.job(w, r)
	if !ok {
		return false
	}
	draft := j.Draft(now)
	if draft == nil {
		s.fail(w, r, http.StatusNotFound, s.Tongue.F("Job %s has a procedure already.", j.ID), s.Tongue.F("Only a job that was spoken without one is typed up."))
		return false
	}
	if text {
		page.Text = string(draft.YAML())
	}
	page.Notes = notes(j, labour.Of(j, now), j.Timeline(now))
	return true
}

// check has the checker look at the text.
func (p *editPage) check() (*procedures.Procedure, bool) {
	name := p.ID
	if name == "" {
		name = "new"
	}
	of, mistakes := procedures.Load(name+".yaml", []byte(p.Text))
	lines := strings.Split(p.Text, "\n")
	p.Remarks, p.Errors = nil, 0
	for _, m := range mistakes {
		row := lineRemark{Mistake: m, Question: m.Severity == procedures.Question}
		if m.Line >= 1 && m.Line <= len(lines) {
			row.Quoted = strings.TrimSpace(lines[m.Line-1])
		}
		if !row.Question {
			p.Errors++
		}
		p.Remarks = append(p.Remarks, row)
	}
	p.Good = of != nil
	return of, of != nil
}

// keep checks what was written, and saves it where that is asked for.
func (s *server) keep(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 3*procedures.MaxBytes+longestForm) // a byte may take three in a form
	if err := r.ParseForm(); err != nil {
		s.fail(w, r, http.StatusBadRequest, s.Tongue.F("The form could not be read."), s.Tongue.F("Write less, and send it again."))
		return
	}
	page := editPage{ID: r.PathValue("procedure"), Text: strings.ReplaceAll(r.PostFormValue("text"), "\r\n", "\n"), Version: r.PostFormValue("version"),
		Job: r.PostFormValue("job"), Checked: true}
	if page.Job != "" && !s.spoken(w, r, &page, false) {
		return
	}
	path := ""
	if page.ID != "" {
		of, err := s.sourceOf(page.ID)
		if err != nil {
			s.fail(w, r, http.StatusNotFound, s.Tongue.F("There is no procedure %s.", page.ID), s.Tongue.F("The list of procedures has them all."))
			return
		}
		path, page.Bundled = of.Path, of.Path == ""
	}
	p, good := page.check()
	if good {
		page.Path = s.placeOf(path, p.ID)
	}
	status := http.StatusOK
	if r.PostFormValue("do") == "save" {
		if status = s.saved(&page); status == http.StatusOK {
			http.Redirect(w, r, "/procedures/"+p.ID+"/edit?saved", http.StatusSeeOther)
			return
		}
	}
	title := s.Tongue.F("New procedure")
	if page.ID != "" {
		title = s.Tongue.F("File of %s", page.ID)
	}
	s.show(w, r, status, "edit", title, page)
}

// saved saves a page's text, or says on it why not. StatusOK says that it did.
func (s *server) saved(page *editPage) int {
	switch {
	case page.Errors > 0 || !page.Good:
		page.Wrong = s.Tongue.N(page.Errors, "Not saved: mend the %d mistake first.", "Not saved: mend the %d mistakes first.")
		return http.StatusUnprocessableEntity
	case page.Path == "":
		page.Wrong = s.Tongue.F("Not saved: the shop has no folder for procedures. Name one under procedures in the configuration.")
		return http.StatusForbidden
	}
	switch err := s.save(page.Path, page.Text, page.Version); {
	case errors.Is(err, errNewer):
		page.Newer = true
		page.Wrong = s.Tongue.F("Not saved: %s was written by somebody else since this page was opened. Open it anew in another window and carry your changes over.", page.Path)
		return http.StatusConflict
	case err != nil:
		page.Wrong = s.Tongue.F("Not saved: %s", err.Error())
		return http.StatusInternalServerError
	}
	return http.StatusOK
}

// Questions is how many of the checker's remarks stop nothing.
func (p editPage) Questions() int { return len(p.Remarks) - p.Errors }

// Name is the recording's as a draft calls it: by the number that ends the name of its file.
func (n note) Name() string {
	name := strings.TrimSuffix(n.File, ".wav")
	return "recording " + name[strings.LastIndexAny(name, "-/")+1:]
}
