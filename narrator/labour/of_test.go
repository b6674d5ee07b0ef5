package labour_test

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
)

// wholeJob has something of everything. By hand:
//
//	drain  0..400 worked, but paused for parts 100..160
//	belt   400..1000, the phone from 900 on told afterwards
//	pump   1000..1500, the phone until 1100
//	belt   1500..1560, gone back
//	pump   1560..1800, the program down 1600..1630, unsure 1700..1760
//	fill   1800..2160, no pause
func wholeJob() *script {
	s := opened(pump, "Ines").held(100, "parts", 160).arrived(400, "belt")
	s.then(420, narrator.Joined, narrator.Detail{Technician: "Marek"})
	s.arrived(1000, "pump").away(900, 1100, "phone")
	s.then(1200, narrator.Left, narrator.Detail{Technician: "Marek"})
	s.then(1300, narrator.Called, narrator.Detail{Step: "pump", Fastener: "housing bolts", Value: "7 lbf·ft", NewtonMetres: 9.4907256383198})
	s.then(1400, narrator.Recorded, narrator.Detail{File: "memos/2000-01-01-1-1.wav", From: at(1380.5), Length: 12 * narrator.Second})
	s.arrived(1500, "belt").arrived(1560, "pump")
	s.then(1630, narrator.Gap, narrator.Detail{From: at(1600)})
	s.then(1760, narrator.Unsure, narrator.Detail{From: at(1700)})
	s.then(1770, narrator.Hearing, narrator.Detail{Floor: -61.5})
	s.then(1780, narrator.Hearing, narrator.Detail{Verdict: narrator.HearsPoorly, Cause: narrator.CauseNoise, Floor: -33, Speech: -30.5, SNR: 2.5})
	return s.arrived(1800, "fill").finished(2160)
}

