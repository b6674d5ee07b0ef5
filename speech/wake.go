package speech

import (
	"fmt"
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// wake lets the audio thread wake a goroutine: an eventfd(2), whose write
// neither waits nor allocates.
type wake struct {
	file *os.File
	fd   int
	one  [8]byte
}

func newWake() (*wake, error) {
	fd, err := unix.Eventfd(0, unix.EFD_NONBLOCK|unix.EFD_CLOEXEC)
	if err != nil {
		return nil, fmt.Errorf("eventfd: %w", err)
	}
	return &wake{file: os.NewFile(uintptr(fd), "eventfd"), fd: fd, one: [8]byte{1}}, nil
}

// up wakes the goroutine that waits, or the next one that will.
func (w *wake) up() { _, _ = unix.Write(w.fd, w.one[:]) }

// wait returns nil after up, os.ErrDeadlineExceeded when d has passed without
// it, and another error after close.
func (w *wake) wait(d time.Duration) error {
	if err := w.file.SetReadDeadline(time.Now().Add(d)); err != nil {
		return err
	}
	var count [8]byte
	_, err := w.file.Read(count[:])
	return err
}

// close is called when up is called no more.
func (w *wake) close() error { return w.file.Close() }
