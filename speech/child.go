package speech

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"
	"unicode/utf8"

	"golang.org/x/sys/unix"
)

const (
	voicePatience = 5 * time.Second       // of [CommandVoice.Patience]
	voicePerRune  = 20 * time.Millisecond // more of it for each character of the sentence
	voiceLetGo    = time.Second           // for what a child left behind to let go of its pipes
	mostSpoken    = 2 * time.Minute       // of sound
	mostWritten   = 4 * 48000 * 120       // bytes: as much at 48 kHz in two channels
	lastWords     = 4 << 10               // bytes of standard error kept
)

// A CommandVoice is a Voice made by a text-to-speech program, run once for each sentence.
//
// The program runs in a process group of its own, which is killed outright when ctx ends, when the time
// is over or when more than two minutes of sound come; a program that speaks has nothing to put in order.
// Its sound is trimmed to the speech and brought to one level, whatever program made it.
//
// It holds no state between sentences: a copy with other settings is another voice.
type CommandVoice struct {
	Command  Command
	Settings Settings
	// Patience is how long a sentence may take to make, besides 20 ms for each of its characters.
	// Zero means 5 s.
	Patience time.Duration
}

// At is the same program with other settings. It has the form that NewAhead asks for.
func (v CommandVoice) At(s Settings) Voice {
	v.Settings = s
	return v
}

// Speak implements Voice.
func (v CommandVoice) Speak(ctx context.Context, text string) ([]int16, error) {
	line, err := Speakable(text)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(v.Settings.Check(), v.Command.Find()); err != nil {
		return nil, err
	}
	raw, err := v.run(ctx, line)
	if err != nil {
		return nil, fmt.Errorf("speaking %q with %s: %w", line, v.Command.words[0], err)
	}
	pcm, err := DecodeWAV(bytes.NewReader(raw))
	if err != nil {
		return nil, fmt.Errorf("speaking %q with %s: %w: %w", line, v.Command.words[0], ErrVoiceGarbled, err)
	}
	if Samples(len(pcm)) > SamplesIn(mostSpoken) {
		return nil, fmt.Errorf("speaking %q with %s: %w", line, v.Command.words[0], ErrVoiceEndless)
	}
	if pcm = settle(pcm); len(pcm) == 0 {
		return nil, fmt.Errorf("speaking %q with %s: only silence came: %w", line, v.Command.words[0], ErrVoiceSilent)
	}
	return pcm, nil
}

// run runs the program on one line and returns the WAV file it wrote.
func (v CommandVoice) run(ctx context.Context, line string) ([]byte, error) {
	wav := ""
	if v.Command.takes("{wav}") {
		dir, err := os.MkdirTemp("", "stepcaller-voice-")
		if err != nil {
			return nil, fmt.Errorf("making room for the sound: %w", err)
		}
		defer os.RemoveAll(dir)
		wav = filepath.Join(dir, "sentence.wav")
	}
	wait := v.Patience
	if wait == 0 {
		wait = voicePatience
	}
	wait += time.Duration(utf8.RuneCountInString(line)) * voicePerRune
	working, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	timer := time.AfterFunc(wait, func() { cancel(fmt.Errorf("not finished in %v: %w", wait, ErrVoiceHung)) })
	defer timer.Stop()

	words := v.Command.fill(v.Settings, line, wav)
	child := exec.CommandContext(working, words[0], words[1:]...)
	child.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	child.Cancel = func() error { return killGroup(child) }
	child.WaitDelay = voiceLetGo
	if !v.Command.takes("{text}") {
		child.Stdin = strings.NewReader(line + "\n")
	}
	sound := &bounded{room: mostWritten, full: func() { cancel(ErrVoiceEndless) }}
	var complaint lastSaid
	child.Stdout, child.Stderr = sound, &complaint

	// Wait returns only when both readers have come to their end, so the last words are whole.
	err := child.Start()
	if err == nil {
		if wav != "" {
			limitFiles(child.Process.Pid)
		}
		err = child.Wait()
	}
	if errors.Is(err, exec.ErrWaitDelay) {
		_ = killGroup(child) // the program has ended; something it started still holds its pipes
	}
	switch {
	case err != nil && ctx.Err() != nil:
		return nil, ctx.Err()
	case err != nil && working.Err() != nil:
		return nil, context.Cause(working)
	case errors.Is(err, exec.ErrWaitDelay):
		return nil, fmt.Errorf("it ended but left something running: %w", ErrVoiceHung)
	case err != nil && fileTooLong(child.ProcessState):
		return nil, ErrVoiceEndless
	case err != nil:
		return nil, fmt.Errorf("%w: %w%s", ErrVoiceFailed, err, complaint.quoted())
	case wav == "":
		return sound.kept.Bytes(), nil
	}
	raw, err := os.ReadFile(wav)
	if err != nil {
		return nil, fmt.Errorf("%w: it left no file%s", ErrVoiceGarbled, complaint.quoted())
	}
	return raw, nil
}

// findProgram is ErrVoiceMissing when program cannot be run.
func findProgram(program string) error {
	if _, err := exec.LookPath(program); err != nil {
		return fmt.Errorf("%w: %w: %s", ErrVoiceMissing, err, howToInstall(program))
	}
	return nil
}

// killGroup ends the child and everything it started.
func killGroup(child *exec.Cmd) error {
	err := unix.Kill(-child.Process.Pid, unix.SIGKILL)
	if errors.Is(err, unix.ESRCH) {
		return os.ErrProcessDone
	}
	return err
}

// limitFiles keeps a program that writes to a file from filling the disk. Where the limit cannot be set
// the time limit still holds.
func limitFiles(pid int) {
	_ = unix.Prlimit(pid, unix.RLIMIT_FSIZE, &unix.Rlimit{Cur: mostWritten, Max: mostWritten}, nil)
}

func fileTooLong(state *os.ProcessState) bool {
	if state == nil {
		return false
	}
	status, ok := state.Sys().(syscall.WaitStatus)
	return ok && status.Signaled() && status.Signal() == unix.SIGXFSZ
}

// bounded keeps what is written to it, up to room bytes; then it calls full and takes no more.
type bounded struct {
	kept bytes.Buffer // not embedded: its ReadFrom would go round the bound
	room int
	full func()
}

func (b *bounded) Write(p []byte) (int, error) {
	if b.kept.Len()+len(p) > b.room {
		b.full()
		return 0, io.ErrShortWrite
	}
	return b.kept.Write(p)
}

// lastSaid keeps the last of what is written to it.
type lastSaid struct{ kept []byte }

func (t *lastSaid) Write(p []byte) (int, error) {
	t.kept = append(t.kept, p...)
	if over := len(t.kept) - lastWords; over > 0 {
		t.kept = append(t.kept[:0], t.kept[over:]...)
	}
	return len(p), nil
}

// quoted is the kept text as the end of an error message, empty when there is none.
func (t *lastSaid) quoted() string {
	text := strings.ToValidUTF8(strings.TrimSpace(string(t.kept)), "?")
	if text == "" {
		return ""
	}
	return fmt.Sprintf(": it said %q", text)
}
