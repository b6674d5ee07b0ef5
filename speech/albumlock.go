package speech

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"syscall"
)

// ErrVoiceInUse is the error where another process writes a technician's voice.
var ErrVoiceInUse = errors.New("a sitting goes on already")

// Lock makes this process the one that writes the album, and reads it anew. It
// ends with the returned Closer, or with the process. Where another has it the
// error is [ErrVoiceInUse].
func (a *Album) Lock() (io.Closer, error) {
	fail := func(err error) (io.Closer, error) { return nil, fmt.Errorf("voice of %s: %w", a.Technician(), err) }
	if err := a.makeFolder(); err != nil {
		return nil, err
	}
	path := filepath.Join(a.dir, "."+a.name+".lock")
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return fail(err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		if errors.Is(err, syscall.EWOULDBLOCK) {
			err = fmt.Errorf("%w in another process; end that one, or wait until it is over", ErrVoiceInUse)
		}
		f.Close()
		return fail(err)
	}
	if err := a.read(); err != nil {
		f.Close()
		return nil, err
	}
	return f, nil
}
