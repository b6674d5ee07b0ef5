package speech

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Sitting is one spoken session with a technician: a folder that takes are kept
// in as they come. One goroutine uses it.
type Sitting struct {
	Number int
	dir    string
}

// wordsFile names the own words of a sitting, inside its folder.
const wordsFile = "words.json"

// Sit begins a sitting, or goes on with the one that was cut off before anything
// was learnt from it. words are the own words it teaches, and what each is to
// mean; nil for none. Only a sitting with the same own words is gone on with.
func (a *Album) Sit(words map[string]string) (*Sitting, error) {
	sittings, err := a.Sittings()
	if err != nil {
		return nil, err
	}
	for _, n := range slices.Backward(sittings) {
		if slices.Contains(a.book.Ended, n) {
			continue
		}
		s := &Sitting{Number: n, dir: a.sitting(n)}
		if means, err := s.words(); err == nil && sameWords(means, words) {
			return s, nil
		}
	}
	next := 1
	for _, n := range slices.Concat(sittings, a.book.Forgotten, a.book.Ended) {
		next = max(next, n+1)
	}
	s := &Sitting{Number: next, dir: a.sitting(next)}
	if err := os.MkdirAll(s.dir, 0o700); err != nil {
		return nil, fmt.Errorf("voice of %s: %w", a.book.Technician, err)
	}
	if len(words) == 0 {
		return s, syncPath(a.folder())
	}
	file, err := json.Marshal(words)
	if err == nil {
		err = replaceFile(filepath.Join(s.dir, wordsFile), file)
	}
	if err != nil {
		return nil, fmt.Errorf("voice of %s: %w", a.book.Technician, err)
	}
	return s, syncPath(a.folder())
}

// Keep makes a take durable: it is on the disk when Keep returns. The quiet
// around its speech is cut or filled up to [TakeMargin].
func (s *Sitting) Keep(t Take) error {
	have, err := s.files()
	if err != nil {
		return err
	}
	n := 1
	for slices.Contains(have, takeName(t.Label, n)) {
		n++
	}
	path := filepath.Join(s.dir, takeName(t.Label, n))
	part := filepath.Join(s.dir, "."+takeName(t.Label, n)+".part")
	w, err := NewWAVWriter(part)
	if err != nil {
		return fmt.Errorf("keep a take: %w", err)
	}
	if err := errors.Join(w.Append(t.settled().PCM), w.Close()); err != nil {
		return fmt.Errorf("keep a take: %w", err)
	}
	if err := errors.Join(os.Chmod(part, 0o600), os.Rename(part, path), syncPath(s.dir)); err != nil {
		return fmt.Errorf("keep a take: %w", err)
	}
	return nil
}

// Takes are all that were kept, in order of their names. Files that cannot be
// read are left out and told in err.
func (s *Sitting) Takes() (takes []Take, err error) {
	files, err := s.files()
	errs := []error{err}
	for _, name := range files {
		label, ok := takeLabel(name)
		if !ok {
			continue
		}
		t, err := readTake(filepath.Join(s.dir, name), label)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		takes = append(takes, t)
	}
	return takes, errors.Join(errs...)
}

func (s *Sitting) files() (names []string, err error) {
	files, err := os.ReadDir(s.dir)
	if err != nil {
		return nil, fmt.Errorf("takes: %w", err)
	}
	for _, f := range files {
		names = append(names, f.Name())
	}
	return names, nil
}

func (s *Sitting) words() (means map[string]string, err error) {
	path := filepath.Join(s.dir, wordsFile)
	file, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err == nil {
		err = json.Unmarshal(file, &means)
	}
	if err != nil {
		return nil, fmt.Errorf("own words: %s: %w", path, err)
	}
	return means, nil
}

func sameWords(a, b map[string]string) bool {
	for w, means := range a {
		if b[w] != means {
			return false
		}
	}
	return len(a) == len(b)
}

// readTake reads a file that Keep wrote.
func readTake(path, label string) (Take, error) {
	f, err := os.Open(path)
	if err != nil {
		return Take{}, fmt.Errorf("take: %w", err)
	}
	defer f.Close()
	pcm, err := DecodeWAV(f)
	if err != nil {
		return Take{}, fmt.Errorf("take %s: %w", path, err)
	}
	margin := SamplesIn(TakeMargin)
	t := Take{Label: label, PCM: pcm, From: margin, To: Samples(len(pcm)) - margin}
	if t.From >= t.To {
		return Take{}, fmt.Errorf("take %s: it holds %s, too little for a word between its pauses; delete it", path, Samples(len(pcm)).Duration())
	}
	return t, nil
}

// settled is the take with exactly TakeMargin on either side of its speech.
func (t Take) settled() Take {
	margin := SamplesIn(TakeMargin)
	pcm := make([]int16, t.To-t.From+2*margin)
	for i := range pcm {
		if at := int(t.From-margin) + i; at >= 0 && at < len(t.PCM) {
			pcm[i] = t.PCM[at]
		}
	}
	return Take{Label: t.Label, PCM: pcm, From: margin, To: margin + t.To - t.From}
}

// takeName is the file of the nth take of a label; takeLabel turns it back.
func takeName(label string, n int) string { return fmt.Sprintf("%s-%d.wav", fileName(label), n) }

func takeLabel(name string) (label string, ok bool) {
	stem, wav := strings.CutSuffix(name, ".wav")
	i := strings.LastIndexByte(stem, '-')
	if !wav || i <= 0 || strings.HasPrefix(name, ".") {
		return "", false
	}
	if _, err := strconv.Atoi(stem[i+1:]); err != nil {
		return "", false
	}
	label, err := url.QueryUnescape(stem[:i])
	return label, err == nil
}
