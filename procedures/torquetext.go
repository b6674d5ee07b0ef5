package procedures

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// anyTorqueUnit matches every spelling of every unit of torque.
var anyTorqueUnit = func() string {
	var all []string
	for _, u := range TorqueUnits() {
		all = append(all, u.pattern())
	}
	return "(?:" + strings.Join(all, "|") + ")"
}()

const plainNumber = `\d+(?:[.,]\d+)*`

var (
	// torqueWritten is a torque, or a range or tolerance of one, with the unit of both.
	torqueWritten = regexp.MustCompile(`(` + plainNumber + `)(?:\s*(-|–|—|to|±|\+/-)\s*(` + plainNumber + `))?\s*(` + anyTorqueUnit + `)(?:[^A-Za-z0-9]|$)`)
	// sameAgain leads to the same torque in another unit.
	sameAgain = regexp.MustCompile(`^\s*(?:[(\[/=,]|or\b|\()\s*$`)
	// nextStage leads to the torque or the angle of the next round.
	nextStage = regexp.MustCompile(`(?i)^[\s,;.:)]*(?:(?:\+|→|plus|and|then|finally|followed by|next|after that|second(?:ly)?|third(?:ly)?|(?:stage|pass|step|round)\s*\d\s*:?|[23](?:nd|rd) (?:stage|pass):?)[\s,:]*)+` +
		`(?:(?:tighten|turn|rotate|torque|angle[- ]tighten|by|through|to|a|an|further|another|additional|them|it|each|all|the|bolts?|nuts?|screws?|again|in turn|full)\s+)*$`)
	angleWritten = regexp.MustCompile(`(?i)^[\s,;.:)]*(?:(?:\+|→|plus|and|then|finally|followed by|next|second(?:ly)?|third(?:ly)?|(?:stage|pass|step|round)\s*\d\s*:?)[\s,:]*)+` +
		`(?:(?:tighten|turn|rotate|angle[- ]tighten|by|through|a|an|further|another|additional|them|it|each|all|the|(?:[a-z]+\s)?(?:bolts?|nuts?|screws?)|again|in turn)\s+)*(\d{1,3})\s*(?:°|deg(?:rees?)?\b)`)
	bareAngle = regexp.MustCompile(`(?i)\b(?:further|additional|another|through|angle of|by)\s+(\d{1,3})\s*(?:°|degrees?\b)`)
	// bareTorque is a number after "tighten … to" without a unit of torque.
	bareTorque   = regexp.MustCompile(`(?i)\b(?:tighten|torque)\b[^.;]*?\b(?:to|at|of)\s+(\d+(?:[.,]\d+)*)(?:\s*(lbs?|pounds?|kg|kilos?|n|ft|foot|newtons?))?(?:[\s.,;]|$)`)
	unsaidTorque = regexp.MustCompile(`(?i)\b(?:specified|correct|stated|recommended|proper|final|maker's|manufacturer's) torque\b|\btorque to spec\w*|\bto specification\b`)
	roundsHint   = regexp.MustCompile(`(?i)\bin (two|three|four|five|\d|several) (?:equal |even )?(?:stages|passes|steps|rounds)\b`)
	poundsIn     = regexp.MustCompile(`(?i)(?:lbf?s?|pounds?)\.?\s+in$`)
	fastenerWord = regexp.MustCompile(`(?i)\b(?:bolts?|nuts?|screws?|studs?|plugs?|unions?|banjos?|caps?|sensors?|pinch bolts?|clamps?|fixings?|fasteners?|filter|housing|hubs?|carriers?|cups?|lockrings?|setscrews?|capscrews?|locknuts?|flange|cover|bracket)\b`)
	countAfter   = regexp.MustCompile(`^\s*\(\s*(?:[x×]\s*)?(\d{1,2})\s*(?:off|[x×]|pcs?|pieces)?\s*\)`)
	threadAfter  = regexp.MustCompile(`^\s+(M\d{1,2}(?:\s*[x×]\s*\d+(?:\.\d+)?)*)\b`)
	timesAfter   = regexp.MustCompile(`^\s*[x×]\s?(\d{1,2})\b`)
	pluralName   = regexp.MustCompile(`(?i)\b(?:bolts|nuts|screws|studs|plugs|unions|banjos|caps|sensors|clamps|fixings|fasteners|hubs|carriers|cups|setscrews|capscrews|locknuts)$`)
)

// maxFasteners bounds how many fasteners one torque is for.
const maxFasteners = 1000

// torqueFound is one torque in a step's words.
type torqueFound struct {
	from, to int // bytes of the text
	value    Torque
	ranged   bool // the text gives two values, of which this is the first
	whole    string
}

