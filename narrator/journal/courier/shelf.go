package courier

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"stepcaller/procedures"
)

// shelf is a folder whose files all bays of a shop have alike. Each version is known by its sum, and by the version that was edited.
type shelf struct {
	kind   FileKind
	dir    string
	memory string // file beside: what each was when it last equalled the shop's
	name   func(file string) (name string, ok bool)
	file   func(name string) (file string, ok bool)
	good   func(file string, data []byte) error // whether others can use it
	beside func(file, bay string) string        // where another bay's version is put when both changed; nil for nowhere
	data   string                               // data folder with the consents, "" where nobody has to agree

	known map[string]version // by name
	seen  map[string]stat    // by file, so that nothing is read twice
}

// version is what is remembered of a file.
type version struct {
	Base    string `json:"base,omitempty"`    // its sum when it last equalled the shop's, or the shop's that it was last reconciled with
	Beside  string `json:"beside,omitempty"`  // sum of the version that was put beside it
	Kept    string `json:"kept,omitempty"`    // its own sum then
	Fetched bool   `json:"fetched,omitempty"` // it came from the shop
}

type stat struct {
	at   time.Time
	size int64
	sum  string
}

var procedureFile = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9 _.-]{0,99}\.ya?ml$`)

// procedureShelf is the folder of a shop's own procedures.
func procedureShelf(dir string) *shelf {
	return &shelf{
		kind: Procedure, dir: dir, memory: ".shop-versions.json",
		name: func(file string) (string, bool) {
			return strings.TrimSuffix(file, ".yaml"), procedureFile.MatchString(file)
		},
		file: func(name string) (string, bool) {
			if !strings.HasSuffix(name, ".yml") {
				name += ".yaml"
			}
			return name, procedureFile.MatchString(name)
		},
		good: func(file string, data []byte) error {
			p, mistakes := procedures.Load(file, data)
			if p != nil {
				return nil
			}
			for _, m := range mistakes {
				if m.Severity == procedures.Error {
					return fmt.Errorf("%v; other bays get this file when that is mended", m)
				}
			}
			return fmt.Errorf("%s cannot be used; other bays get it when that is mended", file)
		},
		beside: func(file, bay string) string {
			return strings.TrimSuffix(file, filepath.Ext(file)) + ".from-" + bay + ".yaml.txt"
		},
	}
}

// voiceShelf is the folder of the technicians' voices: of each, the one file that was learnt, NAME.voice. What they said to teach it stays in the bay.
func voiceShelf(dir, data string) *shelf {
	const suffix = ".voice"
	return &shelf{
		kind: Voice, dir: dir, data: data, memory: ".shop-versions.json",
		name: func(file string) (string, bool) {
			base, ok := strings.CutSuffix(file, suffix)
			technician, err := url.QueryUnescape(base)
			return technician + "/" + file, ok && err == nil && base != "" && !strings.HasPrefix(file, ".") && !strings.Contains(technician, "/")
		},
		file: func(name string) (string, bool) {
			technician, file, ok := strings.Cut(name, "/")
			base, suffixed := strings.CutSuffix(file, suffix)
			back, err := url.QueryUnescape(base)
			return file, ok && suffixed && err == nil && back == technician && !strings.ContainsAny(file, "/\x00") && !strings.HasPrefix(file, ".")
		},
		good: func(string, []byte) error { return nil },
	}
}

// share makes the shelves alike. Where nothing has changed here the shop is asked with ask alone.
func (v *visit) share(ctx context.Context, ask bool) error {
	for _, s := range v.shelves {
		err := s.sync(ctx, v, ask)
		if err != nil && !local(err) {
			return err
		}
		v.fault("the folder "+s.dir, err)
	}
	return nil
}

// localError is one of this bay's own disk.
type localError struct{ error }

func (e localError) Unwrap() error { return e.error }

func local(err error) bool { return errors.As(err, &localError{}) }

// here wraps what went wrong in this bay, nil for nothing.
func here(err error) error {
	if err == nil {
		return nil
	}
	return localError{err}
}

// sync brings a folder and the shop together.
func (s *shelf) sync(ctx context.Context, v *visit, ask bool) error {
	if err := s.read(); err != nil {
		return here(err)
	}
	agreed, err := s.consents(ctx, v)
	if err != nil {
		return err
	}
	mine, changed, err := s.list()
	if err != nil {
		return here(err)
	}
	if !changed && !ask {
		return nil
	}
	theirs, err := v.list(ctx, s.kind)
	if err != nil {
		return err
	}
	names := map[string]bool{}
	for name := range mine {
		names[name] = true
	}
	for name := range theirs {
		names[name] = true
	}
	for name := range names {
		file, ok := s.file(name)
		if !ok {
			continue // no name that this program gives
		}
		l := &leaf{shelf: s, visit: v, name: name, path: filepath.Join(s.dir, file), mine: mine[name], agreed: agreed(name)}
		if versions := theirs[name]; len(versions) > 0 {
			l.theirs = versions[len(versions)-1]
		}
		before := s.known[name]
		err := l.sync(ctx)
		if err != nil && !definite(err) && !local(err) {
			return err
		}
		v.fault(l.path, err)
		if s.known[name] != before {
			if err := s.write(); err != nil {
				return here(err)
			}
		}
	}
	return nil
}

// consents tells the shop who withdrew, and returns who agreed.
func (s *shelf) consents(ctx context.Context, v *visit) (agreed func(name string) bool, err error) {
	if s.data == "" {
		return func(string) bool { return true }, nil
	}
	c, err := readConsent(s.data)
	if err != nil {
		return nil, here(err)
	}
	for _, technician := range c.Withdrawn {
		if err := v.ask(ctx, func(ctx context.Context) error { return v.shop.Withdraw(ctx, technician) }); err != nil {
			return nil, err
		}
		for name := range s.known {
			if whose, _, _ := strings.Cut(name, "/"); whose == technician {
				delete(s.known, name)
			}
		}
		err := s.write()
		if err == nil {
			err = amend(s.data, technician, func(c *consent, name string) { c.Withdrawn = without(c.Withdrawn, name) })
		}
		if err != nil {
			return nil, here(err)
		}
	}
	return func(name string) bool {
		technician, _, _ := strings.Cut(name, "/")
		return slices.Contains(c.Agreed, technician)
	}, nil
}

// list is the sums of the files in the folder by name, and whether any is new.
func (s *shelf) list() (sums map[string]string, changed bool, err error) {
	entries, err := os.ReadDir(s.dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, false, err
	}
	sums, seen := map[string]string{}, map[string]stat{}
	for _, e := range entries {
		file := e.Name()
		info, err := e.Info()
		seen[file] = stat{}
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		was := s.seen[file]
		now := stat{at: info.ModTime(), size: info.Size(), sum: was.sum}
		name, ok := s.name(file)
		if ok && (was.sum == "" || was.at != now.at || was.size != now.size) {
			if now.sum, _, err = sumOf(filepath.Join(s.dir, file)); err != nil {
				return nil, false, err
			}
		}
		if ok {
			sums[name] = now.sum
		}
		changed = changed || was != now
		seen[file] = now
	}
	changed = changed || len(seen) != len(s.seen)
	s.seen = seen
	return sums, changed, nil
}

func (s *shelf) read() error {
	if s.known != nil {
		return nil
	}
	known := map[string]version{}
	text, err := os.ReadFile(filepath.Join(s.dir, s.memory))
	if err == nil {
		if json.Unmarshal(text, &known) != nil {
			known = map[string]version{} // as if it had been lost: nothing is overwritten then
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	s.known = known
	return nil
}

func (s *shelf) write() error {
	if err := os.MkdirAll(s.dir, 0o700); err != nil {
		return err
	}
	return writeJSON(filepath.Join(s.dir, s.memory), s.known)
}
