package courier

import (
	"context"
	"errors"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// Shop is what a bay asks of its shop. It knows which bay asks. Jobs go by their ids in the shop ([InShop]). Every method may be called from any
// goroutine, and called again after an error: what was done already is not done twice.
type Shop interface {
	// Bay returns the names of the bay and the shop.
	Bay(ctx context.Context) (bay, shop string, err error)

	// Arrived returns the mark up to which all events of a journal have arrived, zero where none has.
	Arrived(ctx context.Context, journalID string) (journal.Mark, error)

	// Send takes a batch: all of it or nothing. Events at or before the mark that has arrived are passed over. A batch that would leave a hole is
	// a [HoleError]; one that tells another story than what has arrived under the same job and seq is a [ConflictError].
	Send(ctx context.Context, b Batch) error

	// Told notes how much a bay has still to send, and that it is there.
	Told(ctx context.Context, rest Rest) error

	// Release gives a job up, after its last event, to a bay, or to any with "". Until that event has arrived it is [ErrNotArrived].
	Release(ctx context.Context, job string, seq int64, to string) error

	// Offers lists the jobs that this bay may claim, and with all also those that other bays have, the latest first.
	Offers(ctx context.Context, all bool) ([]Offer, error)

	// Claim makes this bay the owner of a job that was released to it, and returns all its events, in the form of the shop. Where the bay has
	// it already the answer is the same. With force it is taken from whoever has it, at what has arrived.
	Claim(ctx context.Context, job string, force bool) ([]narrator.Event, error)

	// Branch opens another story of a job that this bay owns, after a seq: what arrived beyond it stays as a side story.
	Branch(ctx context.Context, job string, after int64) error

	// Lost lists the jobs that this bay had and others took by force.
	Lost(ctx context.Context) ([]Loss, error)

	Files
}

// Files are what goes to the shop and comes from it besides events: by kind and name, in pieces, so that a cut costs one piece.
type Files interface {
	// Has returns how many bytes of a file have arrived, and whether that is all. The sum is SHA-256 of the whole, in hexadecimal.
	Has(ctx context.Context, kind FileKind, name, sum string) (bytes int64, whole bool, err error)

	// Put appends a piece at an offset: one that has arrived already is passed over, one that leaves a hole is [ErrNotArrived]. With the last
	// piece the sum is checked ([ErrDamaged] throws what arrived away).
	Put(ctx context.Context, f File, offset int64, piece []byte) error

	// Files lists the whole files of a kind that this bay may read: memos of the jobs it owns or may claim, all current procedures, voices of
	// those who agreed.
	Files(ctx context.Context, kind FileKind) ([]File, error)

	// Get reads a piece of a whole file, at most size bytes.
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

// Rest is how much has still to be sent.
type Rest struct {
	Events, Jobs, Notes int
}

// Offer is a job that may be taken over.
type Offer struct {
	Job       string // id in the shop
	Bay       string // that has it, or had it
	To        string // whom it was released to, "" for any
	Released  bool   // otherwise only force takes it
	Procedure string // as named when the job began
	Order     string
	Seq       int64 // of its last event that has arrived
	At        narrator.Moment
}

// Loss is a job that was taken by force.
type Loss struct {
	Job   string // id in the shop
	By    string // bay
	After int64  // seq of the last event that both stories share
	At    narrator.Moment
}

// What can be wrong between a bay and its shop, for errors.Is. The errors returned add where, and what to do.
var (
	ErrNotArrived  = errors.New("not all of it has arrived in the shop")
	ErrNotOwner    = errors.New("another bay has this job")
	ErrNoSuchJob   = errors.New("the shop has no such job")
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
