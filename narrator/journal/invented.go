package journal

import (
	"os"
	"path/filepath"
)

// inventedFile stands in a data folder whose jobs never happened.
const inventedFile = "invented.txt"

// MarkInvented notes in a data folder, which is made where there is none, that what is in it was made up.
func MarkInvented(dir string) error {
	if err := makeFolder(dir); err != nil {
		return fault("create folder", dir, err)
	}
	path := filepath.Join(dir, inventedFile)
	text := "The jobs in this folder were made up by `stepcaller demo-shop`. Nobody worked them; do not rely on any figure drawn from them.\n"
	return fault("write", path, os.WriteFile(path, []byte(text), 0o600))
}

// Invented reports whether the jobs in a data folder were made up. Whatever shows them says so.
func Invented(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, inventedFile))
	return err == nil
}
