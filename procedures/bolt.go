package procedures

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// bolt is a metric thread with its strength, as far as a fastener's name tells.
type bolt struct {
	diameter float64 // mm
	pitch    float64 // mm
	class    string  // ISO 898-1 property class, "" where the name gives none
}

// coarsePitch is the pitch in mm that a thread has when only its diameter is
// named (ISO 261). No pitch of the diameter is coarser.
var coarsePitch = map[float64]float64{
	5: 0.8, 6: 1, 7: 1, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2, 16: 2, 18: 2.5, 20: 2.5, 22: 2.5, 24: 3, 27: 3, 30: 3.5, 33: 3.5, 36: 4,
}

// proofStress is the stress in N/mm² that a bolt of the class bears without
// staying longer (ISO 898-1:2013; 8.8 up to M16).
var proofStress = map[string]float64{"4.8": 310, "5.8": 380, "8.8": 580, "10.9": 830, "12.9": 970}

var (
	threadText = regexp.MustCompile(`(?i)\bM(\d{1,2})(?:\s*[x×*]\s*(\d(?:\.\d{1,2})?))?(?:[^\d.]|$)`)
	classText  = regexp.MustCompile(`(?:^|[^\d.])(4\.8|5\.8|8\.8|10\.9|12\.9)(?:[^\d.]|$)`)
)

// boltIn finds a thread in a fastener's name, such as "M6×1.0 8.8 cover bolt". A number after the diameter that is coarser than any
// pitch is a length.
func boltIn(fastener string) (bolt, bool) {
	m := threadText.FindStringSubmatch(fastener)
	if m == nil {
		return bolt{}, false
	}
	var b bolt
	b.diameter, _ = strconv.ParseFloat(m[1], 64)
	b.pitch, _ = strconv.ParseFloat(m[2], 64)
	coarse, known := coarsePitch[b.diameter]
	if !known {
		return bolt{}, false
	}
	if b.pitch == 0 || b.pitch > coarse {
		b.pitch = coarse
	}
	rest := fastener[strings.Index(fastener, m[0])+len(m[0])-1:]
	if c := classText.FindStringSubmatch(rest); c != nil {
		b.class = c[1]
	}
	return b, true
}

// stressArea is the area in mm² that carries the load: π/4·(d − 0.9382·P)²
// (ISO 898-1).
func (b bolt) stressArea() float64 {
	d := b.diameter - 0.9382*b.pitch
	return math.Pi / 4 * d * d
}

// proofLoad is the load in newtons that a bolt of the class bears without staying
// longer. A thicker bolt of class 8.8 is of tougher steel: 600 N/mm² above M16
// (ISO 898-1:2013; from memory).
func (b bolt) proofLoad(class string) float64 {
	if class == "8.8" && b.diameter > 16 {
		return b.stressArea() * 600
	}
	return b.stressArea() * proofStress[class]
}

// friction is K in the short form T = K·F·d: 0.20 for dry steel, about 0.15 for
// oiled; thread locker and sealant lie between (handbooks of machine design; from
// memory). Where the file does not say it is dry, the most forgiving: an oiled
// thread is stretched by less torque.
func friction(c Condition) float64 {
	switch c {
	case Oiled:
		return 0.15
	case ThreadLocker, Sealant:
		return 0.18
	default:
		return 0.20
	}
}

// torqueAt is the torque in N·m that loads a bolt to a share of its proof load.
func (b bolt) torqueAt(share float64, class string, c Condition) float64 {
	return friction(c) * share * b.proofLoad(class) * b.diameter / 1000
}

// pastProof says how a plain torque takes a bolt past its proof load, and is
// empty where it does not or where thread or class is not known. A torque with a
// further angle stretches the bolt by design, and one that is low for a reason is
// not about its thread: neither is judged.
func pastProof(t Tightening) string {
	b, ok := boltIn(t.Fastener)
	if !ok || b.class == "" || t.Angle > 0 || t.Low != "" {
		return ""
	}
	limit := b.torqueAt(1, b.class, t.Condition)
	if t.Value.NewtonMetres() <= limit {
		return ""
	}
	state := t.Condition
	switch state {
	case "":
		state = Dry
	case ThreadLocker, Sealant:
		return fmt.Sprintf("%s takes an M%g bolt of class %s with %s past its proof load, which it meets at about %.3g N·m",
			t.Value, b.diameter, b.class, state, limit)
	}
	return fmt.Sprintf("%s takes %s M%g bolt of class %s past its proof load, which it meets at about %.3g N·m",
		t.Value, articled(string(state)), b.diameter, b.class, limit)
}

// articled puts the article before a word.
func articled(word string) string {
	if strings.ContainsRune("aeiou", rune(word[0])) {
		return "an " + word
	}
	return "a " + word
}

// lowByDesign reports whether a torque is rightly below what the thread would bear: it has a reason for it, or an angle follows.
func (t Tightening) lowByDesign() bool { return t.Low != "" || t.Angle > 0 }

// twelvefold reports whether a torque makes sense for the named thread only with
// feet and inches swapped, and what would then be meant. One that is low by design
// may still be too high.
func twelvefold(t Tightening) (meant Torque, slipped bool) {
	b, ok := boltIn(t.Fastener)
	if !ok {
		return Torque{}, false
	}
	class := b.class
	if class == "" {
		class = "8.8"
	}
	meant = t.Value
	switch t.Value.Unit() {
	case PoundFoot:
		meant.unit = PoundInch
	case PoundInch:
		meant.unit = PoundFoot
	default:
		return Torque{}, false
	}
	usual := b.torqueAt(0.75, class, t.Condition)
	if t.lowByDesign() && t.Value.NewtonMetres() < usual {
		return Torque{}, false
	}
	return meant, !near(t.Value.NewtonMetres(), usual, 4) && near(meant.NewtonMetres(), usual, 2)
}

// twelveApart reports whether one torque is about twelve times the other, and nothing explains why: where only the smaller of them
// is low by design, that does.
func twelveApart(a, b Tightening) bool {
	if a.Value.Cmp(b.Value) > 0 {
		a, b = b, a
	}
	return near(b.Value.NewtonMetres()/a.Value.NewtonMetres(), 12, 1.05) && (!a.lowByDesign() || b.lowByDesign())
}

// near reports whether a and b differ by no more than the factor.
func near(a, b, factor float64) bool { return a <= b*factor && b <= a*factor }
