package procedures_test

import (
	"slices"
	"strings"
	"testing"

	"stepcaller/procedures"
)

// checked are the mistakes of the small file with these lines after its first
// step.
func checked(t *testing.T, lines string) []string {
	t.Helper()
	got := mistakesIn(small + lines)
	for i := range got {
		got[i] = strings.TrimPrefix(got[i], "job.yaml:")
	}
	return got
}

func TestCheck_ledger(t *testing.T) {
	for _, c := range []struct {
		name, lines string
		want        []string
	}{
		{"off and back", "    off: [cover, 10 bolts]\n  - id: two\n    say: x\n    back: cover\n    by_hand: 10 bolts\n  - id: three\n    say: x\n    tight: bolts\n", nil},
		{"loose, off, by hand, tight", "    loosen: bolts\n  - id: two\n    say: x\n    off: bolts\n  - id: three\n    say: x\n    by_hand: bolts\n  - id: four\n    say: x\n    tight: bolts\n", nil},
		{"case, article and plural", "    off: The Cover Bolts\n  - id: two\n    say: x\n    back: cover bolt\n", nil},
		{"counted in and out", "    stuff: 2 rags\n  - id: two\n    say: x\n    stuff: 1 rag\n  - id: three\n    say: x\n    out: 1 rag\n  - id: four\n    say: x\n    out: 2 rags\n", nil},
		{"a size is no count", "    plug: 10 mm plug\n  - id: two\n    say: x\n    out: 10 mm plug\n", nil},
		{"every other pair", "    disconnect: hose\n    open: tap\n    drain: coolant\n    support: stands\n    plug: port\n  - id: two\n    say: x\n    connect: hose\n    shut: tap\n    fill: coolant\n    clear: stands\n    out: port\n", nil},
		{"stays off", "    off: cover\n", []string{
			"14:10: question: step one leaves \"cover\" off to the end of the job. Put it under `back` in the step that puts it right, unless the job ends so."}},
		{"stays in", "    stuff: 4 rags\n  - id: two\n    say: x\n    out: 3 rags\n", []string{
			"14:12: step one leaves \"1 rag\" stuffed to the end of the job. Put it under `out` in the step that puts it right."}},
		{"stays supported", "    support: stand\n", []string{
			"14:14: step one leaves \"stand\" supported to the end of the job. Put it under `clear` in the step that puts it right."}},
		{"stays finger-tight", "    by_hand: bolts\n", []string{
			"14:14: step one leaves \"bolts\" finger-tight to the end of the job. Put it under `tight` in the step that puts it right."}},
		{"never went off", "    back: cover\n", []string{
			"14:11: step one: \"cover\" under `back`, but it is not off at this step. Name it the same under `off` in an earlier step, or take it out here."}},
		{"tight but never loose", "    tight: [nut, bolts]\n", []string{
			"14:13: step one: \"nut\" under `tight`, but it is not loose or finger-tight at this step. Name it the same under `loosen` or `by_hand` in an earlier step, or take it out here.",
			"14:18: step one: \"bolts\" under `tight`, but it is not loose or finger-tight at this step. Name it the same under `loosen` or `by_hand` in an earlier step, or take it out here."}},
		{"back twice", "    off: cover\n  - id: two\n    say: x\n    back: cover\n  - id: three\n    say: x\n    back: cover\n", []string{
			"20:11: question: step three: \"cover\" under `back`, but it is not off at this step. Is it put right twice?"}},
		{"more out than in", "    stuff: 2 rags\n  - id: two\n    say: x\n    out: 3 rags\n", []string{
			"17:10: question: step two: 3 rags under `out`, but only 2 left there. Is it put right twice?"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := checked(t, c.lines); !slices.Equal(got, c.want) {
				t.Errorf("mistakes\n\t%s\nwant\n\t%s", strings.Join(got, "\n\t"), strings.Join(c.want, "\n\t"))
			}
		})
	}
}

