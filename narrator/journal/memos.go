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

// awaitedSuffix ends the name of a memo that was taken in another bay and has not come here whole.
const awaitedSuffix = ".awaited"

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

// memoName takes the name of a memo apart: job, number, and the suffix of one that is not whole.
var memoName = regexp.MustCompile(`^([^/]+)-([1-9][0-9]{0,8})\.wav(|\` + partSuffix + `|\` + awaitedSuffix + `)$`)

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
	err = m.each(func(memo Memo, number int, _ string) {
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

// Await holds the name of a memo of a job that was taken over, until its sound comes from the bay that took it; nothing is done where the memo is
// here or awaited already. Only then may the event that names it be appended.
func (m *Memos) Await(file string) error {
	name, inFolder := strings.CutPrefix(file, memoFolder+"/")
	memo, _, ok := m.parse(name)
	if !ok || !inFolder || memo.File != file {
		return fmt.Errorf("await memo %q: this is no name of a memo", file)
	}
	folder := filepath.Join(m.dir, memoFolder)
	if err := makeFolder(folder); err != nil {
		return fault("create folder", folder, err)
	}
	if _, err := os.Lstat(memo.Path); err == nil {
		return nil
	}
	f, err := os.OpenFile(memo.Path+awaitedSuffix, os.O_WRONLY|os.O_CREATE, 0o600)
	if err == nil {
		err = errors.Join(f.Close(), syncPath(folder))
	}
	return fault("await memo", memo.Path, err)
}

// Awaited lists the memos that have not come from other bays, in order of their names. Their sound is to be written to Path.
func (m *Memos) Awaited() ([]Memo, error) { return m.pick(awaitedSuffix) }

// Bring makes an awaited memo, whose sound is written and closed, durable under its final name.
func (m *Memos) Bring(awaited string) error {
	memo, _, ok := m.parse(filepath.Base(awaited))
	if !ok || memo.Path != filepath.Clean(awaited) || !strings.HasSuffix(awaited, awaitedSuffix) {
		return fmt.Errorf("bring memo %s: this is none that is awaited here", awaited)
	}
	return fault("bring memo", awaited, settle(awaited, filepath.Join(m.dir, filepath.FromSlash(memo.File))))
}

// Leftovers lists the parts, in order of their names. While no note is being taken they are what a crash cut off.
func (m *Memos) Leftovers() ([]Memo, error) { return m.pick(partSuffix) }

// Kept lists the memos that are under their final names, in order of these. One that no event names was kept right before
// a crash.
func (m *Memos) Kept() ([]Memo, error) { return m.pick("") }

func (m *Memos) pick(suffix string) ([]Memo, error) {
	var memos []Memo
	err := m.each(func(memo Memo, _ int, has string) {
		if has == suffix {
			memos = append(memos, memo)
		}
	})
	slices.SortFunc(memos, func(a, b Memo) int { return strings.Compare(a.File, b.File) })
	return memos, err
}

// each visits every file that is named like a memo or one that is not whole, with the suffix that says so.
func (m *Memos) each(visit func(memo Memo, number int, suffix string)) error {
	folder := filepath.Join(m.dir, memoFolder)
	files, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	for _, f := range files {
		if memo, n, ok := m.parse(f.Name()); ok {
			visit(memo, n, strings.TrimPrefix(filepath.Ext(f.Name()), ".wav"))
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
		File: memoFolder + "/" + strings.TrimSuffix(strings.TrimSuffix(name, partSuffix), awaitedSuffix),
		Job:  found[1],
	}, number, err == nil
}
