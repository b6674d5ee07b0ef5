package journal

import (
	"archive/tar"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"

	"stepcaller/narrator"
)

// Backup tells what is in a backup: a tar archive (POSIX.1-2001) of the data folder, which ends in a file of sums as sha256sum reads them.
type Backup struct {
	Made   time.Time       `json:"made"`
	Schema int64           `json:"schema"` // of the journal
	Jobs   int             `json:"jobs"`
	Events int64           `json:"events"`
	Latest narrator.Moment `json:"latest"` // when the latest event of a job was noted; zero for none
}

const (
	snapshotFile = "journal.db"
	contentsFile = "backup.json"
	sumsFile     = "SHA256SUMS"
)

// ErrBackup says that a backup is not whole.
var ErrBackup = errors.New("the backup is damaged")

// ErrTaken says that something is there already where something new was to be written.
var ErrTaken = errors.New("there is something here already")

// ErrInside says that a backup was to be written into what it is a backup of.
var ErrInside = errors.New("this is in the data folder itself")

// leftOut are the files of a data folder that a backup does without: a writer's lock and socket, what is being recorded, and what is made anew.
func leftOut(name string) bool {
	return name == "lock" || name == lastFile || strings.HasPrefix(name, snapshotFile) || strings.HasPrefix(name, "figures.db") ||
		strings.HasSuffix(name, partSuffix)
}

// MakeBackup writes a backup of a data folder to a file that is not there yet ([ErrTaken]). A writer may be at work: the journal is as it stands at one moment,
// with all notes that it names. A journal with findings that are no notes is not backed up, and the error, [ErrDamaged], tells the first.
// The file has its name when all of it is on the disk and was read back.
func MakeBackup(ctx context.Context, dir, file string, now time.Time) (Backup, error) {
	dir, err := filepath.Abs(dir)
	if err == nil {
		file, err = filepath.Abs(file)
	}
	if err != nil {
		return Backup{}, err
	}
	if _, err := os.Lstat(file); !errors.Is(err, fs.ErrNotExist) {
		return Backup{}, fmt.Errorf("backup to %s: %w; name another file", file, cmp.Or(err, ErrTaken))
	}
	if inside, err := filepath.Rel(dir, file); err == nil && filepath.IsLocal(inside) {
		return Backup{}, fmt.Errorf("backup to %s: %w; name a file on another disk", file, ErrInside)
	}
	work, err := os.MkdirTemp(filepath.Dir(file), "."+filepath.Base(file)+"-")
	if err != nil {
		return Backup{}, fault("backup to", file, err)
	}
	defer os.RemoveAll(work)
	b, err := snapshot(ctx, dir, work)
	if err != nil {
		return Backup{}, err
	}
	b.Made = now.UTC().Truncate(time.Second)
	part := filepath.Join(work, filepath.Base(file))
	if err := b.write(dir, work, part); err != nil {
		return Backup{}, fault("backup to", file, err)
	}
	read, err := ReadBackup(part)
	if err != nil {
		return Backup{}, fmt.Errorf("reading the backup back: %w", err)
	}
	return read, fault("backup to", file, errors.Join(settle(part, file), syncPath(filepath.Dir(file))))
}

// snapshot copies the journal of a folder, as it stands at one moment, into another folder and proves the copy.
func snapshot(ctx context.Context, dir, work string) (Backup, error) {
	s, err := Open(dir, Reader)
	if err != nil {
		return Backup{}, err
	}
	defer s.Close()
	acknowledged, err := readLast(dir) // before the copy, which then has them all
	if err == nil && acknowledged > 0 {
		err = os.WriteFile(filepath.Join(work, lastFile), []byte(lastText(acknowledged)), 0o600)
	}
	if err != nil {
		return Backup{}, fault("copy", s.path, err)
	}
	db, err := s.open("mode=ro")
	if err == nil {
		_, err = db.ExecContext(ctx, `VACUUM INTO ?`, filepath.Join(work, snapshotFile))
		err = errors.Join(err, db.Close())
	}
	if err != nil {
		return Backup{}, fault("copy", s.path, err)
	}
	return inspectCopy(ctx, work, dir)
}

