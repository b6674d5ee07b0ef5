package journal_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/storetest"
)

// The child has a mount namespace of its own, so that a small disk can be filled for real without anybody's permission.
// Where the kernel does not allow that, the test is skipped.
func TestAFullOrReadOnlyDiskCostsNothingRecorded(t *testing.T) {
	c := exec.CommandContext(t.Context(), os.Args[0], t.TempDir())
	c.Env = append(os.Environ(), childVariable+"=disk")
	c.SysProcAttr = &syscall.SysProcAttr{
		Cloneflags:  syscall.CLONE_NEWUSER | syscall.CLONE_NEWNS,
		UidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}},
		GidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}},
	}
	out, err := c.CombinedOutput()
	switch text := string(out); {
	case strings.Contains(text, noMount), errors.Is(err, syscall.EPERM), errors.Is(err, syscall.EINVAL), errors.Is(err, syscall.ENOSPC):
		t.Skipf("no small disk can be mounted here: %v %s", err, text)
	case err != nil:
		t.Fatalf("%v: %s", err, text)
	default:
		t.Log(text)
	}
}

const noMount = "cannot mount a small disk"

// fillTheDisk appends until the disk is full, and then again with it read-only.
func fillTheDisk(dir string) error {
	if err := syscall.Mount("small", dir, "tmpfs", 0, "size=400k"); err != nil {
		return fmt.Errorf("%s: %w", noMount, err)
	}
	s, err := journal.Open(filepath.Join(dir, "data"), journal.Writer)
	if err != nil {
		return err
	}
	ctx := context.Background()
	ballast := filepath.Join(dir, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 64<<10), 0o600); err != nil {
		return err
	}
	job := storetest.Worked(killedJob, storetest.Dawn, 5000)
	recorded := 0
	for err == nil {
		if err = s.Append(ctx, job[recorded:recorded+1]); err == nil {
			recorded++
		}
	}
	if !errors.Is(err, journal.ErrDiskFull) {
		return fmt.Errorf("with the disk full: %w", err)
	}
	fmt.Printf("after %d events: %v\n", recorded, err)
	if err := same(ctx, s, job[:recorded]); err != nil {
		return fmt.Errorf("with the disk full: %w", err)
	}
	if err := os.Remove(ballast); err != nil {
		return err
	}
	for range 5 {
		if err := s.Append(ctx, job[recorded:recorded+1]); err != nil {
			return fmt.Errorf("with room again: %w", err)
		}
		recorded++
	}
	if err := same(ctx, s, job[:recorded]); err != nil {
		return fmt.Errorf("with room again: %w", err)
	}
	if err := s.Close(); err != nil {
		return err
	}
	if err := syscall.Mount("small", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		return err
	}
	_, err = journal.Open(filepath.Join(dir, "data"), journal.Writer)
	if !errors.Is(err, journal.ErrReadOnly) {
		return fmt.Errorf("with the disk read-only: %w", err)
	}
	fmt.Println(err)
	return nil
}

func same(ctx context.Context, s *journal.SQLite, want []narrator.Event) error {
	got, err := s.Log(ctx, killedJob)
	if err != nil {
		return err
	}
	if !slices.Equal(got, want) {
		return fmt.Errorf("%d events are there, want %d", len(got), len(want))
	}
	if found := journal.Verify(ctx, s); len(found) != 0 {
		return fmt.Errorf("Verify = %v", found)
	}
	return nil
}
