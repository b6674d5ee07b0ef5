package procedures

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Wrench is a torque wrench that a technician owns.
type Wrench struct {
	Name      string
	Low, High Torque  // its scale, both in the unit of the scale
	Lowest    Torque  // the least that its maker allows, the zero Torque where the maker does not say
	Step      Torque  // smallest division of its scale; the zero Torque where settings are spoken to three figures
	Deviation float64 // permissible deviation in per cent by its own class, 0 for that of ISO 6789
	Length    float64 // mm from the square drive to the middle of the grip; needed with an adapter
	Adapter   Adapter
}

// Adapter moves the drive of a wrench. The zero Adapter is none.
type Adapter struct {
	Length float64 // mm from the wrench's drive to the adapter's
	Angle  float64 // degrees from the wrench's axis: 0 away from the grip, 90 square to it, 180 back along it
}

// WrenchText is a wrench as a shop writes it.
type WrenchText struct {
	Name    string  `yaml:"name"`
	Span    string  `yaml:"span"`    // scale: "5 to 25 N·m"
	Lowest  string  `yaml:"lowest"`  // least torque that its maker allows; left out, 20 % of its largest
	Step    string  `yaml:"step"`    // smallest division of the scale: "0.5 N·m"
	Class   float64 `yaml:"class"`   // permissible deviation in per cent; left out, that of ISO 6789
	Length  float64 `yaml:"length"`  // mm from the drive to the grip
	Adapter float64 `yaml:"adapter"` // mm by which an adapter moves the drive
	Angle   float64 `yaml:"angle"`   // degrees at which the adapter stands: 0 straight out, 90 square
}

var spanPattern = regexp.MustCompile(`^\s*([0-9.]+)\s*(?:to|-|–)\s*([0-9.]+)\s*(\S.*?)\s*$`)

// NewWrench reads a wrench. The error says what is wrong and what to write.
func NewWrench(t WrenchText) (Wrench, error) {
	w := Wrench{Name: strings.TrimSpace(t.Name), Deviation: t.Class, Length: t.Length, Adapter: Adapter{t.Adapter, t.Angle}}
	if w.Name == "" {
		return Wrench{}, errors.New("a wrench without a name; give it the one that it is asked for by")
	}
	m := spanPattern.FindStringSubmatch(t.Span)
	if m == nil {
		return Wrench{}, fmt.Errorf("wrench %q: span %q; write it as 5 to 25 N·m", w.Name, t.Span)
	}
	var err error
	read := func(text string, into *Torque) {
		if err == nil && text != "" {
			if *into, err = ParseTorque(text); err != nil {
				err = fmt.Errorf("wrench %q: %w", w.Name, err)
			}
		}
	}
	read(m[1]+" "+m[3], &w.Low)
	read(m[2]+" "+m[3], &w.High)
	read(t.Lowest, &w.Lowest)
	read(t.Step, &w.Step)
	switch {
	case err != nil:
		return Wrench{}, err
	case w.Low.Cmp(w.High) >= 0:
		return Wrench{}, fmt.Errorf("wrench %q: span %q runs from more to less; write the smaller torque first", w.Name, t.Span)
	case w.Step != (Torque{}) && w.Step.Unit() != w.High.Unit():
		return Wrench{}, fmt.Errorf("wrench %q: a step in %s on a scale in %s; write both in the scale's unit", w.Name, w.Step.Unit(), w.High.Unit())
	case w.Lowest != (Torque{}) && w.Lowest.Cmp(w.High) >= 0:
		return Wrench{}, fmt.Errorf("wrench %q: lowest %s is not below its largest, %s", w.Name, w.Lowest, w.High)
	case w.Lowest != (Torque{}) && w.Lowest.Cmp(w.Low) < 0:
		return Wrench{}, fmt.Errorf("wrench %q: lowest %s is off its scale, which begins at %s; write the least that its maker allows", w.Name, w.Lowest, w.Low)
	case w.Step != (Torque{}) && w.Step.Cmp(w.High) >= 0:
		return Wrench{}, fmt.Errorf("wrench %q: a step of %s on a scale to %s; write its smallest division", w.Name, w.Step, w.High)
	case !within(t.Class, 25):
		return Wrench{}, fmt.Errorf("wrench %q: class %g; write the permissible deviation in per cent, such as 4", w.Name, t.Class)
	case !within(t.Length, maxLever) || !within(t.Adapter, maxLever):
		return Wrench{}, fmt.Errorf("wrench %q: lengths of %g and %g; write millimetres, from 0 to %d", w.Name, t.Length, t.Adapter, maxLever)
	case !within(t.Angle, 180):
		return Wrench{}, fmt.Errorf("wrench %q: an angle of %g; write degrees from 0, straight out, to 180, straight back", w.Name, t.Angle)
	case t.Adapter > 0 && t.Length == 0:
		return Wrench{}, fmt.Errorf("wrench %q: an adapter without the wrench's own length; measure from the drive to the middle of the grip, in mm", w.Name)
	case t.Adapter > 0 && t.Length+t.Adapter*math.Cos(t.Angle*math.Pi/180) < 0.2*t.Length:
		return Wrench{}, fmt.Errorf("wrench %q: the adapter takes away most of the lever; check its length and angle", w.Name)
	}
	return w, nil
}

