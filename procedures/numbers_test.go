package procedures_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

func TestSay(t *testing.T) {
	for _, c := range []struct {
		text string
		in   procedures.TorqueUnit
		want string
	}{
		{"10 N·m", procedures.NewtonMetre, "10 newton metres"},
		{"1 N·m", procedures.NewtonMetre, "1 newton metre"},
		{"8.5 N·m", procedures.NewtonMetre, "8 point 5 newton metres"},
		{"7 lbf·ft", procedures.PoundFoot, "7 foot pounds"},
		{"7 lbf·ft", procedures.NewtonMetre, "about 9 point 4 9 newton metres"},
		{"10 N·m", procedures.PoundFoot, "about 7 point 3 8 foot pounds"},
		{"10 N·m", procedures.PoundInch, "about 88 point 5 inch pounds"},
		{"110 N·m", procedures.PoundFoot, "about 81 point 1 foot pounds"},
		{"1000 lbf·ft", procedures.NewtonMetre, "about 1360 newton metres"},
		{"12 lbf·in", procedures.PoundFoot, "1 foot pound"},
		{"2 lbf·ft", procedures.PoundInch, "24 inch pounds"},
		{"0.5 N·m", procedures.KilogramMetre, "about zero point zero 5 1 kilogram metres"},
	} {
		if got := procedures.Say(torque(t, c.text), c.in); got != c.want {
			t.Errorf("%s in %s is said %q, want %q", c.text, c.in, got, c.want)
		}
	}
}

func TestSay_sayable(t *testing.T) {
	units := rapid.SampledFrom(procedures.TorqueUnits())
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.StringMatching(`[1-9][0-9]{0,3}(\.[0-9]{1,2})?|0\.[0-9][1-9]`).Draw(t, "number")
		q, err := procedures.ParseTorque(number + units.Draw(t, "unit").String())
		if err != nil {
			t.Fatal(err)
		}
		said := procedures.Say(q, units.Draw(t, "in"))
		if !sayable.MatchString(said) || procedures.Speakable(said) != said {
			t.Fatalf("%s is said %q", q, said)
		}
	})
}

func TestSayDuration(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0:                                        "0 seconds",
		400 * time.Millisecond:                   "0 seconds",
		time.Second:                              "1 second",
		40 * time.Second:                         "40 seconds",
		59600 * time.Millisecond:                 "1 minute",
		90 * time.Second:                         "1 minute 30 seconds",
		9*time.Minute + 59*time.Second:           "9 minutes 59 seconds",
		9*time.Minute + 59*time.Second + 600*1e6: "10 minutes",
		10*time.Minute + 29*time.Second:          "10 minutes",
		10*time.Minute + 30*time.Second:          "11 minutes",
		time.Hour:                                "1 hour",
		72 * time.Minute:                         "1 hour 12 minutes",
		59*time.Minute + 45*time.Second:          "1 hour",
		2*time.Hour + time.Minute:                "2 hours 1 minute",
		-40 * time.Second:                        "40 seconds",
	} {
		if got := procedures.SayDuration(d); got != want {
			t.Errorf("%v is said %q, want %q", d, got, want)
		}
	}
}

func TestSayHours(t *testing.T) {
	for tenths, want := range map[procedures.Tenths]string{
		0: "zero hours", 6: "zero point 6 hours", 10: "1 hour", 16: "1 point 6 hours", 20: "2 hours", -3: "minus zero point 3 hours",
	} {
		if got := procedures.SayHours(tenths); got != want {
			t.Errorf("%v h is said %q, want %q", tenths, got, want)
		}
	}
	if got := procedures.SayBook(155); got != "1 point 5 5 hours" {
		t.Errorf("1.55 h is said %q", got)
	}
}

func TestSayList(t *testing.T) {
	for want, list := range map[string][]string{
		"": nil, "pads": {"pads"}, "pads and discs": {"pads", "discs"}, "pads, discs and bolts": {"pads", "discs", "bolts"},
	} {
		if got := procedures.SayList(list); got != want {
			t.Errorf("%q is said %q, want %q", list, got, want)
		}
	}
}

func TestOrdinal(t *testing.T) {
	for n, want := range map[int]string{
		1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 8: "eighth", 9: "ninth", 11: "eleventh", 12: "twelfth",
		13: "thirteenth", 20: "twentieth", 21: "twenty-first", 32: "thirty-second", 40: "fortieth", 64: "sixty-fourth", 100: "one hundredth",
		101: "one hundred and first", 0: "number 0", -1: "number -1", 1000: "number 1000",
	} {
		if got := procedures.Ordinal(n); got != want {
			t.Errorf("%d is said %q, want %q", n, got, want)
		}
	}
}

func TestNumber(t *testing.T) {
	for said, want := range map[string]float64{
		"eight five point two": 85.2, "zero": 0, "oh": 0, "one oh five": 105, "minus one": -1, "minus point five": -0.5,
		"seven point": 7, "zero zero seven": 7, "nine nine nine": 999,
	} {
		if got, err := procedures.Number(strings.Fields(said)); err != nil || got != want {
			t.Errorf("%q is %v, error %v, want %v", said, got, err, want)
		}
	}
	for _, said := range []string{"", "point", "minus", "minus point", "one minus", "one point two point", "eleven", "next", "minus minus one",
		strings.Repeat("nine ", 400)} {
		if got, err := procedures.Number(strings.Fields(said)); err == nil {
			t.Errorf("%.40q is %v, want an error", said, got)
		}
	}
}

func TestNumber_digitsBack(t *testing.T) {
	words := []string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 999999).Draw(t, "n")
		var said []string
		for _, digit := range decimal(n) {
			said = append(said, words[digit-'0'])
		}
		if got, err := procedures.Number(said); err != nil || got != float64(n) {
			t.Fatalf("%v is %v, error %v", said, got, err)
		}
	})
}
