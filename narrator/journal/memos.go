package journal

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// memoFolder holds the memos, under the data folder.
const memoFolder = "memos"

// partSuffix ends the name of a memo that is still being spoken, or that a crash cut off.
const partSuffix = ".part"

// Memos are the spoken notes as files, memos/<job>-<n>.wav under a data folder. What is in them is not looked at. One
// goroutine begins and keeps them.
type Memos struct{ dir string }

// NewMemos returns the memos under a data folder. Nothing is created before the first one begins.
func NewMemos(dir string) *Memos { return &Memos{dir: dir} }

// Memo is a file of a spoken note.
type Memo struct {
	Path string // to open it
	File string // its final name, relative to the data folder, with slashes
	Job  string
}

// memoName takes the name of a memo apart: job, number, and the suffix of a part.
var memoName = regexp.MustCompile(`^([^/]+)-([1-9][0-9]{0,8})\.wav(|\` + partSuffix + `)$`)

// jobName matches the job ids that can be part of a file name.
var jobName = regexp.MustCompile(`^[0-9A-Za-z][0-9A-Za-z_.-]*$`)

// Begin creates an empty file to write a note of a job into, and returns its path. The file is a part until Keep.
func (m *Memos) Begin(job string) (part string, err error) {
	if !jobName.MatchString(job) {
		return "", fmt.Errorf("begin memo: %q cannot be part of a file name; use letters, digits and dashes", job)
	}
	folder := filepath.Join(m.dir, memoFolder)
	if err := makeFolder(folder); err != nil {
		return "", fault("create folder", folder, err)
	}
	n := 0
	err = m.each(func(memo Memo, number int, part bool) {
		if memo.Job == job {
			n = max(n, number)
		}
	})
	if err != nil {
		return "", err
	}
	path := filepath.Join(folder, fmt.Sprintf("%s-%d.wav%s", job, n+1, partSuffix))
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return "", fault("create", path, err)
	}
	return path, fault("create", path, f.Close())
}

// Keep makes a part that is written and closed durable under its final name, which is returned relative to the data
// folder as narrator.Detail.File wants it. Only then may the event that names it be appended.
func (m *Memos) Keep(part string) (file string, err error) {
	memo, _, ok := m.parse(filepath.Base(part))
	if !ok || memo.Path != filepath.Clean(part) || !strings.HasSuffix(part, partSuffix) {
		return "", fmt.Errorf("keep memo %s: this is no part that was begun here", part)
	}
	if err := settle(part, filepath.Join(m.dir, filepath.FromSlash(memo.File))); err != nil {
		return "", fault("keep memo", part, err)
	}
	return memo.File, nil
}

// Discard removes a part into which nothing was said.
func (m *Memos) Discard(part string) error {
	if memo, _, ok := m.parse(filepath.Base(part)); !ok || memo.Path != filepath.Clean(part) || !strings.HasSuffix(part, partSuffix) {
		return fmt.Errorf("discard memo %s: this is no part that was begun here", part)
	}
	return fault("discard memo", part, os.Remove(part))
}

// Leftovers lists the parts, in order of their names. While no note is being taken they are what a crash cut off.
func (m *Memos) Leftovers() ([]Memo, error) { return m.pick(true) }

// Kept lists the memos that are under their final names, in order of these. One that no event names was kept right before
// a crash.
func (m *Memos) Kept() ([]Memo, error) { return m.pick(false) }

func (m *Memos) pick(parts bool) ([]Memo, error) {
	var memos []Memo
	err := m.each(func(memo Memo, _ int, part bool) {
		if part == parts {
			memos = append(memos, memo)
		}
	})
	slices.SortFunc(memos, func(a, b Memo) int { return strings.Compare(a.File, b.File) })
	return memos, err
}

// each visits every file that is named like a memo or a part of one.
func (m *Memos) each(visit func(memo Memo, number int, part bool)) error {
	folder := filepath.Join(m.dir, memoFolder)
	files, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	for _, f := range files {
		if memo, n, ok := m.parse(f.Name()); ok {
			visit(memo, n, strings.HasSuffix(f.Name(), partSuffix))
		}
	}
	return fault("read folder", folder, err)
}

func (m *Memos) parse(name string) (memo Memo, number int, ok bool) {
	found := memoName.FindStringSubmatch(name)
	if found == nil {
		return Memo{}, 0, false
	}
	number, err := strconv.Atoi(found[2])
	return Memo{
		Path: filepath.Join(m.dir, memoFolder, name),
		File: memoFolder + "/" + strings.TrimSuffix(name, partSuffix),
		Job:  found[1],
	}, number, err == nil
}