// readTorques finds the torques of a step. Every value is as written; what cannot
// be read for certain is a doubt.
func readTorques(s *DraftStep, known func(fastener string) int) {
	say := s.Say
	reading := measuring.MatchString(say) && !tightenVerb.MatchString(say)
	var current *Tightening
	end := 0 // of what belongs to current
	for _, f := range findTorques(s) {
		switch gap := say[end:f.from]; {
		case reading:
			s.doubt("%q: a torque to be measured? Give it as a reading", f.whole)
			continue
		case len(s.Torque) >= maxFound:
			s.doubt("%q and what follows it was not taken over", f.whole)
			return
		case current != nil && f.value.Unit() != current.Value.Unit() && sameAgain.MatchString(gap):
			if r := f.value.NewtonMetres() / current.Value.NewtonMetres(); math.Abs(r-1) > 0.06 {
				s.doubt("%s and %q are not the same torque", current.Value, f.whole)
			}
			end = f.to
			continue
		case current != nil && nextStage.MatchString(gap) && f.value.Unit() == current.Value.Unit() && f.value.Cmp(current.Value) > 0 && !hasAngle(current):
			current.nextStage(f.value)
		default:
			s.Torque = append(s.Torque, tightened(s, say, end, f, known))
			current = &s.Torque[len(s.Torque)-1]
		}
		if f.ranged {
			s.doubt("%q gives two values: %s is taken, decide which it is", f.whole, f.value)
		}
		end = f.to
		for {
			m := angleWritten.FindStringSubmatchIndex(say[end:])
			if m == nil {
				break
			}
			angle, _ := strconv.Atoi(say[end+m[2] : end+m[3]])
			if angle < 1 || current.Angle+angle > maxAngle {
				s.doubt("an angle of %d°", angle)
				break
			}
			current.nextAngle(angle)
			end += m[1]
		}
	}
	if m := bareAngle.FindStringSubmatch(say[end:]); m != nil && (current == nil || current.Angle == 0) && tightenOrTurn.MatchString(say) {
		s.doubt("an angle of %s° without the torque before it: put it to that torque as `angle`", m[1])
	}
	readThreads(s)
	askTorque(s, say)
}

var tightenOrTurn = regexp.MustCompile(`(?i)\b(?:tighten|turn|torque|rotate)\b`)

// findTorques lists the torques in the text that can be read for certain.
func findTorques(s *DraftStep) (found []torqueFound) {
	for _, at := range torqueWritten.FindAllStringSubmatchIndex(s.Say, -1) {
		f := torqueFound{from: at[0], to: at[9], ranged: at[4] >= 0, whole: s.Say[at[0]:at[9]]}
		number, unit := s.Say[at[2]:at[3]], s.Say[at[8]:at[9]]
		rest := s.Say[at[9]:]
		switch {
		case at[0] > 0 && cutNumber.MatchString(s.Say[:at[0]]):
			s.doubt("%q: the number before it is cut off", f.whole)
			continue
		case poundsIn.MatchString(unit) && sentenceGoesOn.MatchString(rest):
			s.doubt("%q: pounds in what?", f.whole+short(rest))
			continue
		case strings.Contains(number, ","):
			s.doubt("%q: write the number with a point for its decimals", f.whole)
			continue
		}
		if f.ranged && strings.ContainsAny(s.Say[at[4]:at[5]], "±+") {
			s.doubt("%q: the tolerance stays in the words", f.whole)
			f.ranged = false
		}
		value, err := ParseTorque(number + " " + unit)
		if err != nil {
			s.doubt("%q: %v", f.whole, err)
			continue
		}
		f.value = value
		found = append(found, f)
	}
	return found
}

// cutNumber finds that a number is the end of a longer one.
var cutNumber = regexp.MustCompile(`(?:[.,]|\d\s?[/-])$`)

func hasAngle(t *Tightening) bool { return t.Angle > 0 }

// nextStage makes what has been read so far a round before the full torque.
func (t *Tightening) nextStage(value Torque) {
	if len(t.Stages) == 0 {
		t.Stages = []Stage{{Name: t.Value.String(), Value: t.Value}}
	} else {
		last := &t.Stages[len(t.Stages)-1]
		last.Name = t.Value.String()
	}
	t.Stages = append(t.Stages, Stage{Name: stageFull, Value: value})
	t.Value = value
}

// nextAngle adds a round by angle.
func (t *Tightening) nextAngle(angle int) {
	if t.Angle > 0 && len(t.Stages) == 0 {
		t.Stages = []Stage{{Name: stageFull, Value: t.Value}, angleStage(t.Angle)}
	}
	t.Angle += angle
	if len(t.Stages) > 0 {
		t.Stages = append(t.Stages, angleStage(angle))
	}
}

// tightened is the entry of one torque: its fastener is what was named last before
// it, or right after it in brackets.
func tightened(s *DraftStep, say string, from int, f torqueFound, known func(string) int) Tightening {
	t := Tightening{Value: f.value, Count: 1}
	name, counted := fastenerBefore(say[from:f.from])
	if name == "" {
		name, counted = fastenerBefore(strings.SplitN(say[f.to:], ",", 2)[0])
		if name == "" || !strings.HasPrefix(strings.TrimLeft(say[f.to:], " "), "(") && !strings.Contains(say[f.to:], " for the ") {
			name, counted = fastenerBefore(say[:f.from])
		}
	}
	name = lowerWord(name)
	if counted == 0 && name != "" {
		counted = known(name)
	}
	switch {
	case name == "":
		t.Fastener = "fastener"
		s.doubt("%s: which fastener?", f.value)
	case counted > 0:
		t.Fastener, t.Count = name, counted
		if counted > 1 {
			t.Fastener = singular(name)
		}
	default:
		t.Fastener = name
		if pluralName.MatchString(name) {
			t.Count = 0 // nobody knows
			s.doubt("%q: how many? Write their `count`", name)
		}
	}
	t.Fastener, _ = cutRunes(t.Fastener, 80)
	return t
}

