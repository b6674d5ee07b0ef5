package labour_test

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
)

// A job that changed bay says who worked where; the time between is a pause, and all of it adds up.
func TestWhoWorkedWhere(t *testing.T) {
	s := opened(pump, "Ines").held(100, "parts", 160).arrived(400, "belt")
	s.then(500, narrator.Handed, narrator.Detail{})
	s.then(800, narrator.TakenOver, narrator.Detail{Bay: "lift-2", To: "lift-3", Technician: "Marek"})
	s.arrived(1000, "pump")
	s.then(1400, narrator.TakenOver, narrator.Detail{Bay: "lift-3", To: "pit", On: true, Technician: "Tove"}) // the last that is known is from 1000
	sheet := labour.Of(s.finished(2000).job(t), at(99_999))
	seconds := func(s labour.Seconds) *labour.Seconds { return &s }
	want := []labour.Bay{{Bay: "lift-2", From: 0, To: seconds(500), Worked: 440}, {Bay: "lift-3", From: 800, To: seconds(1000), Worked: 200}, {Bay: "pit", From: 1400, To: seconds(2000), Worked: 600}}
	if !reflect.DeepEqual(sheet.Bays, want) {
		t.Errorf("bays %+v", sheet.Bays)
	}
	if sheet.Elapsed != 2000 || sheet.Worked != 1240 || sheet.Paused != 760 || sheet.Unsure != 0 || sheet.Gap != 0 || sheet.PersonWorked != 1240 {
		t.Errorf("times %v worked %v paused %v unsure %v gap %v together %v", sheet.Elapsed, sheet.Worked, sheet.Paused, sheet.Unsure, sheet.Gap, sheet.PersonWorked)
	}
	if p := sheet.PausesByReason[0]; p.Reason != "handover" || p.Paused != 700 || p.Times != 2 {
		t.Errorf("pauses %+v", sheet.PausesByReason)
	}
	var out strings.Builder
	if err := labour.WriteTable(&out, sheet); err != nil || !strings.Contains(out.String(), "  bay lift-3 worked 3:20\n") {
		t.Errorf("%v: %s", err, &out)
	}
	text, err := json.Marshal(labour.Of(opened(pump, "Ines").finished(20).job(t), at(20)))
	if err != nil || strings.Contains(string(text), `"bays"`) {
		t.Errorf("%v: a job that stayed has bays: %s", err, text)
	}
}
