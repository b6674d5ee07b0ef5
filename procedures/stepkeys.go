package procedures

import "github.com/shopspring/decimal"

// stepKeys is an entry of `steps`.
func stepKeys() []key[Step] {
	keys := []key[Step]{
		field("id", required, "Name of the step, unique in the procedure.", stepIDValue(), func(s *Step) *string { return &s.ID }),
		field("say", required, "What is read aloud: one action in a short sentence.", spokenValue(), func(s *Step) *string { return &s.Say }),
		field("title", optional, "Short form for lists.", textValue(), func(s *Step) *string { return &s.Title }),
		field("minutes", optional, "Expected minutes.", minutesValue(), func(s *Step) *float64 { return &s.Minutes }),
		field("operations", optional, "Codes of the operations that need the step; all of them where it is left out.", someOf(textValue()), func(s *Step) *[]string { return &s.Operations }),
		premiseKey("only_if", "Choices that must have been answered yes for the step to be done: an id, a question of the step's own, or a list.", false),
		premiseKey("unless", "Choices that must have been answered no.", true),
		field("figures", optional, "Pictures, inside the procedure's folder.", listOf(figureValue()), func(s *Step) *[]Figure { return &s.Figures }),
		field("starts_engine", optional, "The step starts the engine: everybody stands clear first.", flagValue(), func(s *Step) *bool { return &s.Starts }),
		field("road_test", optional, "The step is a road test: silent, with its time kept apart.", flagValue(), func(s *Step) *bool { return &s.Drives }),
		field("await", optional, "Timers that must have run out before the step.", listOf(textValue()), func(s *Step) *[]string { return &s.Await }),
		field("tools", optional, "Tools for this step.", listOf(textValue()), func(s *Step) *[]string { return &s.Tools }),
		field("parts", optional, "Parts for this step.", listOf(partValue()), func(s *Step) *[]Part { return &s.Parts }),
		field("cautions", optional, "Cautions spoken before the step.", listOf(cautionValue()), func(s *Step) *[]Caution { return &s.Cautions }),
		field("torque", optional, "Torque values of this step.", entriesOf(tighteningKeys()), func(s *Step) *[]Tightening { return &s.Torque }),
		field("loosening", optional, "Fasteners to slacken in an order.", entriesOf(looseningKeys()), func(s *Step) *[]Loosening { return &s.Loosening }),
		field("timers", optional, "Waits that this step starts.", entriesOf(timerKeys()), func(s *Step) *[]Timer { return &s.Timers }),
		field("readings", optional, "Figures to take.", entriesOf(readingKeys()), func(s *Step) *[]Reading { return &s.Readings }),
		field("level", optional, "Fluids whose level is rechecked here.", listOf(textValue()), func(s *Step) *[]string { return &s.Level }),
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
		keys = append(keys, field(i.name, optional, i.doc, listOf(textValue()), i.list))
	}
	return keys
}

// groupKeys is an entry of `steps` that is written out several times.
func groupKeys(steps value[node]) []key[group] {
	return []key[group]{
		field("each", required, "A name and what it stands for, one after the other: `side: [left, right]` or `cylinder: 1 to 4`.", eachValue(), func(g *group) *each { return &g.each }),
		field("steps", required, "The steps, with `{name}` where each value goes.", steps, func(g *group) *node { return &g.steps }),
	}
}

// figureKeys is an entry of `figures` that is more than a file.
func figureKeys() []key[Figure] {
	return []key[Figure]{
		field("file", required, "File name of the picture.", pictureValue(), func(f *Figure) *string { return &f.File }),
		field("caption", optional, "What it shows.", textValue(), func(f *Figure) *string { return &f.Caption }),
	}
}

// figureValue is an entry of `figures`: a file name, or a mapping.
func figureValue() value[Figure] {
	plain := pictureValue()
	return value[Figure]{anyShape("file name, or keys", plain.shape, mappingShape(figureKeys())), func(r *reader, at string, n node) (Figure, bool) {
		if isMapping(n) {
			return mappingOf(figureKeys()).read(r, at, n)
		}
		file, ok := plain.read(r, at, n)
		return Figure{File: file}, ok
	}}
}