func TestTheWholeSheet(t *testing.T) {
	seconds := func(s labour.Seconds) *labour.Seconds { return &s }
	got := labour.Of(wholeJob().job(t), at(99_999))
	// Worked: drain 340 + belt 500 + 60 + pump 400 + 240 - 30 - 60 + fill 360 = 1 810 s = 0.5028 h.
	// Book: 0.5 + 0.2 - 0.1 = 0.6 h = 2 160 s. Efficiency: 2 160 / 1 810 = 1.193.
	efficiency, level, snr := 1.193, -30.5, 2.5
	want := labour.Sheet{
		Schema: 1, Job: "2000-01-01-1", Procedure: "water-pump", State: labour.Finished,
		BookHours: 0.6, Elapsed: 2160, Worked: 1810, Paused: 260, Unsure: 60, Gap: 30,
		Steps: []labour.Step{
			{ID: "drain", Number: 1, Title: "Drain the coolant", Started: 0, Ended: 400, Worked: 340, Paused: 60, Visits: 1,
				Expected: seconds(300), ExpectedFrom: labour.FromFile, Over: seconds(40), Operations: []string{}},
			{ID: "belt", Number: 2, Title: "Take the belt off.", Started: 400, Ended: 1560, Worked: 560, Paused: 100, Visits: 2,
				Expected: seconds(600), ExpectedFrom: labour.FromFile, Over: seconds(-40), Operations: []string{}},
			{ID: "pump", Number: 3, Title: `Swap "the" pump, and its seal`, Started: 1000, Ended: 1800, Worked: 550, Paused: 100, Gap: 30,
				Unsure: 60, Visits: 2, Expected: seconds(450), ExpectedFrom: labour.FromBook, Over: seconds(100), Operations: []string{}},
			{ID: "fill", Number: 4, Title: "Fill it up.", Started: 1800, Ended: 2160, Worked: 360, Visits: 1,
				Expected: seconds(360), ExpectedFrom: labour.FromFile, Over: seconds(0), Operations: []string{}},
		},
		Torques: []labour.Torque{{Step: "pump", Fastener: "housing bolts", Value: 9.4907256383198, At: 1300}},
		Pauses:  []labour.Pause{{Reason: "parts", From: 100, To: 160}, {Reason: "phone", From: 900, To: 1100}},
		Memos:   []labour.Memo{{File: "memos/2000-01-01-1-1.wav", At: 1380.5, Length: 12}},
		Order:   "R 4711", Odometer: "84 210 km",
		// Marek: 420..900 and 1100..1200.
		Technicians:    []labour.Technician{{Name: "Ines", Worked: 1810}, {Name: "Marek", Worked: 580}},
		PersonWorked:   2390,
		Operations:     []labour.Operation{{Code: "0410", Title: "Water pump", Hours: 0.5, Shared: 1810}, {Code: "0415", Title: "Drain and fill", Hours: 0.2, Shared: 1810}},
		OverlapHours:   0.1,
		WorkedTenths:   5,
		WorkedHours:    0.5,
		Efficiency:     &efficiency,
		PausesByReason: []labour.Standstill{{Reason: "phone", Paused: 200, Times: 1}, {Reason: "parts", Paused: 60, Times: 1}},
		LongestOver:    []string{"pump", "drain"},
		Timeline: []labour.Stretch{
			{Step: 1, From: 0, To: 100, What: "worked"}, {Step: 1, From: 100, To: 160, What: "paused", Reason: "parts"}, {Step: 1, From: 160, To: 400, What: "worked"},
			{Step: 2, From: 400, To: 900, What: "worked"}, {Step: 2, From: 900, To: 1000, What: "paused", Reason: "phone"},
			{Step: 3, From: 1000, To: 1100, What: "paused", Reason: "phone"}, {Step: 3, From: 1100, To: 1500, What: "worked"},
			{Step: 2, From: 1500, To: 1560, What: "worked"},
			{Step: 3, From: 1560, To: 1600, What: "worked"}, {Step: 3, From: 1600, To: 1630, What: "gap"}, {Step: 3, From: 1630, To: 1700, What: "worked"},
			{Step: 3, From: 1700, To: 1760, What: "unsure"}, {Step: 3, From: 1760, To: 1800, What: "worked"},
			{Step: 4, From: 1800, To: 2160, What: "worked"},
		},
		StartedAt: dawn.Time(),
		Record: labour.Record{Kind: "customer", Facts: []labour.Fact{}, Tightenings: []labour.Tightening{}, Readings: []labour.Reading{},
			Findings: []labour.Finding{}, Timers: []labour.Timer{}, Choices: []labour.Choice{}, Answers: []labour.Answer{}, PutRight: []labour.PutRight{},
			Open: []labour.Item{}, Dictated: []labour.Dictated{}, Parts: []labour.Part{}, Tools: labour.Tools{Taken: []string{}}},
		Corrections: []labour.Correction{}, Remarks: []labour.Remark{},
		Hearing: []labour.Hearing{{At: 1770, Floor: -61.5}, {At: 1780, Verdict: "poor", Cause: "noise", Floor: -33, Speech: &level, SNR: &snr}},
	}
	a, b := reflect.ValueOf(got), reflect.ValueOf(want)
	for i := range a.NumField() {
		if !reflect.DeepEqual(a.Field(i).Interface(), b.Field(i).Interface()) {
			t.Errorf("%s = %+v\nwant %+v", a.Type().Field(i).Name, a.Field(i), b.Field(i))
		}
	}
}

func TestPauses(t *testing.T) {
	check := func(name string, s *script, want string) {
		t.Run(name, func(t *testing.T) {
			sheet := labour.Of(s.job(t), at(1000))
			if got := strings.Trim(fmt.Sprint(sheet.Pauses), "[]"); got != want {
				t.Errorf("pauses are %s, want %s", got, want)
			}
		})
	}
	check("none", opened(pump, ""), "")
	check("no reason given", opened(pump, "").held(100, "", 160), "{unstated 100 160}")
	check("a reason told later", opened(pump, "").held(100, "", 160).then(170, narrator.Because, narrator.Detail{Ref: 3, Reason: "customer"}),
		"{customer 100 160}")
	check("it lasts", opened(pump, "").then(900, narrator.Held, narrator.Detail{Reason: "parts"}), "{parts 900 1000}")
	check("across a step it is one", opened(pump, "").arrived(150, "belt").away(100, 200, "break"), "{break 100 200}")
	check("neighbours of one reason are one", opened(pump, "").held(100, "parts", 160).held(160, "parts", 200), "{parts 100 200}")
	check("neighbours of two reasons are two", opened(pump, "").held(100, "parts", 160).held(160, "phone", 200),
		"{parts 100 160} {phone 160 200}")
	check("of two that overlap the later counts", opened(pump, "").held(100, "customer", 200).away(150, 300, "parts"),
		"{customer 100 150} {parts 150 300}")
	check("a gap does not cut a pause", opened(pump, "").held(100, "parts", 300).then(400, narrator.Gap, narrator.Detail{From: at(200)}),
		"{parts 100 300}")
	check("unsure time is none", opened(pump, "").then(400, narrator.Unsure, narrator.Detail{From: at(200)}), "")
	check("unless somebody says so", opened(pump, "").then(400, narrator.Unsure, narrator.Detail{From: at(200)}).
		then(410, narrator.Settled, narrator.Detail{Ref: 3, Reason: "break"}), "{break 200 400}")
	check("one taken back is none", opened(pump, "").away(100, 200, "parts").undo(), "")
}

