package journal

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
)

// lastFile holds, beside the database, the mark of the latest event that was acknowledged. A database that ends before it has lost its
// end: SQLite takes a log that was cut short for one that was never longer.
const lastFile = "journal.last"

// lastMark keeps that file for the one writer. The file may lag behind after a power cut; it is never ahead, as it is written after the
// events are on the disk.
type lastMark struct {
	mu   sync.Mutex
	file *os.File
	mark Mark
}

// openLast opens the file of a folder, makes it where there is none, and raises it to a mark that is on the disk.
func openLast(dir string, at Mark) (*lastMark, error) {
	f, err := os.OpenFile(filepath.Join(dir, lastFile), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	l := &lastMark{file: f}
	return l, l.write(at)
}

// raise notes that events up to a mark are acknowledged. A write that fails costs no more than the notice of a loss.
func (l *lastMark) raise(to Mark) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if to > l.mark {
		_ = l.write(to)
	}
}

func (l *lastMark) write(mark Mark) error {
	l.mark = mark
	_, err := l.file.WriteAt([]byte(lastText(mark)), 0)
	return err
}

func lastText(mark Mark) string {
	text := fmt.Sprintf("%019d", mark)
	return fmt.Sprintf("%s %016x\n", text, uint64(sumOfText(text)))
}

// readLast reads the file of a folder: zero where there is none, an error where it does not hold what was written.
func readLast(dir string) (Mark, error) {
	path := filepath.Join(dir, lastFile)
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	digits, _, _ := strings.Cut(string(data), " ")
	mark, err := strconv.ParseInt(digits, 10, 64)
	if err != nil || lastText(Mark(mark)) != string(data) {
		return 0, fmt.Errorf("%s: %w; remove this file, it is made again", path, ErrDamaged)
	}
	return Mark(mark), nil
}
