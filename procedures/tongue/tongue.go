// Package tongue says what people read and hear in the language of the shop.
//
// The English text is the key: a text that a language lacks comes out in English, and no text is ever empty. A language is one
// file, so that a shop can write its own.
package tongue

import (
	"embed"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/message/catalog"
	"golang.org/x/text/number"
)

//go:embed *.yaml
var bundled embed.FS

// Tongue is a language. Nil is English. It is safe for concurrent use.
type Tongue struct {
	tag   language.Tag
	point string // between a whole number and its decimals
	texts map[string]text
}

// text is a translation: one form, or one by plural category of the language.
type text map[plural.Form]string

// English is the tag of the language that needs no file.
const English = "en"

// file is a language as it is written.
type file struct {
	Language string         `yaml:"language"` // BCP 47 tag, such as de
	Texts    map[string]any `yaml:"texts"`    // by English text: a text, or texts by plural category (zero, one, two, few, many, other)
}

// Named finds a language: a bundled one by its tag, or a file of the shop's own by its path. English and "" are nil.
func Named(name string) (*Tongue, error) {
	if name == "" || name == English {
		return nil, nil
	}
	if strings.ContainsAny(name, "./") {
		data, err := os.ReadFile(name)
		if err != nil {
			return nil, fmt.Errorf("language: %w", err)
		}
		return Load(filepath.Base(name), data)
	}
	data, err := Source(name)
	if err != nil {
		return nil, err
	}
	return Load(name+".yaml", data)
}

// Source is the file of a bundled language other than English, which has none.
func Source(name string) ([]byte, error) {
	data, err := bundled.ReadFile(name + ".yaml")
	if err != nil {
		return nil, fmt.Errorf("language %q is not bundled; choose %s, or name a file", name, strings.Join(Bundled(), " or "))
	}
	return data, nil
}

// Bundled lists the languages that come along, English first.
func Bundled() []string {
	names := []string{English}
	entries, _ := bundled.ReadDir(".")
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".yaml"))
	}
	return names
}

var forms = map[string]plural.Form{"zero": plural.Zero, "one": plural.One, "two": plural.Two, "few": plural.Few, "many": plural.Many, "other": plural.Other}

// Load reads a language file; name is for its errors.
func Load(name string, data []byte) (*Tongue, error) {
	var f file
	if err := yaml.UnmarshalWithOptions(data, &f, yaml.Strict()); err != nil {
		return nil, fmt.Errorf("%s: %s", name, strings.TrimSpace(yaml.FormatError(err, false, true)))
	}
	tag, err := language.Parse(f.Language)
	if err != nil {
		return nil, fmt.Errorf("%s: language %q is no language tag; write one such as de", name, f.Language)
	}
	t := &Tongue{tag: tag, point: pointOf(tag), texts: map[string]text{}}
	for english, value := range f.Texts {
		entry := text{}
		switch value := value.(type) {
		case string:
			entry[plural.Other] = value
		case map[string]any:
			for form, words := range value {
				kind, known := forms[form]
				said, isText := words.(string)
				if !known || !isText {
					return nil, fmt.Errorf("%s: %q: %s is no plural category with a text; use zero, one, two, few, many, other", name, english, form)
				}
				entry[kind] = said
			}
		default:
			return nil, fmt.Errorf("%s: %q has no text", name, english)
		}
		for _, said := range entry {
			if got, want := verbs(said), verbs(english); !slices.Equal(got, want) {
				return nil, fmt.Errorf("%s: %q is to be filled with %v, its text %q with %v; %%[2]s names the second", name, english, want, said, got)
			}
		}
		t.texts[english] = entry
	}
	return t, nil
}

var verb = regexp.MustCompile(`%(?:\[(\d+)\])?([-+# 0]*\d*(?:\.\d+)?[a-zA-Z%])`)

// verbs lists what a text is filled with, in the order of the arguments.
func verbs(format string) []string {
	var list []string
	at := 0
	for _, m := range verb.FindAllStringSubmatch(format, -1) {
		if m[2] == "%" {
			continue
		}
		at++
		if m[1] != "" {
			_, _ = fmt.Sscan(m[1], &at)
		}
		for len(list) < at {
			list = append(list, "")
		}
		list[at-1] = m[2]
	}
	return list
}

// F is fmt.Sprintf in the language. Without args the text is taken as it stands.
func (t *Tongue) F(english string, args ...any) string {
	return fill(t.find(english, plural.Other), args)
}

// N is F for a text that counts: one for a single thing, many else. n stands before args.
func (t *Tongue) N(n int, one, many string, args ...any) string {
	args = append([]any{n}, args...)
	if t == nil || t.texts[many] == nil {
		if n == 1 {
			return fill(one, args)
		}
		return fill(many, args)
	}
	return fill(t.find(many, plural.Cardinal.MatchPlural(t.tag, n, 0, 0, 0, 0)), args)
}

func (t *Tongue) find(english string, form plural.Form) string {
	if t == nil {
		return english
	}
	entry := t.texts[english]
	for _, f := range []plural.Form{form, plural.Other} {
		if said, ok := entry[f]; ok {
			return said
		}
	}
	return english
}

func fill(format string, args []any) string {
	if len(args) == 0 {
		return format
	}
	return fmt.Sprintf(format, args...)
}

// Figures writes figures, such as 12.5 N·m, with the language's own decimal mark.
func (t *Tongue) Figures(figures string) string {
	if t == nil {
		return figures
	}
	return strings.ReplaceAll(figures, ".", t.point)
}

// pointOf is a language's decimal mark, by Unicode CLDR.
func pointOf(tag language.Tag) string {
	return strings.Trim(message.NewPrinter(tag, message.Catalog(catalog.NewBuilder())).Sprint(number.Decimal(1.5)), "0123456789")
}

// Has reports whether a text stands in the language.
func (t *Tongue) Has(english string) bool { return t == nil || t.texts[english] != nil }

// Texts lists the English texts that stand in the language, sorted.
func (t *Tongue) Texts() []string {
	if t == nil {
		return nil
	}
	return slices.Sorted(maps.Keys(t.texts))
}

// Tag is the language's BCP 47 tag.
func (t *Tongue) Tag() string {
	if t == nil {
		return English
	}
	return t.tag.String()
}
