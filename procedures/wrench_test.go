package procedures_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

func wrench(t *testing.T, text procedures.WrenchText) procedures.Wrench {
	t.Helper()
	w, err := procedures.NewWrench(text)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// T = 80 N·m, L = 400 mm, E = 50 mm: T·L/(L + E·cos θ) is 71.1 N·m at 0°, 80 at 90°, 91.4 at 180° (a balance of moments, in any
// torque wrench handbook).
func TestWrenchSettingWithAnAdapter(t *testing.T) {
	for angle, want := range map[float64]float64{0: 71.1, 90: 80, 180: 91.4} {
		w := wrench(t, procedures.WrenchText{Name: "half inch", Span: "20 to 100 N·m", Length: 400, Adapter: 50, Angle: angle})
		if got := w.Setting(torque(t, "80 N·m")); math.Abs(got-want) > 0.05 {
			t.Errorf("at %v° set to %v, want %v", angle, got, want)
		}
	}
}

func TestSetting_spoken(t *testing.T) {
	for _, c := range []struct {
		text  procedures.WrenchText
		value string
		want  string
	}{
		{procedures.WrenchText{Name: "w", Span: "5 to 25 N·m"}, "10 N·m", "10 N·m"},
		{procedures.WrenchText{Name: "w", Span: "5 to 25 N·m", Step: "0.5 N·m"}, "7 lbf·ft", "9.5 N·m"}, // 9.4907 (NIST SP 811)
		{procedures.WrenchText{Name: "w", Span: "10 to 80 lbf·ft"}, "50 N·m", "36.9 lbf·ft"},            // 36.878 (NIST SP 811)
		{procedures.WrenchText{Name: "w", Span: "20 to 100 N·m", Length: 400, Adapter: 50}, "80 N·m", "71.1 N·m"},
		{procedures.WrenchText{Name: "w", Span: "40 to 210 N·m", Step: "5 N·m"}, "111 N·m", "110 N·m"},
	} {
		if got := wrench(t, c.text).SaySetting(torque(t, c.value)); got != c.want {
			t.Errorf("%s on %s is set to %q, want %q", c.value, c.text.Span, got, c.want)
		}
	}
}

// Permissible deviation by the largest torque: ±6 % up to 10 N·m, ±4 % above (ISO 6789).
func TestWrenchTolerance(t *testing.T) {
	for span, want := range map[string]float64{"2 to 10 N·m": 6, "5 to 25 N·m": 4, "4 to 10 lbf·ft": 4} {
		if got := wrench(t, procedures.WrenchText{Name: "w", Span: span}).Tolerance(); got != want {
			t.Errorf("%s: ±%v %%, want %v", span, got, want)
		}
	}
	if got := wrench(t, procedures.WrenchText{Name: "w", Span: "2 to 10 N·m", Class: 3}).Tolerance(); got != 3 {
		t.Errorf("its own class gives ±%v %%", got)
	}
}

// A setting wrench is used between 20 and 100 % of its largest value unless it states its own lower limit (calibration points of ISO 6789;
// common practice).
func TestPickWrench(t *testing.T) {
	small := wrench(t, procedures.WrenchText{Name: "small", Span: "2 to 10 N·m"})
	middle := wrench(t, procedures.WrenchText{Name: "middle", Span: "5 to 50 N·m"})
	long := wrench(t, procedures.WrenchText{Name: "long", Span: "20 to 200 N·m", Lowest: "20 N·m"})
	all := []procedures.Wrench{long, middle, small}
	for value, want := range map[string]string{
		"1.9 N·m": "no wrench of yours is good for 1.9 N·m; small is good from 2 N·m",
		"2 N·m":   "small", "9.9 N·m": "small",
		"10 N·m":    "middle", // 20 % of 50, and ±4 % beats ±6 %
		"50 N·m":    "middle",
		"20 N·m":    "middle", // the smaller of two alike
		"51 N·m":    "long",
		"200 N·m":   "long",
		"201 N·m":   "no wrench of yours reaches 201 N·m; long ends at 200 N·m",
		"10 lbf·ft": "middle",
	} {
		w, why, ok := procedures.PickWrench(all, torque(t, value))
		if got := w.Name + why.String(); got != want || ok != (why == procedures.Misfit{}) {
			t.Errorf("%s: %q, want %q", value, got, want)
		}
	}
	if _, why, ok := procedures.PickWrench(nil, torque(t, "10 N·m")); ok || why != (procedures.Misfit{}) {
		t.Errorf("without wrenches: %q, %v", why, ok)
	}
}

func TestNewWrench_mistakes(t *testing.T) {
	for want, text := range map[string]procedures.WrenchText{
		"without a name":    {Span: "5 to 25 N·m"},
		"write it as 5 to":  {Name: "w", Span: "25 N·m"},
		"no unit of":        {Name: "w", Span: "5 to 25 bananas"},
		"smaller torque":    {Name: "w", Span: "25 to 5 N·m"},
		"scale's unit":      {Name: "w", Span: "5 to 25 N·m", Step: "1 lbf·ft"},
		"not below":         {Name: "w", Span: "5 to 25 N·m", Lowest: "25 N·m"},
		"per cent":          {Name: "w", Span: "5 to 25 N·m", Class: -1},
		"off its scale":     {Name: "w", Span: "5 to 25 N·m", Lowest: "4 N·m"},
		"smallest division": {Name: "w", Span: "5 to 25 N·m", Step: "25 N·m"},
		"from 0 to 5000":    {Name: "w", Span: "5 to 25 N·m", Length: -1},
		"straight back":     {Name: "w", Span: "5 to 25 N·m", Angle: 181},
		"own length":        {Name: "w", Span: "5 to 25 N·m", Adapter: 50},
		"lever":             {Name: "w", Span: "5 to 25 N·m", Length: 100, Adapter: 90, Angle: 180},
	} {
		if _, err := procedures.NewWrench(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", text, err, want)
		}
	}
}

// A number that is none, or without end, comes from no ruler.
func TestNewWrench_noNumber(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64} {
		for key, set := range map[string]func(*procedures.WrenchText){
			"class":   func(w *procedures.WrenchText) { w.Class = bad },
			"length":  func(w *procedures.WrenchText) { w.Length = bad },
			"adapter": func(w *procedures.WrenchText) { w.Adapter = bad },
			"angle":   func(w *procedures.WrenchText) { w.Angle = bad },
		} {
			text := procedures.WrenchText{Name: "w", Span: "5 to 25 N·m", Length: 400, Adapter: 50}
			set(&text)
			if w, err := procedures.NewWrench(text); err == nil {
				t.Errorf("%s of %v is taken: %+v", key, bad, w)
			}
		}
	}
	for _, bad := range []string{"NaN", "Inf", "-Inf", ".inf", "1e400", "99999999999999999999"} {
		for key, text := range map[string]procedures.WrenchText{
			"span":   {Name: "w", Span: "5 to " + bad + " N·m"},
			"lowest": {Name: "w", Span: "5 to 25 N·m", Lowest: bad + " N·m"},
			"step":   {Name: "w", Span: "5 to 25 N·m", Step: bad + " N·m"},
		} {
			if w, err := procedures.NewWrench(text); err == nil {
				t.Errorf("%s of %s is taken: %+v", key, bad, w)
			}
		}
	}
}

