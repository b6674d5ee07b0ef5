package speech

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// replaceFile makes data the whole content of the file at path, for the owner
// alone: written beside it, synced, renamed over it, the folder synced. After a
// crash the old content stands or the new, never a part.
func replaceFile(path string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*.part")
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	defer os.Remove(f.Name()) // gone already when all went well
	_, err = f.Write(data)
	if err = errors.Join(err, f.Sync(), f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err == nil {
		err = syncPath(filepath.Dir(path))
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return nil
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