// inspectCopy proves a copied journal, with the notes of a folder, and counts what is in it.
func inspectCopy(ctx context.Context, work, notes string) (Backup, error) {
	s, err := Open(work, Reader)
	if err != nil {
		return Backup{}, err
	}
	defer s.Close()
	for _, f := range verify(ctx, s, s.Check(ctx), NewMemos(notes), readable) {
		if !f.Note {
			return Backup{}, fmt.Errorf("%s: %w: %s; `stepcaller verify` tells all, and what can be saved", notes, ErrDamaged, f)
		}
	}
	b := Backup{Schema: s.version}
	entries, err := s.Jobs(ctx, Filter{})
	if err != nil {
		return Backup{}, err
	}
	b.Jobs = len(entries)
	err = s.db.QueryRowContext(ctx, `SELECT count(*), coalesce(max(noted) FILTER (WHERE job <> ''), 0) FROM event`).Scan(&b.Events, &b.Latest)
	return b, fault("count", s.path, err)
}

// write puts a snapshot and the rest of a data folder into an archive.
func (b Backup) write(dir, work, file string) error {
	out, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer out.Close()
	a := &archive{tar: tar.NewWriter(out)}
	contents, err := json.MarshalIndent(b, "", "\t")
	if err != nil {
		return err
	}
	a.text(contentsFile, append(contents, '\n'), b.Made)
	a.file(work, snapshotFile)
	if _, err := os.Lstat(filepath.Join(work, lastFile)); err == nil {
		a.file(work, lastFile)
	}
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if err == nil && d.Type().IsRegular() && !leftOut(name) {
			a.file(dir, name)
		}
		return err
	})
	a.text(sumsFile, []byte(a.sums.String()), b.Made)
	return errors.Join(err, a.err, a.tar.Close(), out.Close())
}

// archive writes files and their sums, up to the first error.
type archive struct {
	tar  *tar.Writer
	sums strings.Builder
	err  error
}

func (a *archive) text(name string, text []byte, at time.Time) {
	a.add(name, int64(len(text)), at, strings.NewReader(string(text)))
}

func (a *archive) file(dir, name string) {
	f, err := os.Open(filepath.Join(dir, name))
	if err != nil {
		a.err = cmp.Or(a.err, err)
		return
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		a.err = cmp.Or(a.err, err)
		return
	}
	a.add(filepath.ToSlash(name), info.Size(), info.ModTime(), f)
}

func (a *archive) add(name string, size int64, at time.Time, from io.Reader) {
	if a.err != nil {
		return
	}
	sum := sha256.New()
	a.err = a.tar.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: name, Size: size, Mode: 0o600, ModTime: at, Format: tar.FormatPAX})
	if a.err == nil {
		_, a.err = io.CopyN(io.MultiWriter(a.tar, sum), from, size)
	}
	fmt.Fprintf(&a.sums, "%x  %s\n", sum.Sum(nil), name)
}

// ReadBackup reads a backup to its end and proves every sum. A file that is no backup, or not whole, is [ErrBackup].
func ReadBackup(file string) (Backup, error) {
	return unpack(file, func(string, time.Time, io.Reader) error { return nil })
}

