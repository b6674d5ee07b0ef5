package pages

import (
	"bytes"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"time"

	"stepcaller/narrator"
)

// memo plays a spoken note of a job. Only what the job's own log names is opened, and nothing outside the data folder.
func (s *server) memo(w http.ResponseWriter, r *http.Request) {
	j, _, ok := s.job(w, r)
	if !ok {
		return
	}
	name := "memos/" + r.PathValue("memo")
	if !slices.ContainsFunc(j.Memos(), func(m narrator.Memo) bool { return m.File == name }) {
		s.fail(w, r, http.StatusNotFound, s.Tongue.F("Job %s has no note %s.", j.ID, r.PathValue("memo")), s.Tongue.F("The job's page lists its notes."))
		return
	}
	if s.Memo != nil {
		sound, err := s.Memo(r.Context(), name)
		if err != nil {
			s.noMemo(w, r, name)
			return
		}
		w.Header().Set("Content-Type", "audio/wav")
		http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(sound))
		return
	}
	folder, err := os.OpenRoot(s.Data)
	if err != nil {
		s.noMemo(w, r, name)
		return
	}
	defer folder.Close()
	file, err := folder.Open(filepath.FromSlash(name))
	if err != nil {
		s.noMemo(w, r, name)
		return
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil || !info.Mode().IsRegular() {
		s.noMemo(w, r, name)
		return
	}
	w.Header().Set("Content-Type", "audio/wav")
	http.ServeContent(w, r, "", info.ModTime(), file)
}

func (s *server) noMemo(w http.ResponseWriter, r *http.Request, name string) {
	s.fail(w, r, http.StatusNotFound, s.Tongue.F("The recording %s is not in the data folder.", name),
		s.Tongue.F("It was deleted, or the folder was moved without it. A copy of the folder may still have it."))
}
