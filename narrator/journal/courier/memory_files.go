package courier

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
)

// memoryFiles are the files of a shop in memory.
type memoryFiles struct {
	held    map[fileKey]*heldFile
	current map[[2]string]string // sum, by kind and name, of procedures and voices
}

type fileKey struct {
	kind      FileKind
	name, sum string
}

type heldFile struct {
	File
	bytes bytes.Buffer
	whole bool
}

func (f *memoryFiles) init() {
	f.held, f.current = map[fileKey]*heldFile{}, map[[2]string]string{}
}

// Has implements [Files].
func (b *memoryBay) Has(ctx context.Context, kind FileKind, name, sum string) (n int64, whole bool, err error) {
	err = b.use(ctx, func(m *Memory) error {
		if f := m.files.held[fileKey{kind, name, sum}]; f != nil {
			n, whole = int64(f.bytes.Len()), f.whole
		}
		return nil
	})
	return n, whole, err
}

// Put implements [Files].
func (b *memoryBay) Put(ctx context.Context, f File, offset int64, piece []byte) error {
	return b.change(ctx, func(m *Memory) error {
		if t, _ := m.of(MemoJob(f.Name), b.bay); f.Kind == Memo && t == nil {
			return fmt.Errorf("memo %s: %w", f.Name, ErrNotOwner)
		}
		key := fileKey{f.Kind, f.Name, f.Sum}
		held := m.files.held[key]
		if held == nil {
			held = &heldFile{File: f}
			held.Bay = b.bay
		}
		have := int64(held.bytes.Len())
		switch end := offset + int64(len(piece)); {
		case end > f.Size:
			return fmt.Errorf("file %s: %w: it is longer than was said", f.Name, ErrDamaged)
		case offset > have:
			return fmt.Errorf("file %s: %w: %d bytes have", f.Name, ErrNotArrived, have)
		case end > have:
			held.bytes.Write(piece[have-offset:])
		}
		m.files.held[key] = held
		if int64(held.bytes.Len()) < f.Size || offset+int64(len(piece)) < f.Size {
			return nil
		}
		if sum := sha256.Sum256(held.bytes.Bytes()); hex.EncodeToString(sum[:]) != f.Sum {
			delete(m.files.held, key)
			return fmt.Errorf("file %s: %w; it is thrown away", f.Name, ErrDamaged)
		}
		held.whole = true
		if at := [2]string{string(f.Kind), f.Name}; f.Kind != Memo && m.files.current[at] == f.Parent {
			m.files.current[at] = f.Sum
			held.Parent, held.Bay = f.Parent, b.bay
		}
		return nil
	})
}

// MemoJob is the job of a memo, by the memo's name; "" for what is no memo's name.
func MemoJob(name string) string {
	if m := memoFile.FindStringSubmatch(name); m != nil {
		return m[2]
	}
	return ""
}

// mayRead reports whether this bay may read a file.
func (b *memoryBay) mayRead(m *Memory, f *heldFile) bool {
	if !f.whole {
		return false
	}
	if f.Kind != Memo {
		return true
	}
	owner, _ := m.owner(MemoJob(f.Name))
	return f.Bay == b.bay || owner != nil && (owner.bay == b.bay || owner.released > 0 && (owner.to == "" || owner.to == b.bay))
}

// Files implements [Files].
func (b *memoryBay) Files(ctx context.Context, kind FileKind) (files []File, err error) {
	err = b.use(ctx, func(m *Memory) error {
		for _, f := range m.files.held {
			if f.Kind != kind || !b.mayRead(m, f) || kind != Memo && m.files.current[[2]string{string(kind), f.Name}] != f.Sum {
				continue
			}
			files = append(files, f.File)
		}
		slices.SortFunc(files, func(a, b File) int { return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.Sum, b.Sum)) })
		return nil
	})
	return files, err
}

// Get implements [Files].
func (b *memoryBay) Get(ctx context.Context, kind FileKind, name, sum string, offset int64, size int) (piece []byte, err error) {
	err = b.use(ctx, func(m *Memory) error {
		f := m.files.held[fileKey{kind, name, sum}]
		if f == nil || !b.mayRead(m, f) {
			return fmt.Errorf("%s: %w", name, ErrNoSuchFile)
		}
		all := f.bytes.Bytes()
		from := min(max(offset, 0), int64(len(all)))
		piece = bytes.Clone(all[from:min(from+int64(size), int64(len(all)))])
		return nil
	})
	return piece, err
}

// Withdraw implements [Files].
func (b *memoryBay) Withdraw(ctx context.Context, technician string) error {
	return b.change(ctx, func(m *Memory) error {
		for key := range m.files.held {
			if key.kind == Voice && strings.HasPrefix(key.name, technician+"/") {
				delete(m.files.held, key)
				delete(m.files.current, [2]string{string(Voice), key.name})
			}
		}
		return nil
	})
}
