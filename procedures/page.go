package procedures

import (
	"embed"
	"fmt"
	"strings"
)

//go:generate go test -run TestFormatPage -update .

//go:embed examples/*.yaml
var examples embed.FS

// FormatPage is the procedure file format, field by field, in Markdown.
func FormatPage() []byte {
	var p page
	p.text(`# The procedure file

A procedure is one YAML file in UTF-8: what to do, in order, with what, and how long the book allows. Editors complete and
check it by ` + "`procedure.schema.json`" + `; the program checks it again and says for each mistake the line, what is wrong and what
to do. Every value is the file's own: nothing is assumed, no torque least of all.

This page is written from the program by ` + "`go generate ./procedures`" + `; mend the program, not the page.

## A simple job
`)
	p.example("simple.yaml")
	p.text("## A job that shows everything\n")
	p.example("whole.yaml")
	p.text(`## Fields

"List" in the tables below also takes a single value in place of a list of one. Text that begins with a brace, a bracket or
` + "`#`" + `, or has a colon and a blank in it, needs double quotes.
`)
	tableOf(&p, "The file", "", procedureKeys())
	tableOf(&p, "`book`", "", operationKeys())
	tableOf(&p, "`parts`", "An entry is a text, which is the name, or these keys.", partKeys())
	tableOf(&p, "`fluids`", "", fluidKeys())
	tableOf(&p, "`cautions`", "An entry is a text, or these keys.", ownCautionKeys())
	tableOf(&p, "`cautions` of the table below", "A caution may come from the table: it brings its words and its answer. `wait` belongs to the entries that need it, and to no other.", standardCautionKeys(true))
	p.text("The table. An answer that holds for the job is asked for once.\n")
	p.cautions()
	tableOf(&p, "`choices`", "Each is asked once a job, when its first step is reached.", choiceKeys())
	tableOf(&p, "`covers`", "", coverKeys())
	tableOf(&p, "`steps`", "The lists from `off` to `support` leave something so, those from `back` to `clear` put it right; names are compared without count, article and plural.", stepKeys())
	tableOf(&p, "Groups in `steps`", fmt.Sprintf("A group is written once and done for each value. Where a step's id has no `{name}` in it, the value is added with a hyphen. Groups nest twice; a procedure has at most %d steps when all are written out.", maxSteps), groupKeys(value[node]{shape: shape{"title": "list of steps and groups"}}))
	tableOf(&p, "`figures`", "An entry is a file name, or these keys.", figureKeys())
	tableOf(&p, "`loosening`", "", looseningKeys())
	tableOf(&p, "`torque`", "", tighteningKeys())
	tableOf(&p, "`timers`", "", timerKeys())
	tableOf(&p, "`readings`", "Good figures lie between `min` and `max`, both included; `wear` lies outside of them.", readingKeys())
	p.text(fmt.Sprintf(`## Limits

A file has at most %d bytes, %d lines of %d bytes, lists of %d entries and texts of %d characters. Anchors, aliases and tags
are not read.
`, MaxBytes, maxLines, maxLine, maxList, maxText))
	return []byte(strings.TrimSuffix(p.String(), "\n"))
}

// page is the text so far.
type page struct{ strings.Builder }

// text adds a paragraph and a blank line.
func (p *page) text(paragraph string) { p.WriteString(paragraph + "\n") }

// example adds a file as it is.
func (p *page) example(name string) {
	data, err := examples.ReadFile("examples/" + name)
	if err != nil {
		panic("procedures: example: " + err.Error()) // it is built in
	}
	p.text("```yaml\n" + string(data) + "```\n")
}

// tableOf adds a table of keys under a heading.
func tableOf[T any](p *page, heading, lead string, keys []key[T]) {
	p.text("### " + heading + "\n")
	if lead != "" {
		p.text(lead + "\n")
	}
	p.text("| Key | | Value | What it is |\n|---|---|---|---|")
	for _, k := range keys {
		p.text(fmt.Sprintf("| `%s` | %s | %s | %s |", k.name, k.need, k.shape["title"], k.doc))
	}
	p.text("")
}

// cautions adds the table of cautions.
func (p *page) cautions() {
	p.text("| Name | What is read aloud | Answer | |\n|---|---|---|---|")
	for _, c := range StandardCautions() {
		var more []string
		if c.Once {
			more = append(more, "holds for the job")
		}
		if c.Waits {
			more = append(more, "needs `wait`")
		}
		p.text(fmt.Sprintf("| `%s` | %s | %s | %s |", c.Name, c.Say, c.Answer, strings.Join(more, ", ")))
	}
	p.text("")
}
