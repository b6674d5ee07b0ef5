package pages_test

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/procedures"
)

// morning is when the tests' day begins, evening when it is looked back on.
var (
	morning = time.Date(2000, 1, 3, 8, 0, 0, 0, time.UTC)
	evening = time.Date(2000, 1, 3, 17, 30, 0, 0, time.UTC)
)

// script writes a job's log. Times are minutes from its start; every event is an act of its own.
type script struct {
	t     testing.TB
	start time.Time
	p     *procedures.Procedure
	log   []narrator.Event
	job   string
}

// bundled is read once, as reading takes a while; nobody changes it.
var bundled = sync.OnceValue(procedures.Bundled)

// begun opens a job on a bundled procedure, at its first step.
func begun(t testing.TB, job string, start time.Time, procedure string, d narrator.Detail) *script {
	t.Helper()
	all := bundled()
	i := slices.IndexFunc(all, func(p *procedures.Procedure) bool { return p.ID == procedure })
	if i < 0 {
		t.Fatalf("no procedure %s is bundled", procedure)
	}
	p := all[i]
	s := &script{t: t, start: start, p: p, job: job}
	d.Procedure, d.Text = p.Name(), p.Text()
	s.then(0, narrator.Opened, d)
	return s.arrive(0, 1)
}

func (s *script) at(minutes float64) narrator.Moment {
	return narrator.MomentOf(s.start).Add(narrator.Minutes(minutes))
}

func (s *script) then(minutes float64, kind narrator.Kind, d narrator.Detail) *script {
	seq := int64(len(s.log)) + 1
	s.log = append(s.log, narrator.Event{Job: s.job, Seq: seq, Act: seq, At: s.at(minutes), Noted: s.at(minutes), Kind: kind, Detail: d})
	return s
}

// arrive comes to a step by its number.
func (s *script) arrive(minutes float64, step int) *script {
	return s.then(minutes, narrator.Arrived, narrator.Detail{Step: s.p.Steps[step-1].ID})
}

// steps goes from a step to another, so many minutes each.
func (s *script) steps(minutes float64, from, to int, each float64) *script {
	for n := from; n <= to; n++ {
		s.arrive(minutes+each*float64(n-from), n)
	}
	return s
}

func (s *script) held(from, to float64, reason string) *script {
	return s.then(from, narrator.Held, narrator.Detail{Reason: reason}).then(to, narrator.Resumed, narrator.Detail{})
}

// tightened goes round a tightening of the step at hand, stage by stage, as its order has it; short of so many at the end.
func (s *script) tightened(minutes float64, step, short int) *script {
	of := &s.p.Steps[step-1]
	for _, t := range of.Torque {
		seq := t.Order.Sequence(t.Count)
		if seq == nil {
			seq = procedures.AsListed.Sequence(t.Count)
		}
		s.then(minutes, narrator.Called, narrator.Detail{Step: of.ID, Fastener: t.Fastener, Value: t.Value.String(), NewtonMetres: t.Value.NewtonMetres()})
		for i, round := range t.Rounds() {
			for k, n := range seq {
				if i == len(t.Rounds())-1 && k >= len(seq)-short {
					break
				}
				minutes += 0.1
				d := narrator.Detail{Step: of.ID, Fastener: t.Fastener, Number: n, Stage: i + 1, Wrench: "half-inch"}
				if round.Angle == 0 && round.Name != "snug" {
					d.Value, d.NewtonMetres = round.Value.String(), round.Value.NewtonMetres()
				}
				s.then(minutes, narrator.Tightened, d)
			}
		}
	}
	return s
}

func (s *script) memo(minutes float64, file string, seconds int, finding int) *script {
	return s.then(minutes, narrator.Recorded, narrator.Detail{File: file, From: s.at(minutes - float64(seconds)/60), Length: narrator.Span(seconds) * narrator.Second, Finding: finding})
}