func TestCheck_torque(t *testing.T) {
	for _, c := range []struct{ name, entries, want string }{
		{"usual", "{fastener: M6×1.0 8.8 cover bolt, value: 10 N·m}", ""},
		{"usual in feet", "{fastener: M6 8.8 bolt, value: 7 lbf·ft}", ""},
		{"low on purpose", "{fastener: M14×1.5 8.8 drain plug, value: 25 N·m}", ""},
		{"no class", "{fastener: M6 bolt, value: 25 N·m}", ""},
		{"no thread", "{fastener: cover bolt, value: 500 N·m}", ""},
		{"past proof", "{fastener: M6×1.0 8.8 cover bolt, value: 25 N·m}",
			"question: 25 N·m takes a dry M6 bolt of class 8.8 past its proof load, which it meets at about 14 N·m."},
		{"stretched by design", "{fastener: M6×1.0 8.8 cover bolt, value: 25 N·m, angle: 90, new: true}", ""},
		{"let be used again", "{fastener: M6×1.0 8.8 cover bolt, value: 8 N·m, angle: 90, new: false}", ""},
		{"stretched and perhaps used again", "{fastener: head bolt, value: 20 N·m, stages: [full, 90°, 90°]}",
			"question: head bolt is turned 180° further, which stretches it, and nothing says whether it is renewed."},
		{"oiled", "{fastener: M8 10.9 bolt, value: 40 N·m, condition: oiled}",
			"question: 40 N·m takes an oiled M8 bolt of class 10.9 past its proof load, which it meets at about 36.5 N·m."},
		{"dry bears more", "{fastener: M8 10.9 bolt, value: 40 N·m}", ""},
		{"with sealant", "{fastener: M8 10.9 bolt, value: 48 N·m, condition: sealant}", "takes an M8 bolt of class 10.9 with sealant past"},
		{"low for a reason", "{fastener: M14 8.8 spark plug, value: 300 N·m, low: spark plug}", ""},
		{"low does not make it new", "{fastener: head bolt, value: 20 N·m, angle: 90, low: into aluminium}",
			"question: head bolt is turned 90° further, which stretches it, and nothing says whether it is renewed."},
		{"in stages", "{fastener: head bolt, value: 40 N·m, stages: [snug, half, full]}", ""},
		{"a stage too far", "{fastener: head bolt, value: 40 N·m, stages: [20 N·m, 45 N·m]}",
			"question: stage 2 of head bolt is 45 N·m, more than the full 40 N·m. Which of them is right?"},
		{"falling", "{fastener: head bolt, value: 40 N·m, stages: [30 N·m, half, full]}",
			"question: stage 2 of head bolt falls from 30 N·m to 20 N·m. Are the stages in order?"},
		{"not to the end", "{fastener: head bolt, value: 40 N·m, stages: [snug, half]}",
			"question: the stages of head bolt end at 20 N·m, its full torque is 40 N·m. Is a stage `full` missing?"},
		{"stage in another unit", "{fastener: head bolt, value: 40 N·m, stages: [10 lbf·ft, 20 lbf·ft, full]}",
			"question: stage 1 of head bolt is in lbf·ft, its full torque in N·m. Is that on purpose?"},
		{"stronger class", "{fastener: M8-10.9 bolt, value: 45 N·m}", ""},
		{"inches for feet", "{fastener: M8×1.25 8.8 bolt, value: 16 lbf·in}",
			"question: 16 lbf·in is far from usual for M8×1.25 8.8 bolt. Should it be 16 lbf·ft?"},
		{"feet for inches", "{fastener: M6 bolt, value: 84 lbf·ft}",
			"question: 84 lbf·ft is far from usual for M6 bolt. Should it be 84 lbf·in?"},
		{"low for a reason, in inches", "{fastener: M8×1.25 8.8 bolt, value: 16 lbf·in, low: into aluminium}", ""},
		{"low before an angle", "{fastener: M10 10.9 head bolt, value: 48 lbf·in, angle: 180, new: true}", ""},
		{"a reason to be low, and too high", "{fastener: M6 bolt, value: 84 lbf·ft, low: into aluminium}", "Should it be 84 lbf·in?"},
		{"an angle, and too high", "{fastener: M6 bolt, value: 84 lbf·ft, angle: 90, new: true}", "Should it be 84 lbf·in?"},
		{"mixed units", "{fastener: nut, value: 10 N·m}, {fastener: stud, value: 7 lbf·ft}",
			"question: step one has torques in N·m and in lbf·ft. Is that on purpose?"},
		{"twelve apart", "{fastener: cover bolt, value: 7 lbf·ft}, {fastener: cover bolts, value: 84 lbf·ft}",
			"question: cover bolts has 84 lbf·ft here and 7 lbf·ft earlier, twelve times apart. Is one of them in inches?"},
		{"the lower has its reason", "{fastener: axle nut, value: 20 lbf·ft}, {fastener: axle nut, value: 20.0 lbf·ft}, {fastener: axle nut, value: 1.7 lbf·ft, low: bearing preload}", ""},
		{"the lower has its angle", "{fastener: head bolt, value: 10 N·m, angle: 120, new: true}, {fastener: head bolt, value: 120 N·m}", ""},
		{"only the higher has a reason", "{fastener: axle nut, value: 1.7 lbf·ft}, {fastener: axle nut, value: 20 lbf·ft, low: bearing preload}", "twelve times apart"},
		{"both have the same reason", "{fastener: plug, value: 20 lbf·ft, low: spark plug}, {fastener: plug, value: 240 lbf·ft, low: spark plug}", "twelve times apart"},
		{"another with its reason between", "{fastener: nut, value: 84 lbf·ft}, {fastener: nut, value: 30 lbf·ft, low: bearing preload}, {fastener: nut, value: 7 lbf·ft}", "84 lbf·ft earlier, twelve times apart"},
		{"same in inches", "{fastener: cover bolt, value: 84 lbf·in}, {fastener: cover bolts, value: 84 lbf·in}", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, mistakes := procedures.Load("job.yaml", []byte(small+"    torque: ["+c.entries+"]\n"))
			if p == nil {
				t.Fatalf("refused: %v", mistakes)
			}
			if c.want == "" {
				if len(mistakes) > 0 {
					t.Errorf("mistakes %v, want none", mistakes)
				}
				return
			}
			if len(mistakes) != 1 || !strings.Contains(mistakes[0].String(), c.want) {
				t.Errorf("mistakes %v, want one with %q", mistakes, c.want)
			}
		})
	}
}

// The ledger is what the narrator recites when somebody comes back to a job.
func TestLedger_Items(t *testing.T) {
	var ledger procedures.Ledger
	steps := []procedures.Step{
		{ID: "a", Off: []string{"cover"}, Loosen: []string{"10 bolts"}},
		{ID: "b", Stuff: []string{"4 rags"}, Off: []string{"10 bolts"}},
		{ID: "c", Out: []string{"3 rags"}, Back: []string{"cover"}},
	}
	for i := range steps {
		if slips := ledger.Do(i, &steps[i]); len(slips) > 0 {
			t.Fatalf("step %d: %+v", i, slips)
		}
	}
	var got []string
	for _, item := range ledger.Items() {
		got = append(got, item.String()+" "+item.Kind.State)
	}
	if want := []string{"10 bolts off", "1 rag stuffed"}; !slices.Equal(got, want) {
		t.Errorf("left are %q, want %q", got, want)
	}
}