func TestTechnicians(t *testing.T) {
	check := func(name string, s *script, want string, person labour.Seconds) {
		t.Run(name, func(t *testing.T) {
			sheet := labour.Of(s.job(t), at(800))
			if got := strings.Trim(fmt.Sprint(sheet.Technicians), "[]"); got != want || sheet.PersonWorked != person {
				t.Errorf("technicians are %s, together %v, want %s, %v", got, sheet.PersonWorked, want, person)
			}
		})
	}
	marek := narrator.Detail{Technician: "Marek"}
	second := func() *script { return opened(pump, "Ines").then(300, narrator.Joined, marek) }
	check("nobody named", opened(pump, ""), "", 0)
	check("one alone works all of it", opened(pump, "Ines"), "{Ines 800}", 800)
	check("a pause is nobody's", opened(pump, "Ines").held(100, "parts", 200), "{Ines 700}", 700)
	check("a second joins and leaves", second().then(500, narrator.Left, marek), "{Ines 800} {Marek 200}", 1000)
	check("and comes back", second().then(500, narrator.Left, marek).then(700, narrator.Joined, marek), "{Ines 800} {Marek 300}", 1100)
	check("joining twice counts once", second().then(500, narrator.Joined, marek), "{Ines 800} {Marek 500}", 1300)
	check("joining that was taken back", second().undo(), "{Ines 800}", 800)
}

// Tenths: 0.1 h is 6 min, half up; efficiency is book hours over hours worked (both common practice). The book is 0.6 h.
func TestAgainstTheBook(t *testing.T) {
	check := func(worked float64, tenths int64, hours float64, efficiency string) {
		t.Helper()
		sheet := labour.Of(opened(pump, "").then(worked, narrator.Held, narrator.Detail{}).job(t), at(100_000))
		got := "none"
		if sheet.Efficiency != nil {
			got = fmt.Sprint(*sheet.Efficiency)
		}
		if sheet.WorkedTenths != tenths || sheet.WorkedHours != hours || got != efficiency || sheet.BookHours != 0.6 {
			t.Errorf("%v s: %d tenths, %v h, efficiency %s of %v h, want %d, %v, %s", worked, sheet.WorkedTenths, sheet.WorkedHours,
				got, sheet.BookHours, tenths, hours, efficiency)
		}
	}
	check(0, 0, 0, "none")
	check(179.9999375, 0, 0, "12")              // one sample short of half a tenth
	check(180, 1, 0.1, "12")                    // 3 min round up
	check(360, 1, 0.1, "6")                     // 6 min are 0.1 h
	check(539.9375, 1, 0.1, "4")                //
	check(540, 2, 0.2, "4")                     // 9 min round up
	check(2160, 6, 0.6, "1")                    // as the book has it
	check(1440, 4, 0.4, "1.5")                  // 0.6 / 0.4
	check(4680, 13, 1.3, "0.462")               // 0.6 / 1.3 = 0.4615...
	check(1.0/narrator.Rate, 0, 0, "3.456e+07") // 2 160 s over 1 sample
}

