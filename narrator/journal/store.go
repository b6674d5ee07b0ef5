package journal

import (
	"context"
	"time"

	"stepcaller/narrator"
)

// Store is where events are kept. It is small so that a database shared by a whole shop can serve it as well.
//
// Every method may be called from any goroutine. Where one returns an error it has changed nothing.
type Store interface {
	// Append makes events durable, all or none. Within one job they must continue at the next Seq, else the error is a
	// [SequenceError]; different jobs may be mixed. No events is no error.
	Append(ctx context.Context, events []narrator.Event) error

	// Log returns all events of a job in order of Seq. The bay itself, job "", may have none; any other job without events
	// is [ErrNoJob].
	Log(ctx context.Context, job string) ([]narrator.Event, error)

	// Jobs lists the jobs that pass the filter, newest first.
	Jobs(ctx context.Context, filter Filter) ([]Entry, error)

	// Changed lists the jobs that got events after a mark, in the order of their latest ones, so that what was worked out from logs
	// can be kept up to date. Zero is the mark before all events.
	Changed(ctx context.Context, after Mark) ([]Change, error)

	// Since returns the events that became durable after a mark, the bay's among them, in that order, at most limit of them.
	Since(ctx context.Context, after Mark, limit int) ([]Marked, error)

	// NextJob returns the id for a job that begins on a day: its date and its number on that day, "2000-01-01-1". The day
	// is taken in the time's own zone. The id is not reserved: it is taken by the first event that carries it.
	NextJob(ctx context.Context, day time.Time) (string, error)

	// Beat notes that the program ran at a moment. The latest beats may be lost by a power cut, not by a killed process.
	Beat(ctx context.Context, at narrator.Moment) error

	// LastBeat returns the latest moment at which the program is known to have run, zero when there was none.
	LastBeat(ctx context.Context) (narrator.Moment, error)

	// Begin notes durably that the program has started to run.
	Begin(ctx context.Context, s Session) error

	// LastSession returns what was noted by the latest Begin, the zero Session when there was none.
	LastSession(ctx context.Context) (Session, error)

	// Close gives up the store. Every later call is an error.
	Close() error
}

// Mark is a place in the order in which events became durable, for one store. It is never given out twice.
type Mark int64

// Change is a job that got events.
type Change struct {
	Job  string
	Mark Mark // of its latest event
}

// Marked is an event at its place in the order in which events became durable.
type Marked struct {
	Mark Mark
	narrator.Event
	Raw string // its Detail byte for byte as it is stored, JSON
}

// Session is one run of the program, from its start. A session knows three clocks, so that the gap to a later start of the
// same boot can be measured although somebody has set the wall clock meanwhile.
type Session struct {
	Boot      string          // the kernel's boot id
	SinceBoot time.Duration   // CLOCK_BOOTTIME at the start; it counts standby as well
	Opened    narrator.Moment // wall time at the start
}

// Reckon tells what moment a later reading of CLOCK_BOOTTIME is by this session's clock. It is false when the machine has
// been started anew since, or was not asked: then only the wall clock is left to go by.
func (s Session) Reckon(boot string, sinceBoot time.Duration) (narrator.Moment, bool) {
	if s.Boot == "" || s.Boot != boot || sinceBoot < s.SinceBoot {
		return 0, false
	}
	return s.Opened.Add(narrator.SpanOf(sinceBoot - s.SinceBoot)), true
}
