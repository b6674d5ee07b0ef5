package procedures

import (
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// library is the folder of the bundled procedures and their pictures.
const library = "library"

//go:embed library
var bundledFiles embed.FS

// Demo is the id of the bundled procedure that shows the program.
const Demo = "valve-cover"

// ErrNotFound is returned, wrapped, by Find when a procedure is nowhere.
var ErrNotFound = errors.New("no such procedure")

// Bundled returns the procedures that come with the program, in the order of
// their ids. Every call reads them afresh, so the caller may change them.
func Bundled() []*Procedure {
	folder, err := fs.Sub(bundledFiles, library)
	if err != nil {
		return nil // the folder is in the program
	}
	names, err := fs.Glob(folder, "*.yaml")
	if err != nil {
		return nil // the pattern is fixed and good
	}
	var all []*Procedure
	for _, name := range names {
		if p, _, err := read(folder, name, "bundled/"+name); err == nil && p != nil {
			all = append(all, p)
		}
	}
	slices.SortFunc(all, func(a, b *Procedure) int { return strings.Compare(a.ID, b.ID) })
	return all
}

// BundledPicture is a picture of a bundled procedure, by the file that the procedure names.
func BundledPicture(file string) ([]byte, error) {
	data, err := bundledFiles.ReadFile(path.Join(library, file))
	if err != nil {
		return nil, fmt.Errorf("picture %q: %w", file, err)
	}
	return data, nil
}

// Find reads the procedure that ref names: a file, where ref has a folder in it or
// ends in .yaml or .yml; else the procedure with this id in one of the folders, in
// their order; else the bundled one. A folder that does not exist is passed over.
//
// The error is about getting at the file, ErrNotFound or one of the file system.
// What is wrong inside the file are the mistakes; the procedure is nil when one of
// them is an Error.
func Find(ref string, folders ...string) (*Procedure, []Mistake, error) {
	if strings.ContainsRune(ref, filepath.Separator) || isYAML(ref) {
		return ReadFile(ref)
	}
	var ids []string
	for _, folder := range folders {
		for _, name := range yamlFiles(folder) {
			p, mistakes, err := ReadFile(name)
			if strings.TrimSuffix(filepath.Base(name), filepath.Ext(name)) == ref || p != nil && p.ID == ref {
				return p, mistakes, err
			}
			if p != nil {
				ids = append(ids, p.ID)
			}
		}
	}
	for _, p := range Bundled() {
		if p.ID == ref {
			return p, nil, nil
		}
		ids = append(ids, p.ID)
	}
	if near := nearest(ref, ids); near != "" {
		return nil, nil, fmt.Errorf("%w: %q; did you mean %q?", ErrNotFound, ref, near)
	}
	return nil, nil, fmt.Errorf("%w: %q; give one of %s, or the path of a file", ErrNotFound, ref, strings.Join(ids, ", "))
}

// ReadFile reads one procedure file. Error and mistakes are as for Find; a picture that is not in the file's folder is
// asked about.
func ReadFile(path string) (*Procedure, []Mistake, error) {
	path = filepath.Clean(path)
	p, mistakes, err := read(os.DirFS(filepath.Dir(path)), filepath.Base(path), path)
	if p != nil {
		mistakes = append(mistakes, p.checkPictures(filepath.Dir(path))...)
	}
	return p, mistakes, err
}

// read loads a regular file; shown is its name in messages.
func read(folder fs.FS, name, shown string) (*Procedure, []Mistake, error) {
	info, err := fs.Stat(folder, name)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, nil, fmt.Errorf("%w: %s; check the path", ErrNotFound, shown)
		}
		return nil, nil, fmt.Errorf("reading procedure: %w", err)
	}
	if !info.Mode().IsRegular() {
		return nil, nil, fmt.Errorf("reading procedure %s: not a regular file; give the path of a .yaml file", shown)
	}
	f, err := folder.Open(name)
	if err != nil {
		return nil, nil, fmt.Errorf("reading procedure: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, MaxBytes+1))
	if err != nil {
		return nil, nil, fmt.Errorf("reading procedure %s: %w", shown, err)
	}
	p, mistakes := Load(shown, data)
	return p, mistakes, nil
}

// yamlFiles lists the procedure files of a folder by name, none where it cannot be
// read.
func yamlFiles(folder string) (paths []string) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil
	}
	for _, e := range entries {
		if isYAML(e.Name()) {
			paths = append(paths, filepath.Join(folder, e.Name()))
		}
	}
	return paths
}

func isYAML(name string) bool {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".yaml", ".yml":
		return true
	}
	return false
}

// List reads the procedures of the folders, then the bundled ones, in the order of their ids within each; an id that was
// met already is passed over, as Find would. The mistakes are those of files that cannot be used.
func List(folders ...string) (all []*Procedure, mistakes []Mistake, err error) {
	met := map[string]bool{}
	for _, folder := range folders {
		for _, name := range yamlFiles(folder) {
			p, wrong, err := ReadFile(name)
			if err != nil {
				return nil, nil, err
			}
			if p == nil {
				mistakes = append(mistakes, wrong...)
			} else if !met[p.ID] {
				met[p.ID] = true
				all = append(all, p)
			}
		}
	}
	for _, p := range Bundled() {
		if !met[p.ID] {
			all = append(all, p)
		}
	}
	return all, mistakes, nil
}
