package postgres

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

// shopConnections are enough for the readers of a server of pages.
const shopConnections = 8

// Shop is one shop as its pages and its owner read it: all jobs of all bays, by their ids in the shop. It implements [journal.Store] for reading; what would write is
// [ErrReader]. All methods may be called from any goroutine.
type Shop struct {
	db   *database
	want string // name, "" for the only one

	mu   sync.Mutex
	id   int32
	name string // "" until the shop was asked
}

var _ journal.Store = (*Shop)(nil)

// OpenShop opens a shop by the address that its administrator gave to pages or an owner, by its name or, with "", the only one that the address leads to. Like [OpenBay]
// it does not wait for the network.
func OpenShop(address, name string) (*Shop, error) {
	db, err := open(address, shopConnections, nil)
	if err != nil {
		return nil, err
	}
	return &Shop{db: db, want: name}, nil
}

// Names lists the shops that an address of pages or an owner leads to, in order.
func Names(ctx context.Context, address string) ([]string, error) {
	s, err := OpenShop(address, "")
	if err != nil {
		return nil, err
	}
	defer s.db.Close()
	names, err := s.names(ctx)
	return names, s.db.fault("ask", err)
}

func (s *Shop) names(ctx context.Context) ([]string, error) {
	rows, err := s.db.Query(ctx, `SELECT name FROM stepcaller.shop ORDER BY name`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[string])
}

// which finds out, once, which shop is meant.
func (s *Shop) which(ctx context.Context) (int32, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.name != "" {
		return s.id, nil
	}
	name := s.want
	if name == "" {
		names, err := s.names(ctx)
		if err != nil {
			return 0, s.db.fault("ask", err)
		}
		if len(names) != 1 {
			return 0, s.db.fault("ask", fmt.Errorf("%w: the address leads to %d; name one of %q", ErrNoShop, len(names), names))
		}
		name = names[0]
	}
	err := s.db.QueryRow(ctx, `SELECT shop FROM stepcaller.shop WHERE name = $1`, name).Scan(&s.id)
	if errors.Is(err, pgx.ErrNoRows) {
		err = fmt.Errorf("%w: %q, or the address does not lead to it; ask its administrator", ErrNoShop, name)
	}
	if err == nil {
		s.name = name
	}
	return s.id, s.db.fault("ask", err)
}

// Name returns the name of the shop.
func (s *Shop) Name(ctx context.Context) (string, error) {
	_, err := s.which(ctx)
	return s.name, err
}

// Log implements [journal.Store]: the main story, by the shop's ids throughout. A bay's own log is that of "@" and its name; the shop itself, job "", has none.
func (s *Shop) Log(ctx context.Context, job string) ([]narrator.Event, error) {
	id, err := s.which(ctx)
	if err != nil || job == "" {
		return nil, err
	}
	rows, err := s.db.events(ctx, eventsOf+`stepcaller.story($1, $2, (stepcaller.main($1, $2)).term)`, id, job)
	if err != nil {
		return nil, s.db.fault("read", err)
	}
	if len(rows) == 0 {
		return nil, journal.NoJob(job)
	}
	return inShop(rows), nil
}

// inShop is events by the shop's ids.
func inShop(rows []row) []narrator.Event {
	log := make([]narrator.Event, len(rows))
	for i, r := range rows {
		log[i] = r.inShop()
	}
	return log
}

// Jobs implements [journal.Store].
func (s *Shop) Jobs(ctx context.Context, filter journal.Filter) ([]journal.Entry, error) {
	id, err := s.which(ctx)
	if err != nil {
		return nil, err
	}
	entries, err := s.db.entries(ctx, entriesOf+`stepcaller.job WHERE shop = $1 AND job NOT LIKE '@%' AND ended >= $2 AND ended <= $3`,
		id, leastEnd(filter.State), greatestEnd(filter.State))
	return journal.List(entries, filter), s.db.fault("read", err)
}

// leastEnd and greatestEnd are between which a job's end is in a state; that of an open one is 0.
func leastEnd(s journal.State) int64 {
	if s == journal.FinishedJobs {
		return 1
	}
	return -1 << 63
}

func greatestEnd(s journal.State) int64 {
	if s == journal.OpenJobs || s == journal.JobsHere {
		return 0
	}
	return 1<<63 - 1
}

