package courier

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// size of a file, -1 for one that cannot be looked at.
func size(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return -1
	}
	return info.Size()
}

// sumOf is a file's SHA-256, and its size.
func sumOf(path string) (sum string, size int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	size, err = io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), size, err
}

// sendMemos sends the memos whose events have arrived.
func (v *visit) sendMemos(ctx context.Context) error {
	for _, file := range v.backlog.ready() {
		err := v.sendMemo(ctx, file)
		if err != nil && !definite(err) && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		if !errors.Is(err, ErrNotOwner) { // a memo of a job that came and went: whoever took it sends it
			v.fault(file, err)
		}
		v.backlog.done(file)
	}
	return nil
}

func (v *visit) sendMemo(ctx context.Context, file string) error {
	path := filepath.Join(v.config.Data, filepath.FromSlash(file))
	if v.backlog.isOld(file) && !v.named(ctx, file) {
		return nil // kept right before a crash; once an event names it, that one brings it here
	}
	sum, size, err := sumOf(path)
	if errors.Is(err, fs.ErrNotExist) {
		if awaited, _ := v.config.Memos.Awaited(); slices.ContainsFunc(awaited, func(m journal.Memo) bool { return m.File == file }) {
			return nil
		}
	}
	if err != nil {
		return fmt.Errorf("send note: %w; look for it in a backup", err)
	}
	f := File{Kind: Memo, Name: FileInShop(v.bay, file), Sum: sum, Size: size}
	return v.put(ctx, f, path, false)
}

// named reports whether an event names a memo.
func (v *visit) named(ctx context.Context, file string) bool {
	log, err := v.config.Store.Log(ctx, MemoJob(file))
	return err == nil && slices.ContainsFunc(log, func(e narrator.Event) bool { return e.File == file })
}

// put sends what the shop lacks of a file; with last its last piece in any case, as that is what makes a version the current one. Events that come
// meanwhile do not wait for it.
func (v *visit) put(ctx context.Context, f File, path string, last bool) error {
	var offset int64
	var whole bool
	err := v.ask(ctx, func(ctx context.Context) (err error) {
		offset, whole, err = v.shop.Has(ctx, f.Kind, f.Name, f.Sum)
		return err
	})
	if err != nil || whole && !last {
		return err
	}
	in, err := os.Open(path)
	if err != nil {
		return err
	}
	defer in.Close()
	piece := make([]byte, pieceSize)
	for {
		n, err := in.ReadAt(piece, offset)
		if err != nil && err != io.EOF {
			return err
		}
		if err := v.ask(ctx, func(ctx context.Context) error { return v.shop.Put(ctx, f, offset, piece[:n]) }); err != nil {
			return err
		}
		if offset += int64(n); offset >= f.Size || n == 0 {
			return nil
		}
		select {
		case <-v.woken:
			if err := v.sendEvents(ctx); err != nil {
				return err
			}
		default:
		}
	}
}

// fetchMemos gets the memos of jobs that were taken over.
func (v *visit) fetchMemos(ctx context.Context) error {
	awaited, err := v.config.Memos.Awaited()
	v.fault("the memos", err)
	if len(awaited) == 0 {
		return nil
	}
	there, err := v.list(ctx, Memo)
	if err != nil {
		return err
	}
	for _, m := range awaited {
		files := there[FileInShop(v.bay, m.File)]
		if len(files) == 0 {
			continue // the bay that took it has not sent it
		}
		f := files[len(files)-1]
		err := v.get(ctx, f, m.Path)
		if err == nil {
			err = v.config.Memos.Bring(m.Path)
		}
		v.fault(m.File, err)
		if err != nil && !definite(err) {
			return err
		}
	}
	return nil
}

// get goes on writing a file of the shop where it was cut off. What turns out to be damaged begins anew at the next time.
func (v *visit) get(ctx context.Context, f File, path string) error {
	out, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	defer out.Close()
	offset, err := out.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	for offset < f.Size {
		piece, err := asked(ctx, v.pace.patience, func(ctx context.Context) ([]byte, error) {
			return v.shop.Get(ctx, f.Kind, f.Name, f.Sum, offset, pieceSize)
		})
		if err != nil {
			return err
		}
		if len(piece) == 0 {
			break
		}
		if _, err := out.WriteAt(piece, offset); err != nil {
			return err
		}
		offset += int64(len(piece))
	}
	if err := out.Close(); err != nil {
		return err
	}
	if sum, _, err := sumOf(path); err != nil || sum != f.Sum {
		return errors.Join(fmt.Errorf("fetch %s: %w", f.Name, ErrDamaged), err, os.Truncate(path, 0))
	}
	return nil
}
