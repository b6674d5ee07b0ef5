package courier

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// leaf is one file on a shelf, here and in the shop.
type leaf struct {
	*shelf
	*visit
	name   string
	path   string
	mine   string // sum, "" for not here
	theirs File   // current version, zero for none
	agreed bool
}

// note remembers what this file and the shop's were.
func (l *leaf) note(v version) { l.known[l.name] = v }

// sync brings one file to where it and the shop's are alike, or stand beside each other.
func (l *leaf) sync(ctx context.Context) error {
	was := l.known[l.name]
	switch {
	case l.mine == l.theirs.Sum:
		if l.mine != "" && (was.Base != l.mine || was.Beside != "") {
			l.note(version{Base: l.mine, Fetched: was.Fetched})
		}
		return nil
	case l.theirs.Sum == "":
		return l.only(ctx, was)
	case l.mine == "" && was.Base == l.theirs.Sum:
		return nil // deleted here; it comes again with the next edit
	case l.mine == "", l.mine == was.Base:
		return l.fetch(ctx)
	case was.Base == l.theirs.Sum && l.mine != was.Kept:
		return l.send(ctx, l.theirs.Sum)
	case was.Base == l.theirs.Sum:
		return nil // a voice that was taught here and elsewhere
	}
	return l.both(ctx, was)
}

// only deals with a file that the shop has not.
func (l *leaf) only(ctx context.Context, was version) error {
	switch {
	case l.shelf.data == "":
		return l.send(ctx, "")
	case !l.agreed && was.Fetched && was.Base == l.mine: // withdrawn where it came from
		if err := os.Remove(l.path); err != nil {
			return here(err)
		}
		delete(l.known, l.name)
		return nil
	case l.agreed && was.Base != "": // withdrawn in another bay
		technician, _, _ := strings.Cut(l.name, "/")
		delete(l.known, l.name)
		return here(amend(l.shelf.data, technician, func(c *consent, name string) { c.Agreed = without(c.Agreed, name) }))
	}
	return l.send(ctx, "")
}

// send makes this bay's version the shop's.
func (l *leaf) send(ctx context.Context, parent string) error {
	if !l.agreed {
		return nil
	}
	if err := l.put(ctx, parent); err != nil {
		return err
	}
	there, err := l.visit.list(ctx, l.kind)
	if err != nil {
		return err
	}
	for _, f := range there[l.name] {
		if f.Sum == l.mine {
			l.note(version{Base: l.mine, Fetched: l.known[l.name].Fetched})
		}
	}
	return nil // where another bay was faster both changed, as the next look finds
}

func (l *leaf) put(ctx context.Context, parent string) error {
	data, err := os.ReadFile(l.path)
	if err == nil {
		err = l.good(filepath.Base(l.path), data)
	}
	if err != nil {
		return here(err)
	}
	f := File{Kind: l.kind, Name: l.name, Sum: l.mine, Size: int64(len(data)), Parent: parent}
	return l.visit.put(ctx, f, l.path, true)
}

// fetch puts the shop's version here, unless somebody has edited the one here just now.
func (l *leaf) fetch(ctx context.Context) error {
	data, err := l.content(ctx)
	if err != nil {
		return err
	}
	if err := l.good(filepath.Base(l.path), data); err != nil {
		return here(fmt.Errorf("%s sent it: %w", l.theirs.Bay, err))
	}
	if sum, _, err := sumOf(l.path); sum != l.mine && !(l.mine == "" && errors.Is(err, fs.ErrNotExist)) {
		return nil // the next look sees to it
	}
	if err := l.replace(l.path, data); err != nil {
		return err
	}
	l.note(version{Base: l.theirs.Sum, Fetched: true})
	return nil
}

func (l *leaf) replace(path string, data []byte) error {
	mode := fs.FileMode(0o644)
	if l.shelf.data != "" {
		mode = 0o600
	}
	err := os.MkdirAll(l.dir, 0o700)
	if err == nil {
		err = replaceFile(path, data, mode)
	}
	return here(err)
}

// content is the shop's version, whole.
func (l *leaf) content(ctx context.Context) ([]byte, error) {
	if l.theirs.Size > procedureBytes {
		return nil, fmt.Errorf("%s of %s: %w: it has %d bytes", l.name, l.theirs.Bay, ErrDamaged, l.theirs.Size)
	}
	part, err := os.CreateTemp("", "shop-*.part")
	if err == nil {
		defer os.Remove(part.Name())
		err = part.Close()
	}
	if err != nil {
		return nil, here(err)
	}
	if err := l.get(ctx, l.theirs, part.Name()); err != nil {
		return nil, err
	}
	data, err := os.ReadFile(part.Name())
	return data, here(err)
}

// procedureBytes is more than any shared file has.
const procedureBytes = 16 << 20

// both deals with a file that was edited here and elsewhere: what is here stays, the other is put beside it, and somebody is told. When that has made
// one of the two and deleted the other, this bay's file is an edit of the shop's.
func (l *leaf) both(ctx context.Context, was version) error {
	if l.beside == nil {
		l.note(version{Base: l.theirs.Sum, Kept: l.mine})
		l.tell(News{Kind: Fault, Err: fmt.Errorf("%s was taught here and in bay %s; here counts what was learnt here", l.name, l.theirs.Bay)})
		return nil
	}
	path := filepath.Join(l.dir, l.beside(filepath.Base(l.path), l.theirs.Bay))
	if was.Beside == l.theirs.Sum {
		if _, err := os.Stat(path); err == nil {
			return nil
		}
		return l.send(ctx, l.theirs.Sum)
	}
	data, err := l.content(ctx)
	if err != nil {
		return err
	}
	if err := l.put(ctx, was.Base); err != nil && !local(err) { // it is kept in the shop, but not as the current one
		return err
	}
	if err := l.replace(path, data); err != nil {
		return err
	}
	was.Beside = l.theirs.Sum
	l.note(was)
	l.tell(News{Kind: Fault, Err: fmt.Errorf("%s was edited here and in bay %s, whose version is in %s; make one of the two and delete that file",
		filepath.Base(l.path), l.theirs.Bay, path)})
	return nil
}
