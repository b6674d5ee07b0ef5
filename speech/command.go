package speech

import (
	"errors"
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/kballard/go-shellquote"
)

// DefaultCommand is the command line of the voice that set-up installs, espeak-ng.
//
// Others that fit:
//
//	flite -voice {voice} --setf duration_stretch={stretch} -t {text} -o {wav}
//	text2wave -eval "(Parameter.set 'Duration_Stretch {stretch})" -o {wav}
//	piper --model /path/to/{voice}.onnx --length_scale {stretch} --output_file {wav}
//
// The tests hold flite to all that espeak-ng is held to. The piper meant is the neural voice; the package
// piper of Debian 12 is another program, which sets up gaming mice.
const DefaultCommand = "espeak-ng --stdout -v {voice} -s {wpm} -- {text}"

// evenWords is the pace at which {stretch} is 1: flite's slt and festival's kal take 27 words in some
// 9.7 and 9.9 s when left alone.
const evenWords = 165

// A Command is the command line of a text-to-speech program with places to fill in:
//
//	{text}     the sentence; where it does not occur, the sentence comes on standard input
//	{wpm}      words a minute, such as 160
//	{stretch}  the same as a factor on durations: 1 at 165 words a minute, 1.5 at 110
//	{voice}    the name of the speaker
//	{wav}      a file to write the sound to; where it does not occur, a WAV file comes on standard output
//
// It is split into words as a shell would split it, quotes included, before anything is filled in. No
// shell runs: a sentence can add no word, and nothing in it is expanded.
type Command struct{ words []string }

var commandPlace = regexp.MustCompile(`\{[a-z_]*\}`)

// ParseCommand reads a command line.
func ParseCommand(line string) (Command, error) {
	words, err := shellquote.Split(line)
	if err != nil {
		return Command{}, fmt.Errorf("voice command %q: %w: close every quote", line, err)
	}
	if len(words) == 0 {
		return Command{}, fmt.Errorf("voice command is empty: give one, such as %q", DefaultCommand)
	}
	known := []string{"{text}", "{wpm}", "{stretch}", "{voice}", "{wav}"}
	for i, word := range words {
		for _, p := range commandPlace.FindAllString(word, -1) {
			if i == 0 {
				return Command{}, fmt.Errorf("voice command %q: the program cannot be %s: name it", line, p)
			}
			if !slices.Contains(known, p) {
				return Command{}, fmt.Errorf("voice command %q: %s means nothing here: use %s",
					line, p, strings.Join(known, ", "))
			}
		}
	}
	return Command{words}, nil
}

// String is the command line as a shell would take it.
func (c Command) String() string { return shellquote.Join(c.words...) }

// takes says whether the place p, such as {text}, occurs in c.
func (c Command) takes(p string) bool {
	return slices.ContainsFunc(c.words, func(word string) bool { return strings.Contains(word, p) })
}

// fill is c with its places filled in.
func (c Command) fill(s Settings, text, wav string) []string {
	if strings.HasPrefix(text, "-") {
		text = " " + text // no program takes a word that begins with a space for an option
	}
	places := strings.NewReplacer(
		"{text}", text,
		"{wpm}", strconv.Itoa(s.WordsPerMinute),
		"{stretch}", strconv.FormatFloat(float64(evenWords)/float64(s.WordsPerMinute), 'f', 3, 64),
		"{voice}", s.Voice,
		"{wav}", wav,
	)
	filled := make([]string, len(c.words))
	for i, word := range c.words {
		filled[i] = places.Replace(word)
	}
	return filled
}

// Find is ErrVoiceMissing, with what to install, when the program of c cannot be run.
func (c Command) Find() error {
	if len(c.words) == 0 {
		return errors.New("voice command is empty: parse one first")
	}
	return findProgram(c.words[0])
}

// howToInstall says how to get a program.
func howToInstall(program string) string {
	packages := map[string]string{"espeak-ng": "espeak-ng", "flite": "flite", "text2wave": "festival"}
	if name, ok := packages[filepath.Base(program)]; ok {
		return "install it: apt-get install " + name
	}
	return "install it, or name another voice command in the configuration"
}
