package procedures_test

import (
	"math"
	"math/big"
	"testing"
	"time"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

func torque(t *testing.T, text string) procedures.Torque {
	t.Helper()
	got, err := procedures.ParseTorque(text)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func TestTorque_In(t *testing.T) {
	for _, c := range []struct {
		text   string
		in     procedures.TorqueUnit
		want   string // exact decimal
		source string
	}{
		{"1 lbf·ft", procedures.NewtonMetre, "1.3558179483314004", "NIST SP 811 (2008), appendix B: 4.4482216152605 N × 0.3048 m"},
		{"1 lbf·in", procedures.NewtonMetre, "0.1129848290276167", "NIST SP 811 (2008), appendix B"},
		{"1 kgf·m", procedures.NewtonMetre, "9.80665", "NIST SP 811 (2008), appendix B"},
		{"12 lbf·in", procedures.PoundFoot, "1", "12 inches to the foot"},
		{"1 lbf·ft", procedures.PoundInch, "12", "12 inches to the foot"},
		{"10.5 N·m", procedures.NewtonMetre, "10.5", "its own unit"},
	} {
		want, _ := new(big.Rat).SetString(c.want)
		if got := torque(t, c.text).In(c.in); got.Cmp(want) != 0 {
			t.Errorf("%s is %s %s, want %s (%s)", c.text, got.FloatString(20), c.in, c.want, c.source)
		}
	}
}

func TestTorque_NewtonMetres(t *testing.T) {
	for _, c := range []struct {
		text   string
		want   float64
		digits float64 // half a unit in the last published place
		source string
	}{
		{"1 lbf·ft", 1.355818, 5e-7, "NIST SP 811, rounded"},
		{"1 lbf·in", 0.1129848, 5e-8, "NIST SP 811, rounded"},
		{"7 lbf·ft", 9.49, 5e-3, "common practice: a small M6 flange bolt"},
	} {
		if got := torque(t, c.text).NewtonMetres(); math.Abs(got-c.want) > c.digits {
			t.Errorf("%s is %v N·m, want %v (%s)", c.text, got, c.want, c.source)
		}
	}
}

func TestParseTorque_spellings(t *testing.T) {
	for want, spellings := range map[string][]string{
		"10 N·m":    {"10 N·m", "10 Nm", "10 N m", "10 N-m", "10Nm", "10 nm", "10 NM", " 10  N.m ", "10 N⋅m", "10 N*m", "10 newton metres", "10 Newton-meters"},
		"7 lbf·ft":  {"7 lbf·ft", "7 lb-ft", "7 ft-lb", "7 ft·lbf", "7 ft lbs", "7 lb ft", "7 LB-FT", "7 foot pounds", "7 foot-pounds", "7 pound-feet", "7 lb.ft"},
		"84 lbf·in": {"84 lbf·in", "84 in-lb", "84 lb-in", "84 in lbs", "84 inch-pounds", "84 in.-lb."},
		"1.5 kgf·m": {"1.5 kgf·m", "1.5 kg-m", "1.5 kgm", "1.5 m-kg"},
	} {
		for _, text := range spellings {
			got, err := procedures.ParseTorque(text)
			if err != nil || got.String() != want {
				t.Errorf("%q is read as %v, error %v, want %s", text, got, err, want)
			}
		}
	}
}

func TestParseTorque_refuses(t *testing.T) {
	for _, text := range []string{"", "10", "Nm", "-10 Nm", "0 Nm", "0.0 Nm", "10 furlongs", "10,5 Nm", "1e3 Nm", "10 mN·m",
		"10 Nm 20", "ten Nm", "10 lb", "10 ft", "8-9 Nm", "1234567 Nm", "NaN Nm", "Inf Nm", "+Inf Nm", "1e400 Nm", "10..5 Nm"} {
		if got, err := procedures.ParseTorque(text); err == nil {
			t.Errorf("%q is read as %v, want an error", text, got)
		}
	}
}

func TestTorque_thereAndBack(t *testing.T) {
	units := rapid.SampledFrom(procedures.TorqueUnits())
	rapid.Check(t, func(t *rapid.T) {
		written := rapid.StringMatching(`[1-9][0-9]{0,4}(\.[0-9]{1,3})?`).Draw(t, "number") + " " + units.Draw(t, "unit").String()
		q, err := procedures.ParseTorque(written)
		if err != nil {
			t.Fatal(err)
		}
		if q.String() != written {
			t.Fatalf("%q is written back as %q", written, q)
		}
		to := units.Draw(t, "to")
		one, _ := procedures.ParseTorque("1 " + to.String())
		back := new(big.Rat).Mul(q.In(to), one.In(q.Unit()))
		if back.Cmp(q.In(q.Unit())) != 0 {
			t.Fatalf("%s to %s and back is %s", q, to, back.FloatString(12))
		}
	})
}

func TestTemperature(t *testing.T) {
	const c, f = procedures.Celsius, procedures.Fahrenheit
	for _, x := range []struct {
		value    float64
		from, to procedures.Degrees
		want     float64
	}{
		{212, f, c, 100}, {32, f, c, 0}, {-40, f, c, -40}, // the scale's fixed points
		{100, c, f, 212}, {-40, c, f, -40}, {20, c, c, 20},
	} {
		if got := procedures.Temperature(x.value, x.from, x.to); math.Abs(got-x.want) > 1e-12 {
			t.Errorf("%v from %v to %v is %v, want %v", x.value, x.from, x.to, got, x.want)
		}
	}
	// NIST SP 811, appendix B.8: a difference has no offset.
	if got := procedures.TemperatureDifference(36, f, c); got != 20 {
		t.Errorf("a rise of 36 °F is %v °C, want 20", got)
	}
	if got := procedures.TemperatureDifference(20, c, f); got != 36 {
		t.Errorf("a rise of 20 °C is %v °F, want 36", got)
	}
}

// Common practice: 0.1 h is 6 min.
func TestTenthsIn(t *testing.T) {
	for _, c := range []struct {
		d    time.Duration
		want procedures.Tenths
	}{
		{0, 0}, {2*time.Minute + 59*time.Second, 0}, {3 * time.Minute, 1}, {6 * time.Minute, 1},
		{8*time.Minute + 59*time.Second, 1}, {9 * time.Minute, 2}, {96 * time.Minute, 16}, {-3 * time.Minute, -1},
		{3*time.Minute - time.Nanosecond, 0},
	} {
		if got := procedures.TenthsIn(c.d); got != c.want {
			t.Errorf("%v is %v h, want %v h", c.d, got, c.want)
		}
	}
}

func TestTenthsIn_thereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tenths := procedures.Tenths(rapid.Int64Range(-1e6, 1e6).Draw(t, "tenths"))
		if got := procedures.TenthsIn(tenths.Duration()); got != tenths {
			t.Fatalf("%v h becomes %v h", tenths, got)
		}
	})
}

func TestParseHours(t *testing.T) {
	for text, want := range map[string]procedures.Hours{
		"0": 0, "1": 100, "1.6": 160, "0.55": 55, "1.60": 160, "1.600": 160, ".5": 50, "-0.5": -50, "12.25": 1225,
	} {
		if got, err := procedures.ParseHours(text); err != nil || got != want {
			t.Errorf("%q is %d hundredths, error %v, want %d", text, got, err, want)
		}
	}
	for _, text := range []string{"", ".", "x", "1.234", "1e2", "1,5", "0x10", "1_0", "99999", "1.-5"} {
		if got, err := procedures.ParseHours(text); err == nil {
			t.Errorf("%q is read as %v, want an error", text, got)
		}
	}
}

func TestHours_String(t *testing.T) {
	for h, want := range map[procedures.Hours]string{0: "0.0", 160: "1.6", 55: "0.55", -50: "-0.5", -55: "-0.55", 1205: "12.05"} {
		if got := h.String(); got != want {
			t.Errorf("%d hundredths is %q, want %q", int64(h), got, want)
		}
	}
}
