package procedures

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"slices"
)

// pictureText is the file name of a picture inside the procedure's folder.
const pictureText = `^[A-Za-z0-9_][A-Za-z0-9 _.-]{0,63}(?:/[A-Za-z0-9_][A-Za-z0-9 _.-]{0,63}){0,3}\.(?:svg|png|jpg|jpeg|webp)$`

var picturePattern = regexp.MustCompile(pictureText)

// pictureValue is the file name of a picture. It cannot lead out of the
// procedure's folder.
func pictureValue() value[string] {
	return value[string]{shape{"title": "file name", "type": "string", "pattern": pictureText}, func(r *reader, at string, n node) (string, bool) {
		text, ok := r.scalar(at, n)
		if ok && !picturePattern.MatchString(text) {
			r.fail(at, n, fmt.Sprintf("%q is no picture in the procedure's folder", text),
				"Name an svg, png, jpg or webp file by its path from there: letters, digits, blanks, dots, hyphens, underscores")
			return "", false
		}
		return text, ok
	}}
}

// checkPictures asks about the pictures of the steps that are not files in the procedure's folder. A link that leads out of the folder does
// not count: a page is never given what lies elsewhere.
func (p *Procedure) checkPictures(folder string) []Mistake {
	var mistakes []Mistake
	ask := func(step, figure int, what, mend string) {
		path := fmt.Sprintf("steps[%d].figures[%d]", step, figure)
		if _, known := p.places[path+".file"]; known {
			path += ".file"
		}
		if m := p.mistake(path, Question, what, mend); !slices.Contains(mistakes, m) { // a repeated step asks once
			mistakes = append(mistakes, m)
		}
	}
	var root *os.Root
	for i := range p.Steps {
		for j, figure := range p.Steps[i].Figures {
			if root == nil {
				opened, err := os.OpenRoot(folder)
				if err != nil {
					ask(i, j, fmt.Sprintf("the pictures in %s cannot be read: %v", folder, err), "Look at the folder's permissions")
					return mistakes
				}
				defer opened.Close()
				root = opened
			}
			info, err := root.Stat(figure.File)
			switch {
			case errors.Is(err, fs.ErrNotExist):
				ask(i, j, fmt.Sprintf("there is no picture %s beside the file", figure.File), "Copy it there, or correct its name")
			case err != nil:
				ask(i, j, fmt.Sprintf("the picture %s is outside the procedure's folder, or cannot be read", figure.File), "Copy it into the folder itself")
			case !info.Mode().IsRegular():
				ask(i, j, fmt.Sprintf("%s is no file", figure.File), "Name a picture")
			}
		}
	}
	return mistakes
}
