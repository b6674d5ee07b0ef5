package pages

import (
	"archive/zip"
	"errors"
	"io"
	"net/http"
	"os"

	"stepcaller/narrator"
	"stepcaller/narrator/labour/export"
)

// exportJSON sends the sheets of all jobs as one file.
func (s *server) exportJSON(w http.ResponseWriter, r *http.Request) {
	if s.Store == nil {
		s.nothingYet(w, r)
		return
	}
	now := s.Now()
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Disposition", `attachment; filename="stepcaller.json"`)
	var left *export.Incomplete // the file itself names the jobs that cannot be read
	if err := export.JSON(w, now, s.Invented, export.From(r.Context(), s.Store, narrator.MomentOf(now))); err != nil && !errors.As(err, &left) {
		panic(http.ErrAbortHandler) // the file is cut off, and the browser says so
	}
}

// exportCSV sends everything as tables in an archive. They are written beside each other, so they wait in files until they are whole.
func (s *server) exportCSV(w http.ResponseWriter, r *http.Request) {
	if s.Store == nil {
		s.nothingYet(w, r)
		return
	}
	folder, err := os.MkdirTemp("", "stepcaller-*")
	if err != nil {
		s.fail(w, r, http.StatusInternalServerError, s.Tongue.F("The tables cannot be written."), err.Error())
		return
	}
	defer os.RemoveAll(folder)
	root, err := os.OpenRoot(folder)
	if err != nil {
		s.fail(w, r, http.StatusInternalServerError, s.Tongue.F("The tables cannot be written."), err.Error())
		return
	}
	defer root.Close()
	err = s.tables(r, root)
	if left := (*export.Incomplete)(nil); errors.As(err, &left) {
		err = root.WriteFile("unreadable.txt", []byte(left.Error()+"\n"), 0o600)
	}
	if err != nil {
		s.fail(w, r, http.StatusInternalServerError, s.Tongue.F("The tables cannot be written."), err.Error())
		return
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="stepcaller.csv.zip"`)
	out := zip.NewWriter(w)
	if err := errors.Join(out.AddFS(root.FS()), out.Close()); err != nil {
		panic(http.ErrAbortHandler)
	}
}

// tables writes every table into a folder.
func (s *server) tables(r *http.Request, folder *os.Root) (err error) {
	var open []io.Closer
	defer func() {
		for _, f := range open {
			err = errors.Join(err, f.Close())
		}
	}()
	return export.AllCSV(func(table string) (io.Writer, error) {
		f, err := folder.Create(table + ".csv")
		if err == nil {
			open = append(open, f)
		}
		return f, err
	}, export.From(r.Context(), s.Store, narrator.MomentOf(s.Now())))
}
