package courier

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// Shop is what a bay asks of its shop. It knows which bay asks. Jobs go by their ids in the shop ([InShop]). Every method may be called from any
// goroutine, and called again after an error: what was done already is not done twice.
type Shop interface {
	// Bay returns the names of the bay and the shop.
	Bay(ctx context.Context) (bay, shop string, err error)

	// Arrived returns the mark up to which all events of this bay's journal have arrived, and the [Print] of the event at that mark; zero and ""
	// where none has. A journal that has another event there, or none, was put back from a backup: it goes on under a new id.
	Arrived(ctx context.Context, journalID string) (mark journal.Mark, last string, err error)

	// Send takes a batch: all of it or nothing. Events at or before the mark that has arrived are passed over. A batch that would leave a hole in
	// the journal or in a job is a [HoleError].
	//
	// An event goes into the latest tenure of this bay in its job. The first event of a job that the bay began, and of the bay's own log, opens
	// that; a job in which the bay has no tenure is [ErrNotOwner]. A tenure that another bay ended by force goes on taking events: they are its side
	// story. An event under a seq that the tenure's story has already is passed over where it is that event: equal to the byte where this bay
	// wrote it, [Same] where another did and this bay has it from the shop. Else, and beyond a release, it is a [ConflictError].
	Send(ctx context.Context, b Batch) error

	// Told notes how much a bay has still to send, and that it is there.
	Told(ctx context.Context, rest Rest) error

	// Release gives a job up, after its last event, to a bay, or to any with "". Until that event has arrived it is [ErrNotArrived]; where another
	// bay has taken the job it is [ErrNotOwner]. A seq of a tenure of this bay that has ended is no error: that is how it ended. Where more has
	// arrived than seq the bay has gone on, and nothing happens. A bay that the shop has not is [ErrNoSuchBay].
	Release(ctx context.Context, job string, seq int64, to string) error

	// Offers lists the jobs that this bay may claim, and those that it has claimed and not written in, in case the answer was lost; with all also
	// those that other bays have or that were released to others; by their last events, the latest first. Finished jobs and the logs of bays are
	// not among them.
	Offers(ctx context.Context, all bool) ([]Offer, error)

	// Claim makes this bay the owner of a job that was released to it or to any, and returns all events of its main story, in the form of the shop.
	// Where the bay has it already the answer is the same. With force it is taken from whoever has it, at what has arrived; without, a job that
	// another bay has is [ErrNotOwner].
	Claim(ctx context.Context, job string, force bool) ([]narrator.Event, error)

	// Branch opens one more tenure of this bay in a job in which it had one, after a seq of its story: what arrived beyond it stays as a side story.
	// A bay that has the job, or gave it up to nobody who came, has it from then on; where another bay has it the new story is a side story.
	Branch(ctx context.Context, job string, after int64) error

	// Lost lists the jobs that others took from this bay by force, and that it has not had since.
	Lost(ctx context.Context) ([]Loss, error)

	// Await returns when offers, losses or files may have changed since this Shop was opened or Await last returned, at times without cause, and
	// with the context's error when that ends. One goroutine waits.
	Await(ctx context.Context) error

	// Close gives up the connection. Every later call is an error.
	Close() error

	Files
}

// Files are what goes to the shop and comes from it besides events: by kind and name, in pieces, so that a cut costs one piece.
type Files interface {
	// Has returns how many bytes of a file have arrived, and whether that is all. The sum is SHA-256 of the whole, in hexadecimal.
	Has(ctx context.Context, kind FileKind, name, sum string) (bytes int64, whole bool, err error)

	// Put appends a piece at an offset: one that has arrived already is passed over, one that leaves a hole is [ErrNotArrived]. With the last
	// piece, which is empty for a file of no bytes, the sum is checked ([ErrDamaged] throws what arrived away). A memo of a job in which the bay
	// has no tenure is [ErrNotOwner].
	//
	// With its last piece, also where that has arrived already, a procedure's or voice's version becomes the current one if its parent is the
	// current one, or if there is none and its parent is "". Else it is kept beside the current one: two were edited at once.
	Put(ctx context.Context, f File, offset int64, piece []byte) error

	// Files lists the whole files of a kind that this bay may read: memos that it sent and those of the jobs that it has or may claim, all current
	// procedures, the current voices of those who agreed; by name.
	Files(ctx context.Context, kind FileKind) ([]File, error)

	// Get reads a piece of a whole file, current or not, at most size bytes; none at its end. A file that is not there, or that this bay may not
	// read, is [ErrNoSuchFile].
	Get(ctx context.Context, kind FileKind, name, sum string, offset int64, size int) ([]byte, error)

	// Withdraw removes the files of a voice, by the technician's name; its owner no longer agrees.
	Withdraw(ctx context.Context, technician string) error
}

