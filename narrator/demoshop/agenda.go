package demoshop

import (
	"fmt"
	"math/rand/v2"

	"stepcaller/narrator"
	"stepcaller/procedures"
)

// plan is a job that is to be done.
type plan struct {
	procedure  *procedures.Procedure
	technician int // index
	kind       string
	earlier    string // of a comeback
	talk       talk
	pace       float64 // over the expected minutes, all of the job
	run        int     // of this technician on this procedure, from 1
	seed       uint64
	steady     bool // nothing stops it
}

// agenda draws jobs.
type agenda struct {
	library map[string]*procedures.Procedure
	draw    *rand.Rand
	runs    map[string]int // of a technician on a procedure
	n       uint64
}

func newAgenda(draw *rand.Rand) *agenda {
	a := &agenda{library: map[string]*procedures.Procedure{}, draw: draw, runs: map[string]int{}}
	for _, p := range procedures.Bundled() {
		a.library[p.ID] = p
	}
	return a
}

// often is how many of a hundred jobs are on a procedure.
var often = []struct {
	id     string
	weight int
	simple bool // what a learner is given
}{
	{"oil-service", 27, true}, {"front-brakes", 16, true}, {"spark-plugs", 12, true}, {"valve-cover", 9, true}, {"thermostat", 8, false},
	{"compressor-service", 5, false}, {"wheel-bearing", 7, false}, {"water-pump", 5, false}, {"valve-clearance", 3, false}, {"bottom-bracket", 3, true},
	{"timing-belt", 3, false}, {"clutch", 2, false},
}

// next draws a job. finished are those that it may come back from.
func (a *agenda) next(finished []*narrator.Job) plan {
	comeback, back := a.draw.Float64() < 0.025, a.draw.IntN(1<<20)
	learns, roll := a.draw.Float64() < 0.24, a.draw.IntN(100)
	who := a.technician(learns)
	id := often[0].id
	total := 0
	for _, o := range often {
		if !learns || o.simple {
			total += o.weight
		}
	}
	roll = roll * total / 100
	for _, o := range often {
		if learns && !o.simple {
			continue
		}
		if roll < o.weight {
			id = o.id
			break
		}
		roll -= o.weight
	}
	p := a.of(id, who)
	switch kind := a.draw.Float64(); {
	case comeback && len(finished) > 20:
		was := finished[len(finished)-1-back%15]
		if found := a.library[was.Procedure.ID]; found != nil {
			p.procedure, p.kind, p.earlier, p.talk = found, "comeback", was.ID, talk{complaint: "back again: not right since the repair"}
		}
	case kind < 0.09:
		p.kind = "warranty"
	case kind < 0.14:
		p.kind = "internal"
	case kind < 0.165:
		p.kind = "goodwill"
	}
	return p
}

func (a *agenda) technician(learns bool) int {
	n := a.draw.IntN(learner)
	if learns {
		return learner
	}
	return n
}

// of is a job on a procedure for a technician.
func (a *agenda) of(id string, who int) plan {
	a.n++
	key := fmt.Sprint(id, who)
	a.runs[key]++
	all := talks[id]
	p := plan{procedure: a.library[id], technician: who, run: a.runs[key], seed: a.n, pace: spread(a.draw, 0.07)}
	if n := a.draw.IntN(len(all) + 1); n < len(all) {
		p.talk = all[n]
	}
	return p
}