// keep writes the logs into a store, and a recording for every note into a folder.
func keep(t testing.TB, all ...*script) (*journal.Memory, string) {
	t.Helper()
	store, data := &journal.Memory{}, t.TempDir()
	for _, s := range all {
		if err := store.Append(t.Context(), s.log); err != nil {
			t.Fatal(err)
		}
		for _, e := range s.log {
			if e.Kind == narrator.Recorded {
				hum(t, filepath.Join(data, e.File), int(e.Length.Seconds()))
			}
		}
	}
	if err := store.Beat(t.Context(), narrator.MomentOf(evening)); err != nil {
		t.Fatal(err)
	}
	return store, data
}

// hum writes a WAV file of a quiet tone.
func hum(t testing.TB, path string, seconds int) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	n := 2 * 16000 * seconds
	data := append([]byte("RIFF"), binary.LittleEndian.AppendUint32(nil, uint32(36+n))...)
	data = append(data, "WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x80\x3e\x00\x00\x00\x7d\x00\x00\x02\x00\x10\x00data"...)
	data = binary.LittleEndian.AppendUint32(data, uint32(n))
	for i := range n / 2 {
		data = binary.LittleEndian.AppendUint16(data, uint16(int16(2000*math.Sin(float64(i)/20))))
	}
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

// day is a bay's day with something of everything: brakes with a finding and a reading out of its limits; a valve cover left overnight and
// taken up again; a job that stands open after the program was down; and one that was spoken without a procedure.
func day(t testing.TB) []*script {
	t.Helper()
	brakes := begun(t, "2000-01-03-1", morning, "front-brakes", narrator.Detail{Order: "R 20417", Odometer: "88 412 km", Technician: "Ines"})
	brakes.steps(2, 2, 12, 2.6).held(34, 52, "parts").arrive(55, 13)
	brakes.then(56, narrator.Measured, narrator.Detail{Step: "left-thickness", Reading: "left disc thickness", Amount: "19.6", Unit: "mm", Judged: "worn"})
	brakes.then(57, narrator.Found, narrator.Detail{Finding: 1, Step: "left-thickness", Reading: "left disc thickness"})
	brakes.memo(57.4, "memos/2000-01-03-1-1.wav", 12, 1)
	brakes.then(58, narrator.Asked, narrator.Detail{Finding: 1}).held(58, 71, "approval").then(71, narrator.Ruled, narrator.Detail{Finding: 1, On: true, By: "Mara"})
	brakes.steps(73, 14, 22, 3.1).then(84, narrator.Joined, narrator.Detail{Technician: "Tomas"}).then(96, narrator.Left, narrator.Detail{Technician: "Tomas"})
	brakes.then(101, narrator.Measured, narrator.Detail{Step: "right-thickness", Reading: "right disc thickness", Amount: "21.97", Unit: "mm", Judged: "inside"})
	brakes.steps(102, 23, len(brakes.p.Steps)-4, 2.4)
	last := 102 + 2.4*float64(len(brakes.p.Steps)-26)
	for i := range brakes.p.Steps {
		if n := len(brakes.p.Steps[i].Torque); n > 0 && i < len(brakes.p.Steps)-4 {
			brakes.tightened(102+2.4*float64(i-22)+0.4, i+1, 0)
		}
	}
	brakes.memo(last, "memos/2000-01-03-1-2.wav", 20, 0)
	brakes.steps(last+2, len(brakes.p.Steps)-3, len(brakes.p.Steps), 4)
	for field, value := range map[string]string{"complaint": "Squeals when braking from the motorway", "cause": "Left disc below its wear limit, pads down to the plates",
		"correction": "Both front discs, pads and hoses renewed; road-tested", "odometer out": "88 418 km"} {
		brakes.then(last+18, narrator.Entered, narrator.Detail{Field: field, Value: value})
	}
	brakes.then(last+18, narrator.Finished, narrator.Detail{})

	cover := begun(t, "2000-01-02-1", morning.Add(-16*time.Hour), "valve-cover", narrator.Detail{Technician: "Tomas", JobKind: "comeback", Earlier: "1999-12-20-2"})
	cover.steps(3, 2, 7, 5).held(36, 36+14*60, "end of shift").steps(36+14*60+3, 8, len(cover.p.Steps), 6)
	for i := range cover.p.Steps {
		if len(cover.p.Steps[i].Torque) > 0 {
			cover.tightened(36+14*60+3+6*float64(i-7)+1, i+1, 2)
		}
	}
	cover.then(36+14*60+60, narrator.Finished, narrator.Detail{})

	pump := begun(t, "2000-01-03-2", morning.Add(5*time.Hour), "water-pump", narrator.Detail{Order: "R 20420", Technician: "Tomas"})
	pump.steps(4, 2, 6, 7).then(70, narrator.Gap, narrator.Detail{From: pump.at(45)}).then(90, narrator.Unsure, narrator.Detail{From: pump.at(76)})
	pump.steps(91, 7, 9, 11)

	spoken := begun(t, "2000-01-03-3", morning.Add(3*time.Hour), "valve-cover", narrator.Detail{Technician: "Ines"})
	draft := procedures.Draft{Title: "Renew the heater tap", Machine: "Ostwick Pony 1.1", Steps: []procedures.DraftStep{{Step: procedures.Step{Say: "Say new step, and what it is."}}}}
	text := string(draft.YAML())
	spoken.log[0].Detail = narrator.Detail{Procedure: "dictated", Text: text, Technician: "Ines", Part: "job"}
	p, _ := procedures.Load("dictated", []byte(text))
	spoken.p, spoken.log[1].Detail.Step = p, p.Steps[0].ID
	spoken.then(1, narrator.Dictated, narrator.Detail{Part: "step", Number: 1}).then(1.5, narrator.Recorded, narrator.Detail{File: "memos/2000-01-03-3-1.wav",
		From: spoken.at(1.1), Length: 6 * narrator.Second, Part: "step", Number: 1})
	spoken.then(6, narrator.Dictated, narrator.Detail{Part: "off", Number: 1}).then(14, narrator.Dictated, narrator.Detail{Part: "step", Number: 2})
	spoken.then(22, narrator.Dictated, narrator.Detail{Part: "torque", Value: "25 N·m", NewtonMetres: 25}).then(25, narrator.Dictated, narrator.Detail{Part: "on", Number: 1})
	spoken.then(31, narrator.Finished, narrator.Detail{})
	return []*script{brakes, cover, pump, spoken}
}