// FileKind says what a file is.
type FileKind string

// The kinds of file.
const (
	Memo      FileKind = "memo"      // named as in narrator.Detail.File, in the form of the shop
	Procedure FileKind = "procedure" // named by the procedure's id; versions differ by their sums
	Voice     FileKind = "voice"     // a technician's name, a slash, a file's name
)

// File is one version of a file.
type File struct {
	Kind   FileKind
	Name   string
	Sum    string // SHA-256 of the whole, hexadecimal
	Size   int64
	Parent string // of a procedure: sum of the version that was edited, "" for none
	Bay    string // that sent it
}

// Batch is some events of a bay's journal, in its order.
type Batch struct {
	Journal string           // a random id of the journal, made when the bay joined
	After   journal.Mark     // the mark before the first event: that of the event before it, 0 for none
	Events  []journal.Marked // as the bay names its jobs
}

// Print tells whether an event of a journal is another: SHA-256 of all of it, in hexadecimal. The job is as the bay names it.
func Print(e journal.Marked) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%q %d %d %d %d %q %q", e.Job, e.Seq, e.Act, e.At, e.Noted, e.Kind, e.Raw))
	return hex.EncodeToString(sum[:])
}

// Same reports whether an event that a bay has from the shop is the one in the shop. Details are not looked at: a bay names ids in them in its own
// way, and an older program keeps only those that it knows.
func Same(a, b narrator.Event) bool {
	return a.Seq == b.Seq && a.Act == b.Act && a.At == b.At && a.Noted == b.Noted && a.Kind == b.Kind
}

// Rest is how much has still to be sent.
type Rest struct {
	Events, Jobs, Notes int
}

// Offer is a job that may be taken over.
type Offer struct {
	Job       string // id in the shop
	Bay       string // that has it, or had it; this bay where it has claimed it already
	To        string // whom it was released to, "" for any
	Released  bool   // otherwise, and where it was released to another bay, only force takes it
	Procedure string // as named when the job began
	Order     string
	Seq       int64           // of its last event that has arrived
	At        narrator.Moment // of that event
	Title     string          // of its procedure; this and what follows is told of jobs that this bay may claim, see Describe
	Machine   string          // "" for none
	Step      int             // number of the step at which the job stands; 0 where it has no procedure
}

// Describe fills in what a person wants to know before taking the job on, from its log up to Seq. A log that does not fold leaves it as it was.
func (o *Offer) Describe(log []narrator.Event) {
	log = slices.Clone(log)
	for i := range log {
		log[i].Job = o.Job // each bay has its own name for it
	}
	j, err := narrator.NewJob(log)
	if err != nil {
		return
	}
	o.Title, o.Machine = j.Procedure.Title, j.Procedure.Machine
	if j.Dictation == nil {
		o.Step = j.Step + 1
	}
}

// Loss is a job that was taken by force.
type Loss struct {
	Job   string          // id in the shop
	By    string          // bay
	After int64           // seq of the last event that both stories share
	At    narrator.Moment // by the shop's clock
}

// What can be wrong between a bay and its shop, for errors.Is. The errors returned add where, and what to do.
var (
	ErrNotArrived  = errors.New("not all of it has arrived in the shop")
	ErrNotOwner    = errors.New("another bay has this job")
	ErrNoSuchJob   = errors.New("the shop has no such job")
	ErrNoSuchBay   = errors.New("the shop has no such bay")
	ErrNoSuchFile  = errors.New("the shop has no such file")
	ErrDamaged     = errors.New("what arrived is not what was sent")
	ErrUnreachable = errors.New("the shop cannot be reached")
	ErrRefused     = errors.New("the shop refuses this bay")
)

// HoleError says that events before a batch have not arrived.
type HoleError struct {
	Arrived journal.Mark // the mark up to which all has
}

// Error says that the batch came too early.
func (e *HoleError) Error() string { return "the batch leaves a hole: send what is before it first" }

// ConflictError says that another event has arrived under a job and seq, as when a bay goes on from a backup.
type ConflictError struct {
	Job string // id in the shop
	Seq int64
}

// Error names the job.
func (e *ConflictError) Error() string {
	return "job " + e.Job + " has another story in the shop; both are kept"
}
