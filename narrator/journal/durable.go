package journal

import (
	"cmp"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// makeFolder creates a folder, and those above it, for the owner alone, and makes their names durable. A folder that exists
// is left as it is.
func makeFolder(dir string) error {
	if err := os.Mkdir(dir, 0o700); err == nil {
		return syncPath(filepath.Dir(dir))
	} else if errors.Is(err, fs.ErrExist) {
		info, err := os.Stat(dir)
		if err == nil && !info.IsDir() {
			return &fs.PathError{Op: "open folder", Path: dir, Err: errors.New("this is a file; choose another folder")}
		}
		return err
	} else if !errors.Is(err, fs.ErrNotExist) || dir == filepath.Dir(dir) {
		return err
	}
	if err := makeFolder(filepath.Dir(dir)); err != nil {
		return err
	}
	return makeFolder(dir)
}

// settle gives a file that is written to its end its final name: the bytes are synced, then the name changes, then the
// folder is synced. After a crash one of the two names stands, and under it are all the bytes. The final name must be free;
// nobody else may be about to take it.
func settle(part, final string) error {
	if err := syncPath(part); err != nil {
		return err
	}
	if _, err := os.Lstat(final); !errors.Is(err, fs.ErrNotExist) {
		return &fs.PathError{Op: "rename to", Path: final, Err: cmp.Or(err, fs.ErrExist)}
	}
	if err := os.Rename(part, final); err != nil {
		return err
	}
	return syncPath(filepath.Dir(final))
}

// syncPath brings a file's bytes, or a folder's names, to the disk.
func syncPath(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	err = f.Sync()
	return errors.Join(err, f.Close())
}