// A scale in divisions of 5 N·m cannot be set to 12: 10 is 16.7 % off, where its class is 4 %. The next wrench's can.
func TestPickWrench_coarseScale(t *testing.T) {
	coarse := wrench(t, procedures.WrenchText{Name: "coarse", Span: "10 to 50 N·m", Step: "5 N·m", Class: 3})
	fine := wrench(t, procedures.WrenchText{Name: "fine", Span: "10 to 60 N·m", Step: "0.5 N·m"})
	for _, c := range []struct {
		all        []procedures.Wrench
		value      string
		name, want string
	}{
		{[]procedures.Wrench{coarse}, "12 N·m", "coarse", "for 12 N·m the nearest mark of coarse is 10 N·m, 16.7 % off"},
		{[]procedures.Wrench{coarse}, "41 N·m", "coarse", ""}, // 2.4 % off, within 3 %
		{[]procedures.Wrench{coarse}, "15 N·m", "coarse", ""},
		{[]procedures.Wrench{coarse, fine}, "12 N·m", "fine", ""},
		{[]procedures.Wrench{coarse, fine}, "15 N·m", "coarse", ""},
	} {
		w, why, ok := procedures.PickWrench(c.all, torque(t, c.value))
		if !ok || w.Name != c.name || why.String() != c.want {
			t.Errorf("%s: %s, %q, %v, want %s, %q", c.value, w.Name, why, ok, c.name, c.want)
		}
	}
}

// Whatever is picked, its scale holds the setting.
func TestPickWrench_holds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []procedures.Wrench
		for range rapid.IntRange(1, 4).Draw(t, "wrenches") {
			high := rapid.IntRange(10, 300).Draw(t, "high")
			w, err := procedures.NewWrench(procedures.WrenchText{Name: "w", Span: decimal(high/10) + " to " + decimal(high) + " N·m",
				Length: 300, Adapter: rapid.Float64Range(0, 100).Draw(t, "adapter"), Angle: rapid.Float64Range(0, 180).Draw(t, "angle")})
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, w)
		}
		value, _ := procedures.ParseTorque(decimal(rapid.IntRange(1, 400).Draw(t, "value")) + " N·m")
		w, why, ok := procedures.PickWrench(all, value)
		if !ok {
			if why.String() == "" {
				t.Fatal("none, and no reason")
			}
			return
		}
		if s, high := w.Setting(value), w.High.NewtonMetres(); s > high*1.000001 || s < high*0.1999 {
			t.Fatalf("%s on a wrench to %v N·m is set to %v", value, high, s)
		}
	})
}