// unpack reads a backup to its end, gives each file to take, and proves every sum.
func unpack(file string, take func(name string, at time.Time, content io.Reader) error) (b Backup, err error) {
	in, err := os.Open(file)
	if err != nil {
		return b, fault("read", file, err)
	}
	defer in.Close()
	damaged := func(what string, args ...any) (Backup, error) {
		return Backup{}, fmt.Errorf("%s: %w: %s; use another one", file, ErrBackup, fmt.Sprintf(what, args...))
	}
	found := map[string]string{}
	var contents, sums []byte
	for archive := tar.NewReader(in); ; {
		head, err := archive.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return damaged("%v", err)
		}
		if head.Typeflag != tar.TypeReg || !filepath.IsLocal(head.Name) || path.Clean(head.Name) != head.Name || found[head.Name] != "" || sums != nil {
			return damaged("it holds %q, which no backup does", head.Name)
		}
		sum := &summed{from: archive, hash: sha256.New()}
		switch head.Name {
		case sumsFile:
			sums, err = io.ReadAll(sum)
		case contentsFile:
			contents, err = io.ReadAll(sum)
		default:
			err = take(head.Name, head.ModTime, sum)
		}
		if err == nil {
			_, err = io.Copy(io.Discard, sum)
		}
		switch {
		case sum.err != nil:
			return damaged("%s: %v", head.Name, sum.err)
		case err != nil:
			return b, err
		}
		if head.Name != sumsFile {
			found[head.Name] = hex.EncodeToString(sum.hash.Sum(nil))
		}
	}
	if sums == nil {
		return damaged("its end is missing")
	}
	var want strings.Builder
	for _, line := range strings.Split(strings.TrimSuffix(string(sums), "\n"), "\n") {
		sum, name, _ := strings.Cut(line, "  ")
		if found[name] != sum {
			return damaged("%s is not what was written", cmp.Or(name, sumsFile))
		}
		fmt.Fprintf(&want, "%s  %s\n", found[name], name)
		delete(found, name)
	}
	if len(found) > 0 || want.String() != string(sums) {
		return damaged("the list of its files is not what was written")
	}
	if err := json.Unmarshal(contents, &b); err != nil {
		return damaged("%v", err)
	}
	return b, nil
}

// summed sums what is read through it, and keeps an error of what is below.
type summed struct {
	from io.Reader
	hash hash.Hash
	err  error
}

func (s *summed) Read(p []byte) (int, error) {
	n, err := s.from.Read(p)
	_, _ = s.hash.Write(p[:n])
	if err != nil && !errors.Is(err, io.EOF) {
		s.err = err
	}
	return n, err
}

// Restore puts a backup back as the data folder dir. The backup is proved first, then unpacked beside dir and proved again, and only then
// named dir. A folder that has something in it is [ErrTaken], unless aside is set: then it gets another name, which is returned, and nothing in
// it is changed. No writer may be at work in it ([ErrInUse]). After an error dir is as it was.
func Restore(ctx context.Context, file, dir string, aside bool, now time.Time) (b Backup, kept string, err error) {
	if b, err = ReadBackup(file); err != nil {
		return b, "", err
	}
	dir = filepath.Clean(dir)
	names, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return b, "", fault("restore to", dir, err)
	}
	if len(names) > 0 && !aside {
		return b, "", fmt.Errorf("restore to %s: %w", dir, ErrTaken)
	}
	if len(names) > 0 {
		hold, err := takeLock(dir)
		if err != nil {
			return b, "", err
		}
		defer func() { _ = hold.release() }()
	}
	if err := makeFolder(filepath.Dir(dir)); err != nil {
		return b, "", fault("restore to", dir, err)
	}
	work, err := os.MkdirTemp(filepath.Dir(dir), "."+filepath.Base(dir)+"-")
	if err != nil {
		return b, "", fault("restore to", dir, err)
	}
	defer os.RemoveAll(work)
	folders := map[string]bool{work: true}
	if _, err = unpack(file, func(name string, at time.Time, content io.Reader) error {
		to := filepath.Join(work, filepath.FromSlash(name))
		folders[filepath.Dir(to)] = true
		return errors.Join(makeFolder(filepath.Dir(to)), fill(to, content, at))
	}); err != nil {
		return b, "", fault("restore to", dir, err)
	}
	for folder := range folders {
		if err := syncPath(folder); err != nil {
			return b, "", fault("restore to", dir, err)
		}
	}
	if _, err := inspectCopy(ctx, work, work); err != nil {
		return b, "", err
	}
	if len(names) > 0 {
		kept = fmt.Sprintf("%s.before-%s", dir, now.Format("2006-01-02-150405"))
		if _, err := os.Lstat(kept); !errors.Is(err, fs.ErrNotExist) {
			return b, "", fmt.Errorf("restore to %s: %s: %w; wait a second", dir, kept, ErrTaken)
		}
		if err := os.Rename(dir, kept); err != nil {
			return b, "", fault("rename", dir, err)
		}
	}
	if err := os.Rename(work, dir); err != nil {
		if kept != "" {
			err = errors.Join(err, os.Rename(kept, dir))
		}
		return b, "", fault("restore to", dir, err)
	}
	return b, kept, fault("restore to", dir, syncPath(filepath.Dir(dir)))
}
