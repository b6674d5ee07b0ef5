package speech

/*
#include <stdio.h>
#include <unistd.h>

// swap_stderr makes to the stderr of C code and returns what was.
static FILE *swap_stderr(FILE *to) {
	FILE *from = stderr;
	stderr = to;
	return from;
}

// open_lines opens a descriptor for writing line by line.
static FILE *open_lines(int fd) {
	FILE *f = fdopen(fd, "w");
	if (f != NULL)
		setvbuf(f, NULL, _IOLBF, BUFSIZ);
	return f;
}
*/
import "C"

import (
	"bufio"
	"fmt"
	"log/slog"
	"os"

	"golang.org/x/sys/unix"
)

// hush leads what C code writes to stderr into a log. ALSA, JACK and PortAudio
// write some eighty lines to it about devices that are not there, and more when
// one is lost, past any logger. What Go writes to stderr, a crash included, is
// not touched: the C library's stderr is replaced, not the descriptor.
type hush struct {
	before, instead *C.FILE
	drained         chan struct{}
}

func newHush(log *slog.Logger) (*hush, error) {
	var fds [2]int
	if err := unix.Pipe2(fds[:], unix.O_CLOEXEC); err != nil {
		return nil, fmt.Errorf("pipe: %w", err)
	}
	_ = unix.SetNonblock(fds[1], true) // an audio thread rather loses a line than waits
	reader := os.NewFile(uintptr(fds[0]), "stderr of the sound system")
	h := &hush{instead: C.open_lines(C.int(fds[1])), drained: make(chan struct{})}
	if h.instead == nil {
		reader.Close()
		unix.Close(fds[1])
		return nil, fmt.Errorf("fdopen: out of memory")
	}
	h.before = C.swap_stderr(h.instead)
	go func() {
		defer close(h.drained)
		defer reader.Close()
		for lines := bufio.NewScanner(reader); lines.Scan(); {
			log.Debug("sound system", "said", lines.Text())
		}
	}()
	return h, nil
}

// end gives C code its stderr back, when none is running that might be writing.
func (h *hush) end() {
	C.swap_stderr(h.before)
	C.fclose(h.instead)
	<-h.drained
}
