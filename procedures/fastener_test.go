package procedures_test

import (
	"testing"

	"stepcaller/procedures"
)

func TestSpokenFastener(t *testing.T) {
	for _, c := range []struct{ name, want string }{
		{"M12×1.5 10.9 axle nut", "axle nut"},
		{"M6×1.0 8.8 cover bolt", "cover bolt"},
		{"M24×1.5 left axle nut", "left axle nut"},
		{"M14×1.25 spark plug 3", "spark plug 3"},
		{"M6 inlet 2 lock nut", "inlet 2 lock nut"},
		{"M8×1.25 10.9 head bolt", "head bolt"},
		{"M8×1.25×40 10.9 head bolt", "head bolt"},
		{"M8 x 1.25 x 40 mm head bolt", "head bolt"},
		{"M8-1.25 head bolt", "head bolt"},
		{"M10x1-6g union", "union"},
		{"bolts M8 x 25 of the cover", "bolts of the cover"},
		{"cover bolt (M8, 10.9)", "cover bolt"},
		{"cover bolt, M8, long", "cover bolt, long"},
		{"M10 nut, class 10", "nut"},
		{"M10 property class 12.9 bolt", "bolt"},
		{"M8 A2-70 screw", "screw"},
		{"M8×1.25 10.9", "bolt"},
		{"M8", "bolt"},
		{"R1/2 check valve", "check valve"},
		{`1/4"-20 UNC-2A cover screw`, "cover screw"},
		{"#10-32 screw", "screw"},
		{"13 mm nut", "13 mm nut"},
		{"4.8 mm rivet", "4.8 mm rivet"},
		{"M14A cap", "M14A cap"},
		{"wheel bolt", "wheel bolt"},
	} {
		if got := procedures.SpokenFastener(c.name); got != c.want {
			t.Errorf("%q is called %q, want %q", c.name, got, c.want)
		}
	}
}

// Where two torques of a step would be called the same, both keep what tells them apart.
func TestSpokenFastener_ofStep(t *testing.T) {
	named := func(names ...string) (called []string) {
		var s procedures.Step
		for _, name := range names {
			s.Torque = append(s.Torque, procedures.Tightening{Fastener: name})
		}
		for i := range names {
			called = append(called, s.SpokenFastener(i))
		}
		return called
	}
	if got := named("M8 cover bolt", "M6 cover bolts", "M6 screw"); got[0] != "M8 cover bolt" || got[1] != "M6 cover bolts" || got[2] != "screw" {
		t.Errorf("called %q", got)
	}
	if got := named("M8 cover bolt", "M8 cover bolt"); got[0] != "cover bolt" || got[1] != "cover bolt" {
		t.Errorf("seated and then set: called %q", got)
	}
}
