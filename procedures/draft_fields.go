package procedures

import (
	"fmt"
	"reflect"
	"regexp"
	"strconv"
	"strings"
)

// fields is a mapping of the file with its keys in order.
type fields []struct {
	key   string
	value any // string, bool, int, float64, digits, fields, or a list of them
}

// put adds a key, unless its value is empty.
func (f *fields) put(key string, value any) {
	v := reflect.ValueOf(value)
	if text, ok := value.(string); ok {
		v = reflect.ValueOf(clean(text))
	}
	if !v.IsValid() || v.IsZero() || v.Kind() == reflect.Slice && v.Len() == 0 {
		return
	}
	*f = append(*f, struct {
		key   string
		value any
	}{key, value})
}

// with is the mapping with one key more.
func (f fields) with(key string, value any) fields {
	f.put(key, value)
	return f
}

// write adds the mapping to a file, its first line indented already.
func (f fields) write(b *strings.Builder, indent string) {
	for i, field := range f {
		if i > 0 {
			b.WriteString(indent)
		}
		b.WriteString(field.key + ":")
		list, ok := field.value.([]any)
		if !ok {
			fmt.Fprintf(b, " %s\n", scalar(field.value))
			continue
		}
		b.WriteString("\n")
		for _, entry := range list {
			b.WriteString(indent + "  - ")
			if nested, ok := entry.(fields); ok {
				nested.write(b, indent+"    ")
				continue
			}
			b.WriteString(scalar(entry) + "\n")
		}
	}
}

// scalar is a value as it stands in a file. What is surely text has no quotes; all other text is quoted by the rules of
// JSON, which are among those of YAML.
func scalar(value any) string {
	text, ok := value.(string)
	if !ok {
		return fmt.Sprint(value)
	}
	text = clean(text)
	if plainText.MatchString(text) && !yamlWords[strings.ToLower(text)] {
		return strings.TrimSpace(text)
	}
	return strconv.Quote(text)
}

// plainText begins with a letter, or with a count or size and a letter.
var plainText = regexp.MustCompile(`^(?:\d{1,6}(?:\.\d{1,4})? )?\p{L}[\p{L}\p{N} ,.()/·°×%+'?!;-]*$`)

// yamlWords are the words that are no text in some version of YAML.
var yamlWords = map[string]bool{"true": true, "false": true, "yes": true, "no": true, "on": true, "off": true, "y": true, "n": true, "null": true}

// digits is a number as it is written.
type digits string

// mapped makes a list of values.
func mapped[E any](entries []E, of func(E) any) []any {
	var list []any
	for _, e := range entries {
		list = append(list, of(e))
	}
	return list
}

// texts is a list of texts, one by itself without brackets.
func texts(entries []string) any {
	list := mapped(entries, func(text string) any { return text })
	if len(list) == 1 {
		return list[0]
	}
	return list
}

func partFields(p Part) any {
	if p.Number == "" && !p.Core {
		return p.Name
	}
	return fields{}.with("name", p.Name).with("number", p.Number).with("core", p.Core)
}

func cautionFields(c Caution) any {
	switch {
	case c.Name != "":
		return fields{}.with("use", c.Name).with("wait", c.Wait)
	case c.Answer != "":
		return fields{}.with("say", c.Say).with("answer", string(c.Answer))
	}
	return c.Say
}

// stepFields is an entry of `steps`.
func stepFields(s *Step) fields {
	f := fields{}
	f.put("id", s.ID)
	f.put("say", s.Say)
	f.put("title", s.Title)
	f.put("minutes", s.Minutes)
	f.put("operations", texts(s.Operations))
	var yes, no []string
	for _, premise := range s.OnlyIf {
		if premise.No {
			no = append(no, premise.Choice)
		} else {
			yes = append(yes, premise.Choice)
		}
	}
	f.put("only_if", texts(yes))
	f.put("unless", texts(no))
	f.put("figures", mapped(s.Figures, func(p Figure) any { return fields{}.with("file", p.File).with("caption", p.Caption) }))
	f.put("starts_engine", s.Starts)
	f.put("road_test", s.Drives)
	f.put("await", texts(s.Await))
	f.put("tools", texts(s.Tools))
	f.put("parts", mapped(s.Parts, partFields))
	f.put("cautions", mapped(s.Cautions, cautionFields))
	f.put("torque", tighteningFields(s.Torque))
	f.put("loosening", mapped(s.Loosening, func(l Loosening) any {
		return fields{}.with("fastener", l.Fastener).with("count", l.Count).with("order", string(l.Order)).with("thread", hand(l.LeftHand))
	}))
	f.put("timers", mapped(s.Timers, func(t Timer) any {
		return fields{}.with("name", t.Name).with("minutes", t.Minutes).with("from", string(t.From)).with("say", t.Say)
	}))
	f.put("readings", mapped(s.Readings, readingFields))
	f.put("level", texts(s.Level))
	for _, kind := range ItemKinds() {
		f.put(kind.Leave, texts(kind.leaves(s)))
	}
	for _, kind := range verbKinds() {
		f.put(kind.Undo, texts(kind.undoes(s)))
	}
	return f
}

// tighteningFields are the torques that have a value.
func tighteningFields(torques []Tightening) []any {
	var list []any
	for _, t := range torques {
		if t.Value == (Torque{}) {
			continue
		}
		f := fields{}.with("fastener", t.Fastener).with("count", t.Count).with("value", t.Value.String())
		var stages []string
		for _, s := range t.Stages {
			stages = append(stages, s.Name)
		}
		f.put("stages", texts(stages))
		if len(stages) == 0 {
			f.put("angle", t.Angle)
		}
		f.put("order", string(t.Order))
		f.put("positions", texts(t.Positions))
		f.put("lengths", texts(t.Lengths))
		f.put("condition", string(t.Condition))
		f.put("new", t.New)
		f.put("thread", hand(t.LeftHand))
		var again []string
		for _, a := range t.Again {
			again = append(again, string(a))
		}
		f.put("again", texts(again))
		f.put("low", string(t.Low))
		list = append(list, f)
	}
	return list
}

func readingFields(r Reading) any {
	f := fields{}.with("name", r.Name).with("unit", r.Unit)
	if r.Min != nil {
		f.put("min", digits(r.Min.StringFixed(max(0, -r.Min.Exponent()))))
	}
	if r.Max != nil {
		f.put("max", digits(r.Max.StringFixed(max(0, -r.Max.Exponent()))))
	}
	if r.Wear != nil {
		f.put("wear", digits(r.Wear.StringFixed(max(0, -r.Wear.Exponent()))))
	}
	return f.with("positions", texts(r.Positions)).with("difference", r.Difference).with("when", r.When)
}

func hand(left bool) string {
	if left {
		return "left"
	}
	return ""
}
