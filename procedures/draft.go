package procedures

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Draft is a procedure that a program has put together and a technician has still to review. What is not known is left
// out of it: it holds no value that nobody gave. Only Title and Steps must be set.
type Draft struct {
	Title, Machine string
	Notes          []string // comments at the head of the file
	Steps          []DraftStep

	ID       string // made from the title where it is empty
	Book     []Operation
	Overlap  Hours
	Tools    []string
	Parts    []Part
	Fluids   []Fluid
	Cautions []Caution
	Choices  []Choice
	Covers   []Cover
}

// DraftStep is a step with what is doubtful about it. A step without an id gets its number for one. A torque without a
// value becomes a comment that asks for it.
type DraftStep struct {
	Step
	Doubts []string // comments beside the step
}

// DraftOf is the procedure as a draft, with everything that stands in it.
func DraftOf(p *Procedure) Draft {
	d := Draft{Title: p.Title, Machine: p.Machine, ID: p.ID, Book: p.Book, Overlap: p.Overlap, Tools: p.Tools, Parts: p.Parts, Fluids: p.Fluids,
		Cautions: p.Cautions, Choices: p.Choices, Covers: p.Covers}
	for _, s := range p.Steps {
		d.Steps = append(d.Steps, DraftStep{Step: s})
	}
	return d
}

// Doubts counts the comments beside the steps.
func (d Draft) Doubts() (n int) {
	for _, s := range d.Steps {
		n += len(s.doubts())
	}
	return n
}

// YAML is the draft as a procedure file, marked `draft: true`, its doubts in comments. Load reads it with questions at most, as long as
// what stands in it would be sound in a file: ids that are no ids and control characters are put right, nothing else is changed.
func (d Draft) YAML() []byte {
	var b strings.Builder
	comment(&b, "", d.Notes...)
	d.head().write(&b, "")
	b.WriteString("steps:\n")
	taken := map[string]bool{}
	for i, s := range d.Steps {
		s.ID = freeID(taken, firstID(s.ID, strconv.Itoa(i+1)))
		comment(&b, "  ", s.doubts()...)
		b.WriteString("  - ")
		stepFields(&s.Step).write(&b, "    ")
	}
	return []byte(b.String())
}

// head is everything above the steps.
func (d Draft) head() fields {
	f := fields{}
	f.put("stepcaller", FormatVersion)
	f.put("id", firstID(d.ID, slug(d.Title)))
	f.put("draft", true)
	f.put("title", d.Title)
	f.put("machine", d.Machine)
	f.put("book", mapped(d.Book, func(op Operation) any {
		return fields{}.with("code", op.Code).with("title", op.Title).with("hours", digits(op.Hours.String())).with("diagnosis", op.Diagnosis)
	}))
	if d.Overlap > 0 {
		f.put("overlap", digits(d.Overlap.String()))
	}
	f.put("tools", texts(d.Tools))
	f.put("parts", mapped(d.Parts, partFields))
	f.put("fluids", mapped(d.Fluids, func(fluid Fluid) any {
		return fields{}.with("name", fluid.Name).with("spec", fluid.Spec).with("capacity", fluid.Capacity)
	}))
	f.put("cautions", mapped(d.Cautions, cautionFields))
	f.put("choices", mapped(d.Choices, func(c Choice) any {
		return fields{}.with("id", c.ID).with("ask", c.Ask).with("approval", c.Approval)
	}))
	f.put("covers", mapped(d.Covers, func(c Cover) any {
		return fields{}.with("part", c.Part).with("hides", texts(c.Hides))
	}))
	return f
}

// doubts are the step's comments, with what its torques lack.
func (s DraftStep) doubts() []string {
	doubts := s.Doubts
	for _, t := range s.Torque {
		if t.Value == (Torque{}) {
			doubts = append(doubts[:len(doubts):len(doubts)], fmt.Sprintf("torque for %s: value from the maker's service data", countOf(t.Count, t.Fastener)))
		}
	}
	return doubts
}

// countOf is a name with its count, where there are several.
func countOf(count int, name string) string {
	if count > 1 {
		return fmt.Sprintf("%s, %d of them", name, count)
	}
	return name
}

// comment writes texts as lines that YAML passes over.
func comment(b *strings.Builder, indent string, texts ...string) {
	for _, text := range texts {
		if text = clean(text); text != "" {
			b.WriteString(indent + "# " + text + "\n")
		}
	}
}

// clean is a text on one line, without what a file may not hold.
func clean(text string) string {
	text = strings.Map(func(c rune) rune {
		switch {
		case unicode.IsSpace(c):
			return ' '
		case unicode.IsControl(c) || c == unicode.ReplacementChar || c == '\ufeff':
			return -1
		}
		return c
	}, text)
	return strings.Join(strings.Fields(text), " ")
}

// slug makes an id of a text: its letters without accents.
func slug(text string) string {
	var b strings.Builder
	for _, c := range strings.ToLower(norm.NFKD.String(text)) {
		switch {
		case unicode.Is(unicode.Mn, c):
		case c >= 'a' && c <= 'z', c >= '0' && c <= '9':
			b.WriteRune(c)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	id := b.String()
	return strings.Trim(id[:min(len(id), 40)], "-")
}

// firstID is the first of the texts that is an id.
func firstID(ids ...string) string {
	for _, id := range ids {
		if idPattern.MatchString(id) {
			return id
		}
	}
	return "draft"
}

// freeID is the id, or the first of id-2, id-3 ... that is not taken, and takes it.
func freeID(taken map[string]bool, id string) string {
	free := id
	for n := 2; taken[free]; n++ {
		tail := "-" + strconv.Itoa(n)
		free = id[:min(len(id), 64-len(tail))] + tail
	}
	taken[free] = true
	return free
}