// maxLever bounds a wrench and an adapter, in mm.
const maxLever = 5000

// within reports whether a number lies from 0 to most. One that is no number does not.
func within(number, most float64) bool { return number >= 0 && number <= most }

// least is the smallest torque to use the wrench for, in N·m: what its maker says, else a fifth of its largest
// (the lowest calibration point of ISO 6789; common practice), and never less than its scale shows.
func (w Wrench) least() float64 {
	if w.Lowest != (Torque{}) {
		return w.Lowest.NewtonMetres()
	}
	return max(0.2*w.High.NewtonMetres(), w.Low.NewtonMetres())
}

// Tolerance is the permissible deviation of a setting wrench in per cent: that of its own class, else ±6 % where its largest torque
// is 10 N·m or less, ±4 % above (ISO 6789).
func (w Wrench) Tolerance() float64 {
	switch {
	case w.Deviation > 0:
		return w.Deviation
	case w.High.NewtonMetres() <= 10:
		return 6
	default:
		return 4
	}
}

// factor is what the scale shows for a torque of one at the fastener: L / (L + E·cos θ), a balance of moments.
func (w Wrench) factor() float64 {
	if w.Adapter.Length == 0 {
		return 1
	}
	return w.Length / (w.Length + w.Adapter.Length*math.Cos(w.Adapter.Angle*math.Pi/180))
}

// Setting is what to set the wrench to, in the unit of its scale and before rounding, so that the fastener gets a torque.
func (w Wrench) Setting(t Torque) float64 {
	f, _ := t.In(w.High.Unit()).Float64()
	return f * w.factor()
}

// mark is the setting that can be set: the nearest division of the scale. Without divisions it is the setting itself.
func (w Wrench) mark(t Torque) float64 {
	setting := w.Setting(t)
	if w.Step == (Torque{}) {
		return setting
	}
	step, _ := w.Step.number().Float64()
	return math.Round(setting/step) * step
}

// off is by how many per cent the nearest mark misses the setting.
func (w Wrench) off(t Torque) float64 { return 100 * math.Abs(w.mark(t)/w.Setting(t)-1) }

// tooCoarse reports whether the scale cannot be set as near to a torque as the wrench itself is true.
func (w Wrench) tooCoarse(t Torque) bool { return w.off(t) > w.Tolerance()+1e-9 }