func TestTimesAreRoundedOnce(t *testing.T) {
	for samples, want := range map[narrator.Moment]labour.Seconds{0: 0, 7: 0, 8: 0.001, 16: 0.001, 23: 0.001, 24: 0.002, 16_000: 1, 1_600_007: 100} {
		if got := labour.Of(opened(pump, "").job(t), dawn+samples).Elapsed; got != want {
			t.Errorf("%d samples are %v s, want %v", samples, got, want)
		}
	}
	// Three steps of 8 samples each are 0.0005 s each and 0.0015 s together: the sum is rounded, not summed from rounded parts.
	s := opened(pump, "")
	for i, step := range []string{"belt", "pump"} {
		s.arrived(float64(i+1)*8/narrator.Rate, step)
	}
	sheet := labour.Of(s.job(t), dawn+24)
	if sheet.Worked != 0.002 || sheet.Steps[0].Worked != 0.001 || sheet.Steps[2].Worked != 0.001 {
		t.Errorf("together %v, steps %+v", sheet.Worked, sheet.Steps)
	}
}

func TestAnOpenJobEndsNow(t *testing.T) {
	j := opened(pump, "Ines").arrived(200, "belt").job(t)
	sheet := labour.Of(j, at(260))
	if last := sheet.Steps[1]; sheet.State != labour.Open || sheet.Elapsed != 260 || last.Started != 200 || last.Ended != 260 || last.Worked != 60 {
		t.Errorf("the sheet is %+v", sheet)
	}
	if before := labour.Of(j, at(-5)); before.Elapsed != 0 || before.Steps[1].Ended != 0 {
		t.Errorf("before its start: %+v", before)
	}
}

// The belt may take 10 minutes, and three times as long without a word.
func TestLongSilenceIsUnsure(t *testing.T) {
	j := opened(pump, "Ines").arrived(200, "belt").job(t)
	if sheet := labour.Of(j, at(2000)); sheet.Unsure != 0 || sheet.Worked != 2000 {
		t.Errorf("after 30 minutes: worked %v, unsure %v", sheet.Worked, sheet.Unsure)
	}
	if sheet := labour.Of(j, at(2001)); sheet.Unsure != 1801 || sheet.Worked != 200 || sheet.Technicians[0].Worked != 200 {
		t.Errorf("a second later: worked %v, unsure %v", sheet.Worked, sheet.Unsure)
	}
}

func TestWhatWasTakenBackIsShownAsSuch(t *testing.T) {
	s := opened(pump, "").then(100, narrator.Called, narrator.Detail{Step: "drain", Fastener: "plug", NewtonMetres: 24}).undo()
	s.then(120, narrator.Recorded, narrator.Detail{File: "memos/a.wav", From: at(110), Length: narrator.Second}).undo()
	s.arrived(200, "belt").undo()
	sheet := labour.Of(s.job(t), at(300))
	if len(sheet.Torques) != 1 || !sheet.Torques[0].Undone || len(sheet.Memos) != 1 || !sheet.Memos[0].Undone {
		t.Errorf("torques %+v, memos %+v", sheet.Torques, sheet.Memos)
	}
	if len(sheet.Steps) != 1 || sheet.Steps[0].Worked != 300 {
		t.Errorf("steps %+v", sheet.Steps)
	}
}

func TestLongestOverNamesFive(t *testing.T) {
	var text strings.Builder
	text.WriteString("id: p\ntitle: P\nmachine: M\nbook: [{code: a, title: A, hours: 1}]\nsteps:\n  - {id: drain, say: D., minutes: 1}\n")
	for i := range 7 {
		fmt.Fprintf(&text, "  - {id: s%d, say: S., minutes: 1}\n", i)
	}
	s := opened(text.String(), "")
	// drain 60 s, as expected; s0 61 s, s1 63 s, s2 63 s, s3 10 s, s4 65 s, s5 62 s, s6 64 s.
	now := 60.0
	for i, worked := range []float64{61, 63, 63, 10, 65, 62, 64} {
		s.arrived(now, fmt.Sprint("s", i))
		now += worked
	}
	sheet := labour.Of(s.finished(now).job(t), 0)
	if want := []string{"s4", "s6", "s1", "s2", "s5"}; !reflect.DeepEqual(sheet.LongestOver, want) {
		t.Errorf("longest over are %v, want %v", sheet.LongestOver, want)
	}
}

func TestNothingToExpectFrom(t *testing.T) {
	full := strings.Replace(pump, "minutes: 10", "minutes: 25", 1)
	sheet := labour.Of(opened(full, "").arrived(5, "run").finished(500).job(t), 0)
	last := sheet.Steps[1]
	if last.Expected != nil || last.Over != nil || last.ExpectedFrom != labour.NoBasis {
		t.Errorf("the step is %+v", last)
	}
}
