package procedures

// need says whether a key must stand in the file.
type need int

const (
	optional need = iota
	wanted        // asked for where it is missing
	reviewed      // required, except in a draft: there it is asked for
	required
)

// String says on the format's page what becomes of a file without the key.
func (n need) String() string {
	return [...]string{optional: "", wanted: "asked for", reviewed: "needed", required: "needed"}[n]
}

// key is one key that a mapping of the file may hold. The tables of keys are the
// file format: reading, the messages, the schema and the documentation all come
// from them.
type key[T any] struct {
	name  string
	need  need
	doc   string // one sentence, for the schema and the documentation
	shape shape  // the value's JSON Schema
	read  func(r *reader, at string, n node, into *T)
}

// field is the key of a value that is kept in one field.
func field[T, V any](name string, need need, doc string, v value[V], of func(*T) *V) key[T] {
	return key[T]{name, need, doc, v.shape, func(r *reader, at string, n node, into *T) {
		if read, ok := v.read(r, at, n); ok {
			*of(into) = read
		}
	}}
}

// procedureKeys is the file's outermost mapping.
func procedureKeys() []key[Procedure] {
	return []key[Procedure]{
		field("stepcaller", optional, "File format; the newest where it is left out.", formatValue(), func(p *Procedure) *int { return &p.Format }),
		field("id", required, "Short name of the procedure: letters, digits, dots, hyphens.", idValue(), func(p *Procedure) *string { return &p.ID }),
		field("draft", optional, "Written by a program or in a hurry, and not yet reviewed by a technician.", flagValue(), func(p *Procedure) *bool { return &p.Draft }),
		field("title", required, "What the job is called on the repair order.", textValue(), func(p *Procedure) *string { return &p.Title }),
		field("machine", reviewed, "Make, model and engine.", textValue(), func(p *Procedure) *string { return &p.Machine }),
		field("book", reviewed, "Labour operations the job is booked under.", entriesOf(operationKeys()), func(p *Procedure) *[]Operation { return &p.Book }),
		field("overlap", optional, "Hours saved by doing the operations together.", hoursValue(), func(p *Procedure) *Hours { return &p.Overlap }),
		field("tools", wanted, "Tools taken to the vehicle for the whole job, and counted back at its end.", listOf(textValue()), func(p *Procedure) *[]string { return &p.Tools }),
		field("parts", wanted, "Parts for the whole job.", listOf(partValue()), func(p *Procedure) *[]Part { return &p.Parts }),
		field("fluids", optional, "Fluids that are drained, filled or topped up.", entriesOf(fluidKeys()), func(p *Procedure) *[]Fluid { return &p.Fluids }),
		field("cautions", wanted, "Cautions spoken before the first step.", listOf(cautionValue()), func(p *Procedure) *[]Caution { return &p.Cautions }),
		field("choices", optional, "Questions that only the vehicle or its owner answers; steps name them under `only_if` and `unless`.", entriesOf(choiceKeys()), func(p *Procedure) *[]Choice { return &p.Choices }),
		field("covers", optional, "Parts that may go back only when nothing under them is left off, open or loose.", entriesOf(coverKeys()), func(p *Procedure) *[]Cover { return &p.Covers }),
		field("steps", required, "The steps in order, and groups of steps that are repeated.", stepsValue(), func(p *Procedure) *[]Step { return &p.Steps }),
	}
}

// operationKeys is an entry of `book`.
func operationKeys() []key[Operation] {
	return []key[Operation]{
		field("code", required, "Operation number in the labour time guide.", textValue(), func(o *Operation) *string { return &o.Code }),
		field("title", required, "Name of the operation.", textValue(), func(o *Operation) *string { return &o.Title }),
		field("hours", required, "Book time in hours, written in tenths.", hoursValue(), func(o *Operation) *Hours { return &o.Hours }),
		field("diagnosis", optional, "The work of finding the fault, not of mending it.", flagValue(), func(o *Operation) *bool { return &o.Diagnosis }),
	}
}

// partKeys is an entry of `parts` that is more than a name.
func partKeys() []key[Part] {
	return []key[Part]{
		field("name", required, "What it is called, with its count.", textValue(), func(p *Part) *string { return &p.Name }),
		field("number", optional, "The maker's part number.", textValue(), func(p *Part) *string { return &p.Number }),
		field("core", optional, "The old one is kept, to be sent back.", flagValue(), func(p *Part) *bool { return &p.Core }),
	}
}

// partValue is an entry of `parts`: a name, or a mapping.
func partValue() value[Part] {
	return textOr("part", func(name string) Part { return Part{Name: name} }, mappingOf(partKeys()))
}

// fluidKeys is an entry of `fluids`.
func fluidKeys() []key[Fluid] {
	return []key[Fluid]{
		field("name", required, "What the steps call it: coolant.", textValue(), func(f *Fluid) *string { return &f.Name }),
		field("spec", optional, "Specification to fill by.", textValue(), func(f *Fluid) *string { return &f.Spec }),
		field("capacity", optional, "How much goes in, with its unit.", textValue(), func(f *Fluid) *string { return &f.Capacity }),
	}
}

// choiceKeys is an entry of `choices`.
func choiceKeys() []key[Choice] {
	return []key[Choice]{
		field("id", required, "Name of the choice, unique in the procedure.", idValue(), func(c *Choice) *string { return &c.ID }),
		field("ask", required, "The question as it is read aloud, for a yes or a no.", questionValue(), func(c *Choice) *string { return &c.Ask }),
		field("approval", optional, "Extra work: a yes is a finding, and its steps stay shut until somebody approves it.", flagValue(), func(c *Choice) *bool { return &c.Approval }),
	}
}

// coverKeys is an entry of `covers`.
func coverKeys() []key[Cover] {
	return []key[Cover]{
		field("part", required, "What goes over the others.", textValue(), func(c *Cover) *string { return &c.Part }),
		field("hides", required, "What must be right before it goes back.", someOf(textValue()), func(c *Cover) *[]string { return &c.Hides }),
	}
}

// standardCautionKeys is an entry of `cautions` that stands in our table; those
// whose wait the maker gives need it.
func standardCautionKeys(waits bool) []key[Caution] {
	keys := []key[Caution]{
		field("use", required, "Name of a caution in our table.", standardCautionValue(waits), func(c *Caution) *string { return &c.Name }),
	}
	if waits {
		keys = append(keys, field("wait", required, "Minutes to wait first, by the maker's service data.", waitValue(), func(c *Caution) *float64 { return &c.Wait }))
	}
	return keys
}

// ownCautionKeys is an entry of `cautions` in words of its own.
func ownCautionKeys() []key[Caution] {
	return []key[Caution]{
		field("say", required, "The caution as it is read aloud.", spokenValue(), func(c *Caution) *string { return &c.Say }),
		field("answer", optional, "What must be said before the step goes on.", answerValue(), func(c *Caution) *Command { return &c.Answer }),
	}
}
