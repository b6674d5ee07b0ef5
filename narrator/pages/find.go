package pages

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"stepcaller/procedures"
)

// source is a procedure's file as it is edited.
type source struct {
	Path    string // in the shop's folder; "" where it is not there yet
	Text    string
	Version string // of the file on disk, "" for none
}

// sourceOf reads the file of a procedure, whether it can be used or not.
func (s *server) sourceOf(id string) (source, error) {
	p, err := s.shelf.find(id)
	if err != nil {
		return source{}, err
	}
	if p != nil && filepath.Dir(p.Name()) != filepath.Clean(s.Procedures) {
		return source{Text: p.Text()}, nil // it is bundled
	}
	paths := []string{filepath.Join(s.Procedures, id+".yaml"), filepath.Join(s.Procedures, id+".yml")}
	if p != nil {
		paths = []string{p.Name()}
	}
	for _, path := range paths {
		data, err := os.ReadFile(path) // #nosec G703 -- the shelf knows the id, so that it names a file of the folder
		if err == nil {
			return source{path, string(data), version(data)}, nil
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return source{}, err
		}
	}
	return source{}, fmt.Errorf("%w: %q", procedures.ErrNotFound, id)
}

func version(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// errNewer says that a file is another than the one that was edited.
var errNewer = errors.New("the file on disk is newer")

// save writes a procedure's file, all of it or nothing. The file must be as it was when it was opened: of that version, or not there
// where version is "". Nobody else of this program saves meanwhile.
func (s *server) save(path, text, was string) (err error) {
	s.saving.Lock()
	defer s.saving.Unlock()
	data, err := os.ReadFile(path)
	switch {
	case err == nil && version(data) != was, errors.Is(err, fs.ErrNotExist) && was != "":
		return errNewer
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".stepcaller-*")
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(f.Name()) }() // it is gone when all went well
	_, err = f.WriteString(text)
	if err = errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return err
	}
	if was != "" {
		return os.Rename(f.Name(), path)
	}
	if err := os.Link(f.Name(), path); errors.Is(err, fs.ErrExist) { // which never replaces a file
		return errNewer
	} else if err != nil {
		return err
	}
	return nil
}
