package procedures

import "fmt"

// Caution is a warning that is read before its step.
type Caution struct {
	Name   string  // of the entry in StandardCautions that it stands for, "" for its own words
	Say    string  // what is read aloud; never empty
	Answer Command // what must be said before the step goes on, "" where nothing need be
	Wait   float64 // minutes to wait first, by the maker's service data; 0 for none
}

// String is what is read aloud.
func (c Caution) String() string { return c.Say }

// StandardCaution is an entry of the table that procedures refer to by name.
type StandardCaution struct {
	Name   string
	Say    string
	Answer Command // "" where it need not be answered
	Waits  bool    // the maker gives a number of minutes to wait, and the procedure must too
	Once   bool    // an answer holds for the rest of the job; else each step asks again
}

// StandardCautions is the table of cautions, by what they are about: common
// practice in the trade, in its words. Where a figure or a licence matters they
// send to the maker's service data or to local rules.
func StandardCautions() []StandardCaution {
	return []StandardCaution{
		{Name: "raised-vehicle", Say: "Never work under a vehicle on the jack alone. Stands at the maker's support points, wheels chocked, then shake it.", Answer: StandsSet, Once: true},
		{Name: "lift", Say: "Arms at the maker's lifting points. Lift it off the ground, shake it, lock the lift before you go under.", Answer: LiftLocked, Once: true},
		{Name: "engine-above", Say: "Hold the engine from above with a support beam or a hoist, chain taut, before its mount comes off.", Answer: EngineHeld, Once: true},
		{Name: "engine-below", Say: "Hold the engine from below, with a jack and a block of wood under the sump rail, before its mount comes off.", Answer: EngineHeld, Once: true},
		{Name: "hot-coolant", Say: "Hot coolant scalds. Let it cool, lay a rag over the cap and open it slowly until the hiss is gone.", Answer: PressureOff, Once: true},
		{Name: "hot-exhaust", Say: "The exhaust stays hot long after the engine stops. Let it cool, or keep skin and hoses off it."},
		{Name: "fuel-pressure", Say: "Fuel is under pressure. Let it off as the maker says, rag over the joint, goggles on, nothing that sparks nearby.", Answer: PressureOff},
		{Name: "battery", Say: "Keys away, then ground cable off first. It goes on last. Follow the maker's service data.", Answer: GroundOff, Once: true},
		{Name: "battery-back", Say: "Battery back: plus cable on first, ground cable last."},
		{Name: "airbag", Say: "Airbags, trained people only. Battery off, then wait the maker's time before you unplug anything.", Answer: PowerDown, Waits: true, Once: true},
		{Name: "high-voltage", Say: "High voltage kills. Trained people only, by local rules. Power down, lock it, wait the maker's time, prove it dead.", Answer: PowerDown, Waits: true, Once: true},
		{Name: "spring", Say: "The spring is under load. Hold it with the proper compressor or pin, and stand out of its line.", Answer: SpringHeld},
		{Name: "fan", Say: "Fans and belts can start by themselves, even with the ignition off. Keep hands, sleeves and hair away."},
		{Name: "exhaust-gas", Say: "An engine running indoors fills the shop with gas that kills. Hose on the exhaust, doors open."},
		{Name: "clear-of-engine", Say: "The engine is about to turn. Tools, rags, hands and people clear of it.", Answer: AllClear},
		{Name: "brake-pedal", Say: "Pump the brake pedal until it is firm before the vehicle moves.", Answer: PedalFirm},
		{Name: "brake-fluid", Say: "Brake fluid strips paint and burns eyes. Only the maker's grade, from a sealed can. Rinse spills with water."},
		{Name: "brake-dust", Say: "Brake dust harms lungs. Never blow it off. Wet it or use a proper vacuum."},
		{Name: "refrigerant", Say: "Refrigerant is licensed work under local rules. Have it drawn off by somebody licensed, never let it out.", Answer: PressureOff, Once: true},
		{Name: "wheels", Say: "Wheel fasteners to the maker's torque, on the ground, crosswise, before the road test.", Answer: WheelsTight},
		{Name: "wheels-again", Say: "After the road test, torque the wheel fasteners once more, by the maker's service data."},
	}
}

// StandardCautionNamed is the entry of the table with this name, and false where
// there is none.
func StandardCautionNamed(name string) (StandardCaution, bool) {
	for _, c := range StandardCautions() {
		if c.Name == name {
			return c, true
		}
	}
	return StandardCaution{}, false
}

// standardCautionValue is the name of an entry of the table; waits says of which
// sort.
func standardCautionValue(waits bool) value[string] {
	var names []string
	for _, c := range StandardCautions() {
		if c.Waits == waits {
			names = append(names, c.Name)
		}
	}
	return value[string]{shape{"title": "name in the table", "enum": names}, standardName}
}

// standardName reads the name of an entry of the table.
func standardName(r *reader, at string, n node) (string, bool) {
	name, ok := r.scalar(at, n)
	if !ok {
		return "", false
	}
	if _, known := StandardCautionNamed(name); !known {
		var names []string
		for _, c := range StandardCautions() {
			names = append(names, c.Name)
		}
		r.fail(at, n, fmt.Sprintf("no caution of the table is called %q", name), mendName(name, names))
		return "", false
	}
	return name, true
}

// answerValue is one of the phrases that answer a caution.
func answerValue() value[Command] { return choiceOf("answer to a caution", InGroup(Cautions)...) }

// cautionValue is an entry of `cautions`: a text, a name of the table, or words
// with an answer.
func cautionValue() value[Caution] {
	plain, waiting, own := standardCautionKeys(false), standardCautionKeys(true), ownCautionKeys()
	s := anyShape("text, or keys", textShape(), mappingShape(plain), mappingShape(waiting), mappingShape(own))
	s[nameKey] = "caution"
	return value[Caution]{s, func(r *reader, at string, n node) (c Caution, ok bool) {
		if !isMapping(n) {
			c.Say, ok = r.scalar(at, n)
			return c, ok
		}
		use := valueOf(n, "use")
		if use == nil {
			readMapping(r, at, n, own, &c)
			return c, true
		}
		name, known := standardName(r.silent(), at, use)
		entry, _ := StandardCautionNamed(name)
		switch {
		case !known:
			standardName(r, at+".use", use)
			return c, false
		case entry.Waits:
			readMapping(r, at, n, waiting, &c)
		default:
			readMapping(r, at, n, plain, &c)
		}
		c.Say, c.Answer = entry.Say, entry.Answer
		return c, true
	}}
}