// timerKeys is an entry of `timers`.
func timerKeys() []key[Timer] {
	return []key[Timer]{
		field("name", required, "Name of the timer, unique in the procedure.", spokenValue(), func(t *Timer) *string { return &t.Name }),
		field("minutes", required, "How long it runs.", waitValue(), func(t *Timer) *float64 { return &t.Minutes }),
		field("from", optional, "When it starts: with the step, at its end (as where it is left out), or by the word.", timerStartValue(), func(t *Timer) *TimerStart { return &t.From }),
		field("say", optional, "What is said when it has run out.", spokenValue(), func(t *Timer) *string { return &t.Say }),
	}
}

// readingKeys is an entry of `readings`.
func readingKeys() []key[Reading] {
	return []key[Reading]{
		field("name", required, "What is measured.", spokenValue(), func(r *Reading) *string { return &r.Name }),
		field("unit", optional, "Unit of the figure and of its limits.", textValue(), func(r *Reading) *string { return &r.Unit }),
		field("min", optional, "Smallest good figure.", decimalValue(), func(r *Reading) **decimal.Decimal { return &r.Min }),
		field("max", optional, "Largest good figure.", decimalValue(), func(r *Reading) **decimal.Decimal { return &r.Max }),
		field("wear", optional, "The figure at which the part is scrap.", decimalValue(), func(r *Reading) **decimal.Decimal { return &r.Wear }),
		field("positions", optional, "Where it is taken, one after the other.", listOf(textValue()), func(r *Reading) *[]string { return &r.Positions }),
		field("difference", optional, "The figure is a rise or fall, not a level.", flagValue(), func(r *Reading) *bool { return &r.Difference }),
		field("when", optional, "Before or after the repair; the two of one name are compared.", choiceOf("moment", "before", "after"), func(r *Reading) *string { return &r.When }),
	}
}

// tighteningKeys is an entry of `torque`.
func tighteningKeys() []key[Tightening] {
	return []key[Tightening]{
		field("fastener", required, "What is tightened, with thread and class where known.", textValue(), func(t *Tightening) *string { return &t.Fastener }),
		field("count", optional, "How many there are, 1 where it is left out.", countValue(1, 1000), func(t *Tightening) *int { return &t.Count }),
		field("value", required, "Torque with its unit: N·m, lbf·ft, lbf·in or kgf·m.", torqueValue(), func(t *Tightening) *Torque { return &t.Value }),
		field("stages", optional, "Rounds over all of them: snug, half, full, a torque, or an angle such as 90°.", listOf(stageValue()), func(t *Tightening) *[]Stage { return &t.Stages }),
		field("angle", optional, "Degrees to turn further after the torque: one stage more.", countValue(1, maxAngle), func(t *Tightening) *int { return &t.Angle }),
		field("order", optional, "Tightening pattern.", orderValue(), func(t *Tightening) *Order { return &t.Order }),
		field("positions", optional, "Names of the fasteners, as many as there are.", listOf(textValue()), func(t *Tightening) *[]string { return &t.Positions }),
		field("lengths", optional, "Length of each fastener, as many as there are.", listOf(textValue()), func(t *Tightening) *[]string { return &t.Lengths }),
		field("condition", optional, "State of the thread.", choiceOf("condition", Dry, Oiled, ThreadLocker, Sealant), func(t *Tightening) *Condition { return &t.Condition }),
		field("new", optional, "Replaced every time: the new one is asked for.", flagValue(), func(t *Tightening) *bool { return &t.New }),
		field("thread", optional, "Hand of the thread, right where it is left out.", handValue(), func(t *Tightening) *bool { return &t.LeftHand }),
		field("again", optional, "When it is tightened once more.", listOf(choiceOf("occasion", AfterHeat, AfterRoadTest)), func(t *Tightening) *[]Again { return &t.Again }),
		field("low", optional, "Why the torque is rightly far from what the thread would bear.", choiceOf("reason", SparkPlug, DrainPlug, BearingPreload, IntoAluminium), func(t *Tightening) *Low { return &t.Low }),
	}
}

// looseningKeys is an entry of `loosening`.
func looseningKeys() []key[Loosening] {
	return []key[Loosening]{
		field("fastener", required, "What is slackened.", textValue(), func(l *Loosening) *string { return &l.Fastener }),
		field("count", optional, "How many there are, 1 where it is left out.", countValue(1, 1000), func(l *Loosening) *int { return &l.Count }),
		field("order", optional, "Pattern of tightening, which is followed backwards.", orderValue(), func(l *Loosening) *Order { return &l.Order }),
		field("thread", optional, "Hand of the thread, right where it is left out.", handValue(), func(l *Loosening) *bool { return &l.LeftHand }),
	}
}