// fastenerBefore is the fastener that the text names last, with its count, 0 where
// it is not written.
func fastenerBefore(text string) (name string, count int) {
	all := fastenerWord.FindAllStringIndex(text, -1)
	for k := len(all) - 1; k >= 0; k-- {
		end := all[k][1]
		words := strings.Fields(text[:end])
		if len(words) == 0 {
			continue
		}
		found := thingAt(words, len(words)-1)
		if found.name == "" || !hasSound(found.name) {
			continue
		}
		if m := threadAfter.FindStringSubmatch(text[end:]); m != nil {
			found.name += " " + m[1]
			end += len(m[0])
		}
		for _, after := range []*regexp.Regexp{countAfter, timesAfter} {
			if m := after.FindStringSubmatch(text[end:]); m != nil && found.count == 0 {
				found.count, _ = strconv.Atoi(m[1])
			}
		}
		return found.name, found.count
	}
	return "", 0
}

var (
	conditionWords = []struct {
		written *regexp.Regexp
		is      Condition
	}{
		{regexp.MustCompile(`(?i)\b(?:thread[- ]?lock(?:er|ing)?)\b`), ThreadLocker},
		{regexp.MustCompile(`(?i)\b(?:oil(?:ed)?|lubricated?) (?:the )?(?:threads?|bolts?|screws?)\b|\b(?:threads?|bolts?|screws?)(?:,? lightly)? oiled\b`), Oiled},
		{regexp.MustCompile(`(?i)\bthreads? (?:clean and )?dry\b|\bdry threads?\b`), Dry},
	}
	orderWords = []struct {
		written *regexp.Regexp
		is      Order
	}{
		{regexp.MustCompile(`(?i)\b(?:criss-?cross|crosswise|diagonal(?:ly)?)\b`), CrissCross},
		{regexp.MustCompile(`(?i)\b(?:star pattern|in a star)\b`), Star},
		{regexp.MustCompile(`(?i)\bfrom the (?:middle|cent(?:re|er)) out(?:ward)?s?\b|\bmiddle outwards?\b`), MiddleOutward},
	}
	newFastener = regexp.MustCompile(`(?i)\bnew (?:[a-z0-9×.]+ ){0,3}(?:bolts?|nuts?|screws?|studs?)\b`)
	leftHanded  = regexp.MustCompile(`(?i)\bleft[- ]hand(?:ed)? thread|\bLH thread`)
	spinTerms   = regexp.MustCompile(`(?i)\bspark plugs?\b`)
	drainTerms  = regexp.MustCompile(`(?i)\b(?:drain|sump|filler|level) plugs?\b`)
)

// readThreads takes over what the words say of the fasteners of a step with one
// torque; where there are several, it cannot be known whose it is.
func readThreads(s *DraftStep) {
	for i := range s.Torque {
		switch t := &s.Torque[i]; {
		case spinTerms.MatchString(t.Fastener):
			t.Low = SparkPlug
		case drainTerms.MatchString(t.Fastener):
			t.Low = DrainPlug
		}
	}
	if len(s.Torque) != 1 {
		return
	}
	t := &s.Torque[0]
	for _, c := range conditionWords {
		if c.written.MatchString(s.Say) {
			t.Condition = c.is
			break
		}
	}
	for _, o := range orderWords {
		if o.written.MatchString(s.Say) {
			t.Order = o.is
			break
		}
	}
	t.New = newFastener.MatchString(s.Say)
	t.LeftHand = leftHanded.MatchString(s.Say)
}

// askTorque asks about words that mean a torque and give none.
func askTorque(s *DraftStep, say string) {
	if m := conditionWords[1].written.FindString(say); m != "" && len(s.Torque) == 0 {
		s.doubt("%q: give their torque `condition: oiled`", m)
	}
	if m := unsaidTorque.FindString(say); m != "" && len(s.Torque) == 0 {
		s.doubt("%q: what is it?", m)
	}
	if m := bareTorque.FindStringSubmatchIndex(say); m != nil && !torqueWritten.MatchString(say[m[2]:]) {
		s.doubt("%q: a torque without its unit?", strings.Trim(say[m[2]:m[1]], " .,;"))
	}
	if m := roundsHint.FindString(say); m != "" {
		known := false
		for _, t := range s.Torque {
			known = known || len(t.Stages) > 1
		}
		if !known {
			s.doubt("%q: give them under `stages`", m)
		}
	}
}
