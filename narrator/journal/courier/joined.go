package courier

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"stepcaller/narrator/journal"
)

// ErrNotJoined says that a bay belongs to no shop.
var ErrNotJoined = errors.New("this bay has joined no shop")

// Joined is how a bay finds its shop: shop.json in its data folder, which its owner alone may read, as the address may hold a password.
type Joined struct {
	URL     string `json:"url"`
	Journal string `json:"journal"` // random; a journal put back from a backup gets a new one
}

func joinedFile(data string) string { return filepath.Join(data, "shop.json") }

// Join notes that a bay belongs to a shop. A bay that has joined already keeps its journal's id.
func Join(data, url string) (Joined, error) {
	j, err := ReadJoined(data)
	if errors.Is(err, ErrNotJoined) {
		j, err = Joined{Journal: rand.Text()}, nil
	}
	if err == nil {
		j.URL = url
		err = j.write(data)
	}
	return j, err
}

// ReadJoined reads where a bay belongs: [ErrNotJoined] for nowhere.
func ReadJoined(data string) (j Joined, err error) {
	text, err := os.ReadFile(joinedFile(data))
	if errors.Is(err, fs.ErrNotExist) {
		return Joined{}, fmt.Errorf("%w; `stepcaller shop join` does", ErrNotJoined)
	}
	if err == nil {
		err = json.Unmarshal(text, &j)
	}
	if err == nil && (j.URL == "" || j.Journal == "") {
		err = errors.New("it names no shop")
	}
	if err != nil {
		return Joined{}, fmt.Errorf("read %s: %w; join the shop again", joinedFile(data), err)
	}
	return j, nil
}

// Leave forgets the shop. What was sent stays there.
func Leave(data string) error {
	err := os.Remove(joinedFile(data))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("leave the shop: %w", err)
	}
	return nil
}

func (j Joined) write(data string) error { return writeJSON(joinedFile(data), j) }

// reach is what was known when the shop was last reached: shop-reached.json in the data folder. It is only shown; lost or stale, it changes nothing
// but what is told until the shop is reached again.
type reach struct {
	Journal string       `json:"journal"`
	Arrived journal.Mark `json:"arrived"`
	At      time.Time    `json:"at"`
}

func reachFile(data string) string { return filepath.Join(data, "shop-reached.json") }

// readReach is the zero reach where nothing fitting is known.
func readReach(data, journalID string) (r reach) {
	text, err := os.ReadFile(reachFile(data))
	if err != nil || json.Unmarshal(text, &r) != nil || r.Journal != journalID {
		return reach{}
	}
	return r
}

// writeJSON replaces a file whole, for its owner alone, in a folder that is made where it is missing.
func writeJSON(path string, what any) error {
	text, err := json.MarshalIndent(what, "", "  ")
	if err == nil {
		err = os.MkdirAll(filepath.Dir(path), 0o700)
	}
	if err != nil {
		return err
	}
	return replaceFile(path, append(text, '\n'), 0o600)
}

// replaceFile gives a file new bytes: after a crash it has the old or the new ones.
func replaceFile(path string, data []byte, mode fs.FileMode) error {
	folder := filepath.Dir(path)
	f, err := os.CreateTemp(folder, "."+filepath.Base(path)+".*.part")
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	defer os.Remove(f.Name()) // gone already when all went well
	_, err = f.Write(data)
	if err = errors.Join(err, f.Chmod(mode), f.Sync(), f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err == nil {
		err = syncFolder(folder)
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return nil
}

func syncFolder(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
