package hearing

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"stepcaller/speech"
)

// Clip is a recording of one word or phrase.
type Clip struct {
	Path string // of the file
	Name string // the same below the folder that was searched
	Word string // what is said in it: one of the live phrases, else the name of its folder
	Live bool   // Word is a live phrase; otherwise the clip should be ignored
}

// Skipped is a file that took no part, and why.
type Skipped struct {
	File string `json:"file"`
	Why  string `json:"why"`
}

// FindClips lists the WAV and FLAC files below dir, in the order of their names.
// The sub-folder of dir that a file lies in says which word it holds: case,
// spaces, underscores, hyphens and apostrophes make no difference, and the
// figures 0 to 9 stand for their words. A file that lies in dir itself is
// labelled by the beginning of its name ("hold_the_job_3.wav",
// "7_speaker2_0.flac"). Sound of other formats is skipped. A folder that is
// itself one word's is refused.
func FindClips(dir string, live []string) (clips []Clip, skipped []Skipped, err error) {
	files, skipped, err := findSound(dir)
	if err != nil {
		return nil, nil, err
	}
	if len(files) == 0 {
		return nil, skipped, fmt.Errorf("%s: no WAV or FLAC file lies below it: give every word a sub-folder of its recordings, such as %s",
			dir, filepath.Join(dir, "hold the job", "1.wav"))
	}
	known := map[string]string{}
	for _, phrase := range live {
		known[key(phrase)] = phrase
	}
	for _, name := range files {
		c := Clip{Path: filepath.Join(dir, name), Name: filepath.ToSlash(name)}
		folder, _, below := strings.Cut(c.Name, "/")
		if below {
			c.Word = plain(folder)
		} else {
			c.Word = wordOfFile(c.Name, known)
		}
		if phrase, ok := known[key(c.Word)]; ok {
			c.Word, c.Live = phrase, true
		}
		clips = append(clips, c)
	}
	if phrase, ok := known[key(filepath.Base(dir))]; ok && !slices.ContainsFunc(clips, func(c Clip) bool { return c.Live || strings.Contains(c.Name, "/") }) {
		return nil, skipped, fmt.Errorf("%s: this is the folder of one word, %q: name the folder above it", dir, phrase)
	}
	return clips, skipped, nil
}

// wordOfFile is the longest known phrase that the name begins with, else its
// first part.
func wordOfFile(name string, known map[string]string) string {
	parts := strings.Fields(plain(strings.TrimSuffix(name, filepath.Ext(name))))
	for n := len(parts); n > 1; n-- {
		if phrase, ok := known[key(strings.Join(parts[:n], " "))]; ok {
			return phrase
		}
	}
	if len(parts) == 0 {
		return name
	}
	return parts[0]
}

// plain is a folder's name as text: lower case, single spaces.
func plain(name string) string {
	return strings.ToLower(strings.Join(strings.FieldsFunc(name, func(r rune) bool { return r == '_' || r == '-' || unicode.IsSpace(r) }), " "))
}

var figures = map[string]string{"0": "zero", "1": "one", "2": "two", "3": "three", "4": "four", "5": "five", "6": "six", "7": "seven", "8": "eight", "9": "nine"}

// key is what two ways of writing a phrase have in common: letters and figures.
func key(text string) string {
	k := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, text)
	if word, ok := figures[k]; ok {
		return word
	}
	return k
}

// findSound lists the sound files below dir, relative to it, in the order of
// their names. Names that begin with a dot are passed over; links are followed.
func findSound(dir string) (files []string, skipped []Skipped, err error) {
	const deepest = 8
	var walk func(below string, depth int) error
	walk = func(below string, depth int) error {
		entries, err := os.ReadDir(filepath.Join(dir, below))
		if err != nil {
			return err
		}
		for _, e := range entries {
			name := filepath.Join(below, e.Name())
			if strings.HasPrefix(e.Name(), ".") {
				continue
			}
			info, err := os.Stat(filepath.Join(dir, name))
			switch {
			case err != nil:
				skipped = append(skipped, Skipped{File: filepath.Join(dir, name), Why: err.Error()})
			case info.IsDir() && depth < deepest:
				if err := walk(name, depth+1); err != nil {
					return err
				}
			case info.IsDir():
				skipped = append(skipped, Skipped{File: filepath.Join(dir, name), Why: fmt.Sprintf("folders are searched %d deep", deepest)})
			default:
				switch strings.ToLower(filepath.Ext(name)) {
				case ".wav", ".wave", ".flac":
					files = append(files, name)
				case ".mp3", ".ogg", ".opus", ".m4a", ".aac", ".aif", ".aiff", ".raw", ".webm":
					skipped = append(skipped, Skipped{File: filepath.Join(dir, name), Why: "only WAV and FLAC are read: convert it"})
				}
			}
		}
		return nil
	}
	if err := walk("", 0); err != nil {
		return nil, nil, err
	}
	return files, skipped, nil
}

// FindRecordings lists the WAV and FLAC files below dir: noise, or talk that
// holds no command.
func FindRecordings(dir string) (paths []string, skipped []Skipped, err error) {
	files, skipped, err := findSound(dir)
	if err != nil {
		return nil, nil, err
	}
	if len(files) == 0 {
		return nil, skipped, fmt.Errorf("%s: no WAV or FLAC file lies below it", dir)
	}
	for _, f := range files {
		paths = append(paths, filepath.Join(dir, f))
	}
	return paths, skipped, nil
}

// longestClip is how much of a clip is heard.
const longestClip = 60 * speech.Rate

// openClip reads a clip and finds the speech in it.
func openClip(path string) ([]int16, Speech, error) {
	pcm, err := readClip(path, longestClip)
	if err != nil {
		return nil, Speech{}, err
	}
	if len(pcm) == 0 {
		return nil, Speech{}, errors.New("it holds no sound")
	}
	said, err := MeasureSpeech(pcm)
	return pcm, said, err
}

// readClip reads a whole file, at most longest samples of it.
func readClip(path string, longest speech.Samples) (pcm []int16, err error) {
	track, err := speech.OpenTrack(path, 0)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, track.Close()) }()
	for speech.Samples(len(pcm)) < longest {
		b, err := track.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		pcm = append(pcm, b.PCM...)
	}
	return pcm[:min(len(pcm), int(track.Length()))], nil
}
