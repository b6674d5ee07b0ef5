package narrator_test

import (
	"maps"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// vocabulary is everything that the ears may decide on, talk included.
func vocabulary() []string {
	return append([]string{""}, procedures.TrainedPhrases()...)
}

// wanted are the words that get the job on: the answers that count just now, else those that raise something.
func wanted(b *narrator.Bay) []string {
	always := procedures.InGroup(procedures.Always)
	var words []string
	for _, w := range b.Live() {
		if !slices.Contains(always, procedures.Command(w)) {
			words = append(words, w)
		}
	}
	switch j := b.Job(); {
	case b.Dialogue.Question.Kind == narrator.NoQuestion && j != nil && j.Wants() != "":
		return []string{string(j.Wants())}
	case len(words) > 0:
		return words
	case j != nil && j.Held() != nil:
		return []string{"carry on"}
	}
	return []string{"next", "next", "next", "next", "next", "reading", "also found", "tools back", "finish job", "start timer", "torque"}
}

// day plays random words, silences and restarts on a plain job or on one in which everything occurs, and calls check after each
// input. Words that get the job on come more often than all others together.
func day(t *rapid.T, check func(r *rig, seconds float64)) {
	file := rapid.SampledFrom([]string{threeSteps, everything, everything}).Draw(t, "file")
	r := newRigOn(t, file, func(s *narrator.Settings) { s.Technicians = []string{"Ines", "Marek", "Tove"} })
	words := vocabulary()
	r.take(narrator.Sending{Joined: rapid.Bool().Draw(t, "joined"), Reached: true})
	seconds := 700.0 // what the maker wants waited for is over
	for range rapid.IntRange(10, 80).Draw(t, "inputs") {
		seconds += float64(rapid.IntRange(1, 40).Draw(t, "pause")) * []float64{0.25, 1, 60}[rapid.IntRange(0, 2).Draw(t, "unit")]
		switch rapid.IntRange(0, 29).Draw(t, "input") {
		case 29:
			if r.jobs < 3 {
				r.open(seconds)
			}
		case 28:
			changeBay(t, r, seconds)
			r.take(narrator.Woke{At: at(seconds), Alive: at(seconds - 5)})
		case 26, 27:
			if r.bay.Dialogue.Recording {
				r.take(narrator.NoteEnded{At: at(seconds), From: at(seconds - 1), Length: narrator.Second, File: "memos/x.wav"})
				r.spoken(seconds + 1)
			}
		case 24, 25:
			verdict := rapid.SampledFrom([]narrator.Verdict{narrator.NotYetHeard, narrator.HearsWell, narrator.HearsPoorly, narrator.IsDeaf}).Draw(t, "verdict")
			r.take(narrator.Reception{At: at(seconds), Verdict: verdict, Floor: -40, Speech: -30, SNR: 10})
			r.spoken(seconds + 1)
		case 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18:
			if r.bay.Dialogue.Recording {
				r.take(narrator.NoteEnded{At: at(seconds), From: at(seconds - 1), Length: narrator.Second, File: "memos/x.wav"})
				r.spoken(seconds + 1)
			} else {
				r.hear(seconds, rapid.SampledFrom(wanted(r.bay)).Draw(t, "wanted"), true)
			}
			seconds++
		default:
			r.hear(seconds, rapid.SampledFrom(words).Draw(t, "word"), rapid.IntRange(0, 5).Draw(t, "sure") > 0)
			seconds++
		}
		check(r, seconds)
	}
}

// changeBay hands a job over, has it come back, or has it lost; the bay has one job or several.
func changeBay(t *rapid.T, r *rig, seconds float64) {
	jobs := slices.Sorted(maps.Keys(r.bay.Jobs))
	id := rapid.SampledFrom(jobs).Draw(t, "job")
	j := r.bay.Jobs[id]
	_, gone := j.Elsewhere()
	switch rapid.IntRange(0, 5).Draw(t, "bay") {
	case 0:
		r.take(narrator.HandOver{At: at(seconds), Job: id, To: "pit"})
	case 1:
		r.take(narrator.Lost{At: at(seconds), Job: id, By: "pit", Took: at(seconds - 5)})
	default:
		if gone {
			r.take(narrator.Claimed{At: at(seconds), Job: id, Log: j.Log(), Bay: "pit", Here: "lift-2", Technician: "Ines"})
		}
	}
	r.spoken(seconds + 1)
}

func TestEverySecondIsExactlyOneThing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day(t, func(r *rig, seconds float64) {
			for _, j := range r.bay.Jobs {
				now := at(seconds)
				line := j.Timeline(now)
				sum := narrator.Sum(line)
				end := now
				if !j.Open() {
					end = j.End
				}
				if sum.Elapsed != end.Since(j.Start) || sum.Worked+sum.Paused+sum.Unsure+sum.Gap != sum.Elapsed {
					t.Fatalf("job %s: %+v of %v", j.ID, sum, end.Since(j.Start))
				}
				at := j.Start
				for _, s := range line {
					if s.From != at || s.To <= s.From {
						t.Fatalf("hole or overlap at %v in %+v", at, line)
					}
					at = s.To
				}
			}
		})
	})
}