// months is a shop's history: so many jobs of one procedure by three technicians, with times that spread, a comeback and an odd long step.
func months(jobs int) func(testing.TB) []*script {
	return func(t testing.TB) []*script {
		t.Helper()
		draw := rand.New(rand.NewPCG(1, 2))
		names := []string{"Ines", "Tomas", "Mara"}
		var all []*script
		for n := range jobs {
			start := time.Date(1999, 5, 3, 8, 0, 0, 0, time.UTC).Add(time.Duration(n) * 7 * 24 * time.Hour / 2)
			d := narrator.Detail{Technician: names[n%3], Order: fmt.Sprintf("R %d", 20100+n)}
			if n%13 == 9 {
				d.JobKind, d.Earlier = "comeback", all[n-2].job
			}
			s := begun(t, start.Format("2006-01-02")+"-1", start, "valve-cover", d)
			at := 0.0
			for i := range s.p.Steps {
				minutes, _ := s.p.ExpectedMinutes(i)
				if i > 0 {
					s.arrive(at, i+1)
				}
				took := minutes * math.Exp(0.3*draw.NormFloat64()-0.1) * math.Pow(1+float64(n)/3, -0.08)
				if draw.IntN(40) == 0 {
					s.held(at+took/2, at+took/2+9, "parts")
					took += 9 + 2.5*minutes
				}
				at += took
			}
			all = append(all, s.then(at, narrator.Finished, narrator.Detail{}))
		}
		return all
	}
}
