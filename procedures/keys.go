package procedures

// need says whether a key must stand in the file.
type need int

const (
	optional need = iota
	wanted        // asked for where it is missing
	required
)

// key is one key that a mapping of the file may hold. The tables below are the
// file format: reading, the messages, the schema and the documentation all come
// from them.
type key[T any] struct {
	name  string
	need  need
	doc   string // one sentence, for the schema and the documentation
	shape shape  // the value's JSON Schema
	read  func(r *reader, at string, n node, into *T)
}

// procedureKeys is the file's outermost mapping.
func procedureKeys() []key[Procedure] {
	return []key[Procedure]{
		{"stepcaller", optional, "File format, 1 where it is left out.", formatShape(), readFormat},
		{"id", required, "Short name of the procedure: letters, digits, dots, hyphens.", idShape(), idInto(func(p *Procedure) *string { return &p.ID })},
		{"title", required, "What the job is called on the repair order.", textShape(), textInto(func(p *Procedure) *string { return &p.Title })},
		{"machine", required, "Make, model and engine.", textShape(), textInto(func(p *Procedure) *string { return &p.Machine })},
		{"book", required, "Labour operations the job is booked under.", listShape(operationKeys()), listInto(operationKeys(), func(p *Procedure) *[]Operation { return &p.Book })},
		{"overlap", optional, "Hours saved by doing the operations together.", hoursShape(), hoursInto(func(p *Procedure) *Hours { return &p.Overlap })},
		{"tools", wanted, "Tools for the whole job.", textsShape(), textsInto(func(p *Procedure) *[]string { return &p.Tools })},
		{"parts", wanted, "Parts and fluids for the whole job.", textsShape(), entriesInto(func(name string) Part { return Part{Name: name} }, func(p *Procedure) *[]Part { return &p.Parts })},
		{"cautions", wanted, "Cautions spoken before the first step.", textsShape(), entriesInto(func(say string) Caution { return Caution{Say: say} }, func(p *Procedure) *[]Caution { return &p.Cautions })},
		{"steps", required, "The steps in order.", listShape(stepKeys()), listInto(stepKeys(), func(p *Procedure) *[]Step { return &p.Steps })},
	}
}

// operationKeys is an entry of `book`.
func operationKeys() []key[Operation] {
	return []key[Operation]{
		{"code", required, "Operation number in the labour time guide.", textShape(), textInto(func(o *Operation) *string { return &o.Code })},
		{"title", required, "Name of the operation.", textShape(), textInto(func(o *Operation) *string { return &o.Title })},
		{"hours", required, "Book time in hours, written in tenths.", hoursShape(), hoursInto(func(o *Operation) *Hours { return &o.Hours })},
	}
}

// stepKeys is an entry of `steps`.
func stepKeys() []key[Step] {
	keys := []key[Step]{
		{"id", required, "Name of the step, unique in the procedure.", idShape(), idInto(func(s *Step) *string { return &s.ID })},
		{"say", required, "What is read aloud: one action in a short sentence.", textShape(), spokenInto(func(s *Step) *string { return &s.Say })},
		{"title", optional, "Short form for lists.", textShape(), textInto(func(s *Step) *string { return &s.Title })},
		{"minutes", optional, "Expected minutes.", minutesShape(), minutesInto(func(s *Step) *float64 { return &s.Minutes })},
		{"tools", optional, "Tools for this step.", textsShape(), textsInto(func(s *Step) *[]string { return &s.Tools })},
		{"parts", optional, "Parts for this step.", textsShape(), entriesInto(func(name string) Part { return Part{Name: name} }, func(s *Step) *[]Part { return &s.Parts })},
		{"cautions", optional, "Cautions spoken before the step.", textsShape(), entriesInto(func(say string) Caution { return Caution{Say: say} }, func(s *Step) *[]Caution { return &s.Cautions })},
		{"torque", optional, "Torque values of this step.", listShape(tighteningKeys()), listInto(tighteningKeys(), func(s *Step) *[]Tightening { return &s.Torque })},
	}
	items := []struct {
		name, doc string
		list      func(*Step) *[]string
	}{
		{"off", "Taken off.", func(s *Step) *[]string { return &s.Off }},
		{"disconnect", "Connectors, hoses and pipes pulled apart.", func(s *Step) *[]string { return &s.Disconnect }},
		{"loosen", "Slackened but still on.", func(s *Step) *[]string { return &s.Loosen }},
		{"by_hand", "Started by hand, not yet torqued.", func(s *Step) *[]string { return &s.ByHand }},
		{"open", "Opened.", func(s *Step) *[]string { return &s.Open }},
		{"plug", "Ports closed with a plug.", func(s *Step) *[]string { return &s.Plug }},
		{"stuff", "Ports closed with a rag.", func(s *Step) *[]string { return &s.Stuff }},
		{"drain", "Fluids let out.", func(s *Step) *[]string { return &s.Drain }},
		{"support", "Stands, hooks and props put under something.", func(s *Step) *[]string { return &s.Support }},
		{"back", "Put back on what was off.", func(s *Step) *[]string { return &s.Back }},
		{"connect", "Joined again what was disconnected.", func(s *Step) *[]string { return &s.Connect }},
		{"tight", "Tightened what was loose or started by hand.", func(s *Step) *[]string { return &s.Tight }},
		{"shut", "Closed what was open.", func(s *Step) *[]string { return &s.Shut }},
		{"out", "Plugs and rags taken out.", func(s *Step) *[]string { return &s.Out }},
		{"fill", "Filled what was drained.", func(s *Step) *[]string { return &s.Fill }},
		{"clear", "Stands, hooks and props taken away.", func(s *Step) *[]string { return &s.Clear }},
	}
	for _, i := range items {
		keys = append(keys, key[Step]{i.name, optional, i.doc, textsShape(), textsInto(i.list)})
	}
	return keys
}

// tighteningKeys is an entry of `torque`.
func tighteningKeys() []key[Tightening] {
	return []key[Tightening]{
		{"fastener", required, "What is tightened, with thread and class where known.", textShape(), textInto(func(t *Tightening) *string { return &t.Fastener })},
		{"count", optional, "How many there are, 1 where it is left out.", countShape(1, 1000), countInto(1, 1000, func(t *Tightening) *int { return &t.Count })},
		{"value", required, "Torque with its unit: N·m, lbf·ft, lbf·in or kgf·m.", torqueShape(), torqueInto(func(t *Tightening) *Torque { return &t.Value })},
		{"angle", optional, "Degrees to turn further after the torque.", countShape(1, 720), countInto(1, 720, func(t *Tightening) *int { return &t.Angle })},
		{"order", optional, "Tightening pattern.", orderShape(), orderInto(func(t *Tightening) *Order { return &t.Order })},
	}
}
