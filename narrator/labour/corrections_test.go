package labour_test

import (
	"reflect"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
)

// correctedJob is the whole job, put right at its end. By hand, worked 1 810 s as heard:
//
//	 80..130   worked: 30 s of the wait for parts were work              +30
//	1590..1640 paused, lift busy: 20 worked, 30 of the program's gap     -20
//	  0..2160  paused, withdrawn                                           0
func correctedJob() *script {
	s := wholeJob()
	correct := func(from, to float64, d narrator.Detail) {
		d.From, d.Technician = at(from), "Ines"
		s.then(to, narrator.Corrected, d)
		s.log[len(s.log)-1].Noted = at(3000.5)
	}
	correct(80, 130, narrator.Detail{Worked: true, Why: "the parts came at once"})
	correct(1590, 1640, narrator.Detail{Reason: "lift busy", Why: "the other car had to come down"})
	correct(0, 2160, narrator.Detail{Reason: "break", Why: "wrong job"})
	s.undo()
	s.then(3600, narrator.Remarked, narrator.Detail{Step: "pump", Value: "The lower bolt is reached from below.", Technician: "Marek"})
	return s.then(3601, narrator.Remarked, narrator.Detail{Value: "New hoses next time.", Technician: "Ines"})
}

func TestTheCorrectedSheet(t *testing.T) {
	got := labour.Of(correctedJob().job(t), 0)
	if got.Elapsed != 2160 || got.Worked != 1820 || got.Paused != 280 || got.Gap != 0 || got.Unsure != 60 {
		t.Errorf("elapsed %v worked %v paused %v gap %v unsure %v", got.Elapsed, got.Worked, got.Paused, got.Gap, got.Unsure)
	}
	made := dawn.Time().Add(3000*time.Second + 500*time.Millisecond)
	want := []labour.Correction{
		{Number: 1, From: 80, To: 130, As: "worked", Why: "the parts came at once", Technician: "Ines", MadeAt: made, Event: 20,
			Was: []labour.Spell{{"worked", "", 80, 100}, {"paused", "parts", 100, 130}}},
		{Number: 2, From: 1590, To: 1640, As: "paused", Reason: "lift busy", Why: "the other car had to come down", Technician: "Ines", MadeAt: made, Event: 21,
			Was: []labour.Spell{{"worked", "", 1590, 1600}, {"gap", "", 1600, 1630}, {"worked", "", 1630, 1640}}},
		{Number: 3, From: 0, To: 2160, As: "paused", Reason: "break", Why: "wrong job", Technician: "Ines", MadeAt: made, Event: 22, Undone: true,
			Was: []labour.Spell{{"worked", "", 0, 100}, {"paused", "parts", 100, 160}, {"worked", "", 160, 900}, {"paused", "phone", 900, 1100},
				{"worked", "", 1100, 1600}, {"gap", "", 1600, 1630}, {"worked", "", 1630, 1700}, {"unsure", "", 1700, 1760}, {"worked", "", 1760, 2160}}},
	}
	if !reflect.DeepEqual(got.Corrections, want) {
		t.Errorf("%+v\nwant %+v", got.Corrections, want)
	}
	if r := got.Remarks; len(r) != 2 || r[0].Step != "pump" || r[0].Technician != "Marek" || r[0].Text != "The lower bolt is reached from below." ||
		r[1].Step != "" || r[1].Number != 2 || !r[1].MadeAt.Equal(dawn.Time().Add(3601*time.Second)) {
		t.Errorf("%+v", r)
	}
}
