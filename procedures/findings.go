package procedures

import (
	"math/big"
	"regexp"
	"strings"

	"github.com/shopspring/decimal"
)

var (
	durationText = regexp.MustCompile(`(?i)(?:(\d+(?:[.,]\d+)?)\s*(?:-|–|to)\s*)?(\d+(?:[.,]\d+)?)\s*-?\s*(min(?:ute)?s?|h(?:(?:ou)?rs?)?|s(?:ec(?:ond)?s?)?)\b`)
	waitWord     = regexp.MustCompile(`(?i)\b(?:wait|leave|allow|let|stand|cure|skin|soak|cool|dry|rest|idle|idling|run|running|for|after)\b`)
	waitFirst    = regexp.MustCompile(`(?i)^\W*(?:then\s+)?(?:wait|leave|allow|let|stand|start|run|idle)\b`)
	waitName     = regexp.MustCompile(`(?i)\b(sealant|sealer|adhesive|thread[- ]?locker|glue|cement|primer|paint|oil|coolant|engine|battery|capacitors?|airbag|bearing|turbo|brakes?|compressor|refrigerant)\b`)
	byTime       = regexp.MustCompile(`(?i)\b(?:within|every|in less than|no more than|under)\s+$`)
)

// readTimers finds waits in a step's words.
func readTimers(s *DraftStep) {
	for _, sentence := range sentences(s.Say) {
		for _, at := range durationText.FindAllStringSubmatchIndex(sentence, -1) {
			before := sentence[:at[0]]
			if !byTime.MatchString(before) && !waitWord.MatchString(before) && !waitWord.MatchString(sentence[at[1]:]) {
				continue
			}
			whole, unit := sentence[at[0]:at[1]], strings.ToLower(sentence[at[6]:at[7]])
			number := sentence[at[4]:at[5]]
			minutes, ok := minutesOf(number, unit)
			switch {
			case byTime.MatchString(before):
				s.doubt("%q: a limit, not a wait; set a timer if it should be called out", whole)
				continue
			case at[2] >= 0:
				s.doubt("%q is a range: give the timer one value", whole)
				continue
			case !ok || len(s.Timers) >= maxFound:
				s.doubt("%q is no wait that a timer takes", whole)
				continue
			}
			t := Timer{Name: "wait", Minutes: minutes}
			if m := waitName.FindStringSubmatch(sentence); m != nil {
				t.Name = strings.ToLower(m[1])
			}
			if waitFirst.MatchString(s.Say) {
				t.From = AtBegin
			}
			s.Timers = append(s.Timers, t)
		}
	}
}

// minutesOf is a written duration in minutes, and false where a timer does not take
// it.
func minutesOf(number, unit string) (float64, bool) {
	n, ok := new(big.Rat).SetString(number)
	if !ok {
		return 0, false
	}
	switch unit[0] {
	case 'h':
		n.Mul(n, big.NewRat(60, 1))
	case 's':
		n.Quo(n, big.NewRat(60, 1))
	}
	minutes, _ := n.Float64()
	return minutes, minutes > 0 && minutes <= maxMinutes
}

const (
	readingUnit = `(mm|cm|µm|μm|microns?|millimet(?:re|er)s?|inch(?:es)?|in|thou|"|V|volts?|mV|A|amps?|mA|Ω|ohms?|kΩ|mΩ|bar|kPa|MPa|psi|°C|°F|°|degrees|rpm|N|kN|l/min|litres?|%|mbar|g|kg)`
	signed      = `(-?\d+(?:[.,]\d+)?)`
)

