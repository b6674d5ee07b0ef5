package speech

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Album keeps what one technician said to teach the ears, and what was learnt
// from it: NAME.voice, one file that is always replaced whole, and beside it a
// folder NAME with a numbered folder of WAV files for every sitting. A take is
// durable when Keep returns and is deleted by nobody but [Album.Forget]. One
// process writes an album at a time: the one that has its [Album.Lock].
type Album struct {
	dir  string // of all albums
	name string
	book book
}

// book is what NAME.voice holds.
type book struct {
	Technician string  `json:"technician"`
	States     []State `json:"states"`              // oldest first; the last one counts
	Ended      []int   `json:"ended,omitempty"`     // sittings that were learnt from, kept or not
	Forgotten  []int   `json:"forgotten,omitempty"` // sittings that are not learnt from again
}

// State is what the ears hear by.
type State struct {
	Tuning   *Tuning           `json:"tuning"` // nil where hearing as trained was better
	Network  string            `json:"network"`
	Sittings []int             `json:"sittings"`        // learnt from
	Words    map[string]string `json:"words,omitempty"` // own words, and what each is to mean
	Result   string            `json:"result"`          // what it was found to be worth, in words
}

// statesKept is how many times in a row forgetting brings back what was before.
const statesKept = 10

// OpenAlbum reads a technician's album in a folder of albums. One who was never
// taught has an empty one; nothing is written. The error says what is wrong with
// a damaged file and what to do; the takes are then still there.
func OpenAlbum(dir, technician string) (*Album, error) {
	name := strings.Join(strings.Fields(technician), " ")
	if name == "" {
		return nil, errors.New("voice: whose? Give the technician's name")
	}
	a := &Album{dir: dir, name: fileName(strings.ToLower(name)), book: book{Technician: name}}
	if err := a.read(); err != nil {
		return nil, err
	}
	return a, nil
}

// read takes the book from the disk, where there is one.
func (a *Album) read() error {
	file, err := os.ReadFile(a.path())
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	var b book
	if err == nil {
		err = unseal(file, &b)
	}
	if err != nil {
		return fmt.Errorf("voice of %s: %s: %w; move the file away and teach again: the takes in %s are kept and are learnt from again",
			a.Technician(), a.path(), err, a.folder())
	}
	a.book = b
	return nil
}

// Albums names the technicians who have an album in a folder.
func Albums(dir string) ([]string, error) {
	files, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var names []string
	for _, f := range files {
		name, err := url.QueryUnescape(strings.TrimSuffix(f.Name(), ".voice"))
		if err == nil && !strings.HasPrefix(f.Name(), ".") && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names, err
}

// Technician is whose album it is.
func (a *Album) Technician() string { return a.book.Technician }

// State is what counts now; the zero State where nothing was learnt.
func (a *Album) State() State {
	if len(a.book.States) == 0 {
		return State{}
	}
	return a.book.States[len(a.book.States)-1]
}

// Current reports whether the state was learnt with this program's network.
// Where it was not, its sittings are to be learnt from again.
func (a *Album) Current() bool {
	return len(a.book.States) == 0 || a.State().Network == NetworkID()
}

// Learnt makes a state the one that counts; forgetting brings back the one
// before.
func (a *Album) Learnt(s State) error {
	b := a.book
	b.States = append(slices.Clone(b.States), s)
	b.States = b.States[max(0, len(b.States)-statesKept):]
	b.Ended = union(b.Ended, s.Sittings)
	return a.save(b)
}

// Again replaces the state that counts by what was learnt from the same
// sittings with another network.
func (a *Album) Again(s State) error {
	b := a.book
	b.States = slices.Clone(b.States)
	b.States[len(b.States)-1] = s
	return a.save(b)
}

// Refused notes that sittings were learnt from and changed nothing.
func (a *Album) Refused(sittings []int) error {
	b := a.book
	b.Ended = union(b.Ended, sittings)
	return a.save(b)
}

// Forget brings back what counted before the last state, and reports whether
// there was one to forget. The takes that only it was learnt from are set aside,
// and where there was none, all that are there; takes says to delete every take
// that was set aside.
func (a *Album) Forget(takes bool) (bool, error) {
	b := a.book
	forgot := len(b.States) > 0
	if forgot {
		last := b.States[len(b.States)-1]
		b.States = slices.Clone(b.States[:len(b.States)-1])
		var before []int
		if n := len(b.States); n > 0 {
			before = b.States[n-1].Sittings
		}
		for _, s := range last.Sittings {
			if !slices.Contains(before, s) {
				b.Forgotten = union(b.Forgotten, []int{s})
			}
		}
	} else {
		sittings, err := a.Sittings()
		if err != nil {
			return false, err
		}
		b.Forgotten = union(b.Forgotten, sittings)
	}
	if forgot || len(b.Forgotten) > len(a.book.Forgotten) {
		if err := a.save(b); err != nil {
			return false, err
		}
	}
	if !takes {
		return forgot, nil
	}
	var errs []error
	for _, s := range b.Forgotten {
		errs = append(errs, os.RemoveAll(a.sitting(s)))
	}
	return forgot, errors.Join(errs...)
}

// Sittings are the numbers of those that are to be learnt from, oldest first:
// all that were not forgotten, whether or not they came to their end.
func (a *Album) Sittings() (numbers []int, err error) {
	files, err := os.ReadDir(a.folder())
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	for _, f := range files {
		n, err := strconv.Atoi(f.Name())
		if err == nil && !slices.Contains(a.book.Forgotten, n) {
			numbers = append(numbers, n)
		}
	}
	slices.Sort(numbers)
	return numbers, err
}

// Takes are the takes of some sittings, and the own words among them with what
// each is to mean. Files that cannot be read are left out and told in err.
func (a *Album) Takes(sittings []int) (takes []Take, words map[string]string, err error) {
	var errs []error
	words = map[string]string{}
	for _, n := range sittings {
		s := &Sitting{dir: a.sitting(n)}
		part, err := s.Takes()
		errs = append(errs, err)
		takes = append(takes, part...)
		means, err := s.words()
		errs = append(errs, err)
		maps.Copy(words, means)
	}
	return takes, words, errors.Join(errs...)
}

// makeFolder makes the folder of all albums.
func (a *Album) makeFolder() error {
	if err := os.MkdirAll(a.dir, 0o700); err != nil {
		return fmt.Errorf("voice of %s: %w; the data folder must be one that you may write to", a.Technician(), err)
	}
	return nil
}

func (a *Album) save(b book) error {
	if err := a.makeFolder(); err != nil {
		return err
	}
	file, err := seal(b)
	if err == nil {
		err = replaceFile(a.path(), file)
	}
	if err != nil {
		return fmt.Errorf("voice of %s: %w", b.Technician, err)
	}
	a.book = b
	return nil
}

func (a *Album) path() string         { return filepath.Join(a.dir, a.name+".voice") }
func (a *Album) folder() string       { return filepath.Join(a.dir, a.name) }
func (a *Album) sitting(n int) string { return filepath.Join(a.folder(), fmt.Sprintf("%03d", n)) }

// fileName is text as part of a file name, and can be turned back.
func fileName(text string) string {
	return strings.ReplaceAll(url.QueryEscape(text), ".", "%2E")
}

func union(a, b []int) []int {
	all := slices.Concat(a, b)
	slices.Sort(all)
	return slices.Compact(all)
}