// Changed implements [journal.Store].
func (s *Shop) Changed(ctx context.Context, after journal.Mark) ([]journal.Change, error) {
	id, err := s.which(ctx)
	if err != nil {
		return nil, err
	}
	changes, err := s.db.changes(ctx, `SELECT job, mark FROM stepcaller.job WHERE shop = $1 AND mark > $2 AND job NOT LIKE '@%' ORDER BY mark`, id, after)
	return changes, s.db.fault("read", err)
}

// Since implements [journal.Store]: of all stories. Raw is as the bay wrote it.
func (s *Shop) Since(ctx context.Context, after journal.Mark, limit int) ([]journal.Marked, error) {
	id, err := s.which(ctx)
	if err != nil {
		return nil, err
	}
	rows, err := s.db.events(ctx, eventsOf+`stepcaller.event WHERE shop = $1 AND mark > $2 ORDER BY mark LIMIT $3`, id, after, limit)
	marked := make([]journal.Marked, len(rows))
	for i, r := range rows {
		marked[i] = journal.Marked{Mark: r.mark, Event: r.inShop(), Raw: r.raw}
	}
	return marked, s.db.fault("read", err)
}

// LastBeat implements [journal.Store]: when the shop heard from any of its bays.
func (s *Shop) LastBeat(ctx context.Context) (at narrator.Moment, err error) {
	id, err := s.which(ctx)
	if err != nil {
		return 0, err
	}
	err = s.db.QueryRow(ctx, `SELECT coalesce(max(greatest(beat, extract(epoch FROM heard)::bigint * 16000)), 0) FROM stepcaller.bay WHERE shop = $1`, id).Scan(&at)
	return at, s.db.fault("read", err)
}

// LastSession implements [journal.Store]: the shop itself has none.
func (s *Shop) LastSession(ctx context.Context) (journal.Session, error) {
	_, err := s.which(ctx)
	return journal.Session{}, err
}

// Append implements [journal.Store]. It is refused, as all that writes.
func (s *Shop) Append(context.Context, []narrator.Event) error { return s.refuse() }

// Beat implements [journal.Store].
func (s *Shop) Beat(context.Context, narrator.Moment) error { return s.refuse() }

// Begin implements [journal.Store].
func (s *Shop) Begin(context.Context, journal.Session) error { return s.refuse() }

// NextJob implements [journal.Store]. Jobs begin in a bay.
func (s *Shop) NextJob(context.Context, time.Time) (string, error) { return "", s.refuse() }

func (s *Shop) refuse() error {
	return s.db.fault("write to", fmt.Errorf("%w; what is written about a job is written at the bay that has it", ErrReader))
}

// Close implements [journal.Store].
func (s *Shop) Close() error {
	s.db.Close()
	return nil
}

// CheckToken reports whether a token is the one that was issued to a technician of the shop.
func (s *Shop) CheckToken(ctx context.Context, technician, token string) (ok bool, err error) {
	id, err := s.which(ctx)
	if err != nil {
		return false, err
	}
	err = s.db.QueryRow(ctx, `SELECT stepcaller.check_token($1, $2, $3)`, id, technician, tokenSum(token)).Scan(&ok)
	return ok, s.db.fault("ask", err)
}

// Files lists the whole files of a kind, all versions of them, by name. Voices are told to bays alone.
func (s *Shop) Files(ctx context.Context, kind courier.FileKind) ([]courier.File, error) {
	id, err := s.which(ctx)
	if err != nil {
		return nil, err
	}
	return s.db.files(ctx, `stepcaller.file WHERE shop = $1 AND kind = $2 AND whole ORDER BY name, sum`, id, kind)
}

// Memo reads a spoken note whole, by its name in the shop (narrator.Detail.File of an event from here). Until it has arrived it is [courier.ErrNoSuchFile].
func (s *Shop) Memo(ctx context.Context, name string) (sound []byte, err error) {
	id, err := s.which(ctx)
	if err != nil {
		return nil, err
	}
	var sum string
	err = s.db.QueryRow(ctx, `SELECT min(sum), coalesce(string_agg(bytes, '' ORDER BY start), '') FROM stepcaller.file LEFT JOIN stepcaller.piece USING (shop, kind, name, sum)
		WHERE shop = $1 AND kind = 'memo' AND name = $2 AND whole GROUP BY sum ORDER BY sum LIMIT 1`, id, name).Scan(&sum, &sound)
	if errors.Is(err, pgx.ErrNoRows) {
		err = fmt.Errorf("%w yet: memo %s; it comes when its bay has sent it", courier.ErrNoSuchFile, name)
	}
	return sound, s.db.fault("fetch from", err)
}