var (
	limitsBetween = regexp.MustCompile(`(?i)(?:\b(?:must be|should be|must read|should read|limits?:?|between|is|specification:?|spec:?|clearance:?|gap:?|of|to read)\s+|:\s*)(?:between\s+|from\s+)?` +
		signed + `\s*` + readingUnit + `?\s*(?:-|–|to|and)\s*` + signed + `\s*` + readingUnit + `(?:[^A-Za-z]|$)`)
	limitAtLeast = regexp.MustCompile(`(?i)\b(?:at least|minimum(?: of)?|min\.?|not less than|no less than|not below|above|more than)\s+` + signed + `\s*` + readingUnit + `(?:[^A-Za-z]|$)`)
	limitAtMost  = regexp.MustCompile(`(?i)\b(?:at most|maximum(?: of)?|max\.?|not more than|no more than|not exceed|not above|below|less than|up to)\s+` + signed + `\s*` + readingUnit + `(?:[^A-Za-z]|$)`)
	scrapAt      = regexp.MustCompile(`(?i)\b(?:wear limit(?: is)?:?|scrap(?: limit)?(?: at| below| under)?:?|discard (?:at|below|under)|service limit(?: is)?:?)\s+` + signed + `\s*` + readingUnit + `(?:[^A-Za-z]|$)`)
	plusOr       = regexp.MustCompile(`(?i)` + signed + `\s*(?:` + readingUnit + `\s*)?(?:±|\+/-)\s*\d+(?:[.,]\d+)?\s*` + readingUnit + `(?:[^A-Za-z]|$)`)
	exactly      = regexp.MustCompile(`(?i)\b(?:must|should) (?:be|read) (?:about )?` + signed + `\s*` + readingUnit + `(?:[^A-Za-z]|$)`)
	// measuring finds that a sentence asks for a figure.
	measuring      = regexp.MustCompile(`(?i)\b(?:measure|check|read|gauge|must be|should be|must read|should read|(?:must|should) not exceed|(?:must|should) have|limit|clearance|gap|specification)\b`)
	measuredIs     = regexp.MustCompile(`(?i)(?:^|[,;:.]\s|\band\s|\bthat\s)\s*(?:the\s+|its\s+|their\s+)?([A-Za-z][A-Za-z -]{2,40}?)\s*(?:,\s*(?:it|they|which)\s+)?\s+(?:must be|should be|must read|should read|must not|should not|is)\b`)
	measuredOf     = regexp.MustCompile(`(?i)\b(?:measure|check|read|gauge|note)\s+(?:that\s+)?(?:the\s+|its\s+|their\s+)?([A-Za-z][A-Za-z -]{2,40}?)(?:\s+(?:with|at|on|of each|in|using|is|must|should|across|between|against|for)\b|[,;:.(]|$)`)
	checkFirst     = regexp.MustCompile(`(?i)^(?:(?:and|then|check|measure|make sure|ensure|see|verify)\s+)*(?:that\s+)?(?:the\s+)?`)
	differenceWord = regexp.MustCompile(`(?i)\b(?:rise|drop|fall|difference|increase|change)\b`)
	itselfWord     = regexp.MustCompile(`(?i)^(?:it|this|that|they|which|value|reading)$`)
	tightenVerb    = regexp.MustCompile(`(?i)\b(?:tighten|torque|tightening)`)
)

// readReadings finds figures to take, with their limits, in a step's words.
func readReadings(s *DraftStep) {
	name := ""
	for _, sentence := range sentences(s.Say) {
		if m := measuredOf.FindStringSubmatch(sentence); m != nil {
			name = lowerFirst(m[1])
		}
		if m := measuredIs.FindStringSubmatch(sentence); m != nil && !itselfWord.MatchString(m[1]) {
			name = checkFirst.ReplaceAllString(m[1], "")
		}
		if !measuring.MatchString(sentence) || tightenVerb.MatchString(sentence) {
			continue
		}
		r := Reading{Name: strings.ToLower(strings.TrimSpace(name)), Difference: differenceWord.MatchString(sentence)}
		found := false
		limit := func(number, unit string) *decimal.Decimal {
			found = true
			d, err := decimal.NewFromString(number)
			if err != nil || d.Abs().GreaterThan(decimal.NewFromInt(maxDecimal)) || !d.Equal(d.Truncate(decimalPlaces)) || r.Unit != "" && r.Unit != unit {
				s.doubt("%q cannot be taken as a limit", strings.TrimSpace(number+" "+unit))
				return nil
			}
			r.Unit = unit
			return &d
		}
		if m := scrapAt.FindStringSubmatch(sentence); m != nil {
			r.Wear = limit(m[1], m[2])
			sentence = strings.Replace(sentence, m[0], " ", 1)
		}
		if m := limitsBetween.FindStringSubmatch(sentence); m != nil && (m[2] == "" || m[2] == m[4]) {
			r.Min, r.Max = limit(m[1], m[4]), limit(m[3], m[4])
		} else {
			if m := limitAtLeast.FindStringSubmatch(sentence); m != nil {
				r.Min = limit(m[1], m[2])
			}
			if m := limitAtMost.FindStringSubmatch(sentence); m != nil {
				r.Max = limit(m[1], m[2])
			}
		}
		if m := plusOr.FindStringSubmatch(sentence); m != nil && !found {
			s.doubt("%q: write the limits of the reading as `min` and `max`", strings.TrimSpace(m[0]))
			r.Unit, found = m[3], true
		}
		if m := exactly.FindStringSubmatch(sentence); m != nil && !found {
			s.doubt("%q: a reading? Give its limits as `min` and `max`", strings.TrimSpace(m[0]))
		}
		if found {
			s.reading(r)
		}
	}
}

// reading adds a reading whose limits agree with each other.
func (s *DraftStep) reading(r Reading) {
	if r.Name == "" || itselfWord.MatchString(r.Name) {
		r.Name = "reading"
		s.doubt("what is measured?")
	}
	if r.Min != nil && r.Max != nil && r.Min.GreaterThan(*r.Max) {
		s.doubt("the limits %s and %s stand the wrong way round, so neither is taken", r.Min, r.Max)
		r.Min, r.Max = nil, nil
	}
	fits := r.Min != nil && r.Wear != nil && r.Wear.LessThan(*r.Min) || r.Max != nil && r.Wear != nil && r.Wear.GreaterThan(*r.Max)
	if r.Wear != nil && !fits {
		s.doubt("a wear limit of %s %s: what are the limits of a good one?", r.Wear, r.Unit)
		r.Wear = nil
	}
	if len(s.Readings) < maxFound {
		s.Readings = append(s.Readings, r)
	}
}

