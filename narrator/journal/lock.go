package journal

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// lock is held by the one writer of a folder. The kernel gives it up with the process, however that ends; the file itself
// stays and holds the number of the process that had it last.
type lock struct{ file *os.File }

// takeLock takes the writer's lock on a folder that exists. Where another process has it the error is ErrInUse.
func takeLock(dir string) (*lock, error) {
	path := filepath.Join(dir, "lock")
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fault("open", path, err)
	}
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if err == nil {
		err = f.Truncate(0)
	}
	if err == nil {
		_, err = fmt.Fprintln(f, os.Getpid())
	}
	if err == nil {
		return &lock{file: f}, nil
	}
	defer f.Close()
	if errors.Is(err, syscall.EWOULDBLOCK) {
		who := "another process"
		if text, _ := io.ReadAll(f); len(text) > 0 {
			who = "process " + strings.TrimSpace(string(text))
		}
		return nil, fmt.Errorf("open %s: %w by %s; stop that one first, or choose another folder", dir, ErrInUse, who)
	}
	return nil, fault("lock", path, err)
}

func (l *lock) release() error { return l.file.Close() }

// locked reports whether a writer is at work in a folder.
func locked(dir string) bool {
	f, err := os.Open(filepath.Join(dir, "lock"))
	if err != nil {
		return false
	}
	defer f.Close()
	return errors.Is(syscall.Flock(int(f.Fd()), syscall.LOCK_SH|syscall.LOCK_NB), syscall.EWOULDBLOCK)
}
