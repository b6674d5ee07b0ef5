package pages

import (
	"bytes"
	"io"
	"mime"
	"net/http"
	"os"
	"path"
	"slices"
	"time"

	"stepcaller/procedures"
)

// figure serves a picture that a step of a procedure names: out of the shop's folder and nowhere else, or as it came with the program.
func (s *server) figure(w http.ResponseWriter, r *http.Request) {
	p, err := s.shelf.find(r.PathValue("procedure"))
	file := r.PathValue("file")
	named := func(step procedures.Step) bool {
		return slices.ContainsFunc(step.Figures, func(f procedures.Figure) bool { return path.Clean(f.File) == file })
	}
	if err != nil || p == nil || !slices.ContainsFunc(p.Steps, named) {
		s.notFound(w, r)
		return
	}
	data, err := s.picture(file)
	if err != nil {
		s.notFound(w, r)
		return
	}
	w.Header().Set("Content-Type", mime.TypeByExtension(path.Ext(file)))
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(data))
}

// longestPicture bounds what is read of a picture, in bytes.
const longestPicture = 16 << 20

func (s *server) picture(file string) ([]byte, error) {
	if s.Procedures != "" {
		if root, err := os.OpenRoot(s.Procedures); err == nil {
			defer root.Close()
			if f, err := root.Open(file); err == nil {
				defer f.Close()
				return io.ReadAll(io.LimitReader(f, longestPicture))
			}
		}
	}
	return procedures.BundledPicture(file)
}

// figurePath is where a picture of a procedure is served.
func figurePath(procedure string, f procedures.Figure) string {
	return "/procedures/" + procedure + "/figure/" + path.Clean(f.File)
}