// toolWords are the last words of tools' names.
var toolWords = regexp.MustCompile(`(?i)\b(?:sockets?|spanners?|wrench(?:es)?|ratchets?|screwdrivers?|pliers|grips|pullers?|breaker bar|pry ?bars?|(?:allen|hex) keys?|hex bits?|torx bits?|bits?|` +
	`feeler gauges?|gauges?|micrometers?|calipers? gauge|vernier|multimeter|trolley jack|jack|axle stands?|hammer|mallet|punch|drift|scraper|wire brush|drain (?:pan|tray)|container|locking pin|syringe|torch|pressure tester)\b`)

// driveTool is a socket or bit by its letter alone: T30, E10, PH2.
var driveTool = regexp.MustCompile(`\b(?:TX?|E|PH|PZ)\d{1,2}\b(?:\s+(?:Torx|socket|bit|driver|key))*`)

// vagueTool are words that mean a tool only where one is to be used.
var vagueTool = map[string]bool{"gauge": true, "container": true, "jack": true, "bit": true, "bits": true, "socket": true, "sockets": true, "torch": true, "punch": true, "drift": true, "hammer": true}

// toolBefore ends what goes in front of a tool.
var toolBefore = regexp.MustCompile(`(?i)\b(?:with|using|use|fit|take|need)\s+(?:an?\s+|the\s+|your\s+)?$`)

// readTools finds tools in a step's words.
func readTools(s *DraftStep) {
	seen := map[string]bool{}
	add := func(name string) {
		key := itemKey(name)
		if name == "" || seen[key] || len(s.Tools) >= maxFound || len(name) > 60 {
			return
		}
		seen[key] = true
		s.Tools = append(s.Tools, name)
	}
	for _, at := range driveTool.FindAllStringIndex(s.Say, -1) {
		add(s.Say[at[0]:at[1]])
	}
	for _, sentence := range sentences(s.Say) {
		for _, at := range toolWords.FindAllStringIndex(sentence, -1) {
			words := strings.Fields(sentence[:at[1]])
			name := thingAt(words, len(words)-1).name
			if driveTool.MatchString(name) || !strings.Contains(name, " ") && vagueTool[strings.ToLower(name)] && !toolBefore.MatchString(sentence[:at[0]]) {
				continue
			}
			add(name)
		}
	}
}

var (
	startsEngine = regexp.MustCompile(`(?i)\b(?:start|crank)\s+(?:up\s+)?(?:the\s+)?engine\b`)
	roadTest     = regexp.MustCompile(`(?i)\b(?:road[- ]test|test[- ]drive|test run on the road)\b`)
	figureHint   = regexp.MustCompile(`(?i)\b(?:see (?:fig|figure|picture|photo|illustration)\w*|as shown|\bfig(?:ure|\.)\s*\d)`)
	sequenceHint = regexp.MustCompile(`(?i)\b(?:in|following) the (?:sequence|order) (?:shown|given|indicated)|\bin sequence\b`)
	vagueWords   = regexp.MustCompile(`(?i)\b(?:as required|as necessary|if (?:necessary|required|fitted|equipped)|where fitted|some|a few (?:turns|minutes|seconds|hours)|several minutes|a while|overnight|sufficient)\b`)
)

// newPart is a part that the words call new.
var newPart = regexp.MustCompile(`(?i)\bnew\s+((?:[a-z][a-z-]*\s+){0,2}?(?:gaskets?|seals?|o-rings?|washers?|bolts?|nuts?|screws?|split pins?|cotter pins?|clips?|circlips?|filters?|belts?|pads?|discs?|rotors?|plugs?|hoses?|bearings?|pumps?|thermostat|shims?|springs?|wipers?|bulbs?|fuses?|oil|coolant|brake fluid|grease))\b`)

// readParts finds new parts in a step's words.
func readParts(s *DraftStep) {
	for _, m := range newPart.FindAllStringSubmatch(s.Say, maxFound) {
		s.part(m[1])
	}
}

// part adds a part, once.
func (s *DraftStep) part(name string) {
	for _, p := range s.Parts {
		if itemKey(p.Name) == itemKey(name) {
			return
		}
	}
	if len(s.Parts) < maxFound {
		s.Parts = append(s.Parts, Part{Name: name})
	}
}

// readOccasions finds the start of the engine and the road test, and asks about
// words that leave something open.
func readOccasions(s *DraftStep) {
	s.Starts = startsEngine.MatchString(s.Say) && !notYet.MatchString(s.Say)
	s.Drives = roadTest.MatchString(s.Say) && !notYet.MatchString(s.Say)
	if m := figureHint.FindString(s.Say); m != "" {
		s.doubt("%q: name the picture under `figures`", m)
	}
	if m := sequenceHint.FindString(s.Say); m != "" {
		s.doubt("%q: which order?", m)
	}
	if m := vagueWords.FindString(s.Say); m != "" {
		s.doubt("%q leaves it open", m)
	}
	if n := len(sentences(s.Say)); n > 2 {
		s.doubt("%d sentences in one step: make it several", n)
	}
}

var notYet = regexp.MustCompile(`(?i)\b(?:do not|don't|never|before|until|without)\b`)
