package pages

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"stepcaller/procedures"
)

// shelf are the procedures that can be done: the shop's own, read again where a file changed, and the bundled ones. It is safe for
// concurrent use; nobody changes what it gives.
type shelf struct {
	folder string // "" for none

	mu      sync.Mutex
	own     map[string]shelved // by path
	bundled []*procedures.Procedure
}

// shelved is a file of the shop's as it was read. The procedure is nil where it has a mistake.
type shelved struct {
	size      int64
	at        time.Time
	procedure *procedures.Procedure
	mistakes  []procedures.Mistake
}

// list gives every procedure, the shop's first; an id that was met already is passed over. The mistakes are those of files that cannot
// be used.
func (s *shelf) list() (all []*procedures.Procedure, mistakes []procedures.Mistake, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.bundled == nil {
		s.bundled = procedures.Bundled()
	}
	paths, err := s.refresh()
	if err != nil {
		return nil, nil, err
	}
	met := map[string]bool{}
	for _, path := range paths {
		of := s.own[path]
		switch {
		case of.procedure == nil:
			mistakes = append(mistakes, of.mistakes...)
		case !met[of.procedure.ID]:
			met[of.procedure.ID] = true
			all = append(all, of.procedure)
		}
	}
	for _, p := range s.bundled {
		if !met[p.ID] {
			all = append(all, p)
		}
	}
	return all, mistakes, nil
}

// refresh reads what changed in the shop's folder, and lists its files.
func (s *shelf) refresh() (paths []string, err error) {
	if s.folder == "" {
		return nil, nil
	}
	entries, err := os.ReadDir(s.folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	kept := map[string]shelved{}
	for _, e := range entries {
		if ext := strings.ToLower(filepath.Ext(e.Name())); ext != ".yaml" && ext != ".yml" {
			continue
		}
		path := filepath.Join(s.folder, e.Name())
		info, err := os.Stat(path)
		if err != nil {
			continue // it went away meanwhile
		}
		of, known := s.own[path]
		if !known || of.size != info.Size() || !of.at.Equal(info.ModTime()) {
			p, mistakes, err := procedures.ReadFile(path)
			if err != nil {
				mistakes = []procedures.Mistake{{File: path, What: err.Error()}}
			}
			of = shelved{info.Size(), info.ModTime(), p, mistakes}
		}
		kept[path] = of
		paths = append(paths, path)
	}
	s.own = kept
	return paths, nil
}

// find finds a procedure by its id, or by the name of a file of the shop's. It is nil where that file has a mistake.
func (s *shelf) find(id string) (*procedures.Procedure, error) {
	all, _, err := s.list()
	if err != nil {
		return nil, err
	}
	if i := slices.IndexFunc(all, func(p *procedures.Procedure) bool { return p.ID == id }); i >= 0 {
		return all[i], nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for path, of := range s.own {
		if strings.TrimSuffix(filepath.Base(path), filepath.Ext(path)) == id {
			return of.procedure, nil
		}
	}
	return nil, fmt.Errorf("%w: %q", procedures.ErrNotFound, id)
}

// fileName is a file's name without its folder and its ending.
func fileName(path string) string { return strings.TrimSuffix(filepath.Base(path), filepath.Ext(path)) }