// SaySetting is the setting as it is read out: to the nearest division of the scale, else to three figures.
func (w Wrench) SaySetting(t Torque) string {
	mark := w.mark(t)
	digits := w.Step.places
	if w.Step == (Torque{}) {
		for v := mark; v < 100 && digits < 4; v *= 10 {
			digits++
		}
	}
	text := strconv.FormatFloat(mark, 'f', digits, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text + " " + w.High.Unit().String()
}

// holds reports whether the wrench may be used for a torque at the fastener.
func (w Wrench) holds(t Torque) bool {
	nm := t.NewtonMetres() * w.factor()
	return nm >= w.least()*(1-1e-9) && nm <= w.High.NewtonMetres()*(1+1e-9)
}

// Misfit is what stands against a wrench for a torque. The zero Misfit is nothing.
type Misfit struct {
	For    Torque
	Wrench string  // name of the wrench that is nearest
	At     string  // the torque at which its span ends on this side, or its nearest mark
	Off    float64 // by how many per cent that mark misses the torque; 0 where the torque is out of every span
	Beyond bool    // the torque is above every span
}

// String says it in a sentence without capital and stop.
func (m Misfit) String() string {
	switch {
	case m.Wrench == "":
		return ""
	case m.Off > 0:
		return fmt.Sprintf("for %s the nearest mark of %s is %s, %.3g %% off", m.For, m.Wrench, m.At, m.Off)
	case m.Beyond:
		return fmt.Sprintf("no wrench of yours reaches %s; %s ends at %s", m.For, m.Wrench, m.At)
	}
	return fmt.Sprintf("no wrench of yours is good for %s; %s is good from %s", m.For, m.Wrench, m.At)
}

// PickWrench chooses the wrench for a torque among those whose span holds it: first one whose scale is fine enough for it, of these the one
// of the smallest tolerance, of these the smallest wrench. Where none holds it, ok is false and why says what is nearest. Where ok is true,
// why is zero or warns that the nearest mark of the scale misses the torque by more than the wrench's tolerance.
func PickWrench(wrenches []Wrench, t Torque) (w Wrench, why Misfit, ok bool) {
	for _, candidate := range wrenches {
		if candidate.holds(t) && (!ok || candidate.better(w, t)) {
			w, ok = candidate, true
		}
	}
	switch {
	case ok && w.tooCoarse(t):
		return w, Misfit{For: t, Wrench: w.Name, At: w.SaySetting(t), Off: w.off(t)}, true
	case ok || len(wrenches) == 0:
		return w, Misfit{}, ok
	}
	near := wrenches[0]
	for _, candidate := range wrenches[1:] {
		if candidate.apart(t) < near.apart(t) {
			near = candidate
		}
	}
	if t.NewtonMetres()*near.factor() > near.High.NewtonMetres() {
		return Wrench{}, Misfit{For: t, Wrench: near.Name, At: near.High.String(), Beyond: true}, false
	}
	return Wrench{}, Misfit{For: t, Wrench: near.Name, At: near.sayLeast()}, false
}

// better reports whether the wrench is to be preferred to another that holds the torque too.
func (w Wrench) better(than Wrench, t Torque) bool {
	if fine, other := !w.tooCoarse(t), !than.tooCoarse(t); fine != other {
		return fine
	}
	return cmp.Or(cmp.Compare(w.Tolerance(), than.Tolerance()), w.High.Cmp(than.High)) < 0
}

// apart is how far a torque lies outside of the wrench's span, as a ratio.
func (w Wrench) apart(t Torque) float64 {
	nm := t.NewtonMetres() * w.factor()
	return max(w.least()/nm, nm/w.High.NewtonMetres())
}

func (w Wrench) sayLeast() string {
	if w.Lowest != (Torque{}) {
		return w.Lowest.String()
	}
	unit, _ := w.High.Unit().rat().Float64()
	return strconv.FormatFloat(math.Round(w.least()/unit*10)/10, 'f', -1, 64) + " " + w.High.Unit().String()
}