func TestReplayGivesTheSameBay(t *testing.T) {
	seen := map[narrator.Kind]int{}
	rapid.Check(t, func(t *rapid.T) {
		day(t, func(r *rig, _ float64) {
			for _, e := range r.last.Events {
				seen[e.Kind]++
			}
			if rapid.IntRange(0, 9).Draw(t, "replay") > 0 {
				return
			}
			logs := map[string][]narrator.Event{}
			var own []narrator.Event
			for _, e := range r.log {
				if e.Job == "" {
					own = append(own, e)
				} else {
					logs[e.Job] = append(logs[e.Job], e)
				}
			}
			var all [][]narrator.Event
			for _, log := range logs {
				all = append(all, log)
			}
			again, err := narrator.Restore(r.bay.Settings, own, all...)
			if err != nil {
				t.Fatal(err)
			}
			again.Dialogue = r.bay.Dialogue
			if !reflect.DeepEqual(facts(again), facts(r.bay)) {
				t.Fatalf("replayed %+v\nwas %+v", facts(again), facts(r.bay))
			}
		})
	})
	t.Logf("replayed: %v", seen)
}

func TestDecideChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day(t, func(r *rig, seconds float64) {
			if rapid.IntRange(0, 4).Draw(t, "decide") > 0 {
				return
			}
			before := facts(r.bay)
			for _, w := range vocabulary() {
				narrator.Decide(r.bay, narrator.Heard{Word: w, From: at(seconds), To: at(seconds + 1), At: at(seconds + 1), Sure: true})
			}
			if after := facts(r.bay); !reflect.DeepEqual(before, after) {
				t.Fatalf("was %+v\nis %+v", before, after)
			}
		})
	})
}

// Undo right after a word gives the state from before the word, but for the words heard and the time.
func TestUndoIsExact(t *testing.T) {
	undone := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		over := false
		day(t, func(r *rig, seconds float64) {
			if over || r.bay.Job() == nil || !r.bay.Listening || r.bay.Dialogue.Recording || r.bay.Dialogue.Question.Kind != narrator.NoQuestion {
				return
			}
			word := rapid.SampledFrom([]string{"next", "previous step", "hold the job", "carry on", "torque", "leaving it for tonight",
				"start timer", "stands set", "lift locked", "power down", "all clear", "wheels tight", "pressure off", "engine held"}).Draw(t, "undone")
			r.hear(seconds+1, "stop", true) // so that the silence before is asked about already
			if due := r.bay.Due(); due != 0 && due <= at(seconds+5) || r.bay.Job() == nil || r.bay.Dialogue.Question.Kind != narrator.NoQuestion {
				return
			}
			before := facts(r.bay)
			r.hear(seconds+2, word, true)
			changed := slices.ContainsFunc(r.last.Events, func(e narrator.Event) bool {
				return e.Kind != narrator.Word && e.Kind != narrator.Unsure
			})
			if !changed {
				return
			}
			r.hear(seconds+4, "undo that", true)
			if after := facts(r.bay); !reflect.DeepEqual(before, after) {
				t.Fatalf("%s, then undo: was %+v\nis %+v", word, before, after)
			}
			undone[word]++
			over = true // one undo a day
		})
	})
	t.Logf("undone: %v", undone)
}

// jobFacts is a job without its log and without when a word was last heard.
type jobFacts struct {
	Step       int
	Start, End narrator.Moment
	Arrivals   []narrator.Arrival
	Spells     []narrator.Spell
	Crew       []narrator.Shift
	Stays      []narrator.Stay
	Here       bool
	Left       []string
	Decisions  []narrator.Decision
	Timers     []narrator.Timer
	Measured   []narrator.Measurement
	Findings   []narrator.Finding
	Sighted    bool
	Return     int
	Wants      procedures.Command
	Gates      []narrator.Gate
}

type bayFacts struct {
	Active    string
	Listening bool
	Volume    int
	Jobs      map[string]jobFacts
}

func facts(b *narrator.Bay) bayFacts {
	f := bayFacts{Active: b.Active, Listening: b.Listening, Volume: b.Volume, Jobs: map[string]jobFacts{}}
	for id, j := range b.Jobs {
		jf := jobFacts{Step: j.Step, Start: j.Start, End: j.End, Arrivals: slices.Clone(j.Arrivals), Spells: slices.Clone(j.Spells), Crew: slices.Clone(j.Crew),
			Stays: slices.Clone(j.Stays), Here: j.Here(),
			Decisions: slices.Clone(j.Decisions), Timers: slices.Clone(j.Timers), Measured: slices.Clone(j.Measurements),
			Findings: slices.Clone(j.Findings), Sighted: j.Sighted, Return: j.Return, Wants: j.Wants()}
		for i := range j.Procedure.Steps {
			jf.Gates = append(jf.Gates, j.Gate(i))
		}
		for _, it := range j.Left() {
			jf.Left = append(jf.Left, it.Kind.State+" "+it.String())
		}
		f.Jobs[id] = jf
	}
	return f
}
