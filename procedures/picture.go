package procedures

import (
	"fmt"
	"regexp"
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
