package journal

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"stepcaller/narrator"
)

// Memory is a store that is lost with the process, for tests. Its zero value is empty and ready.
type Memory struct {
	mu       sync.Mutex
	logs     map[string][]narrator.Event
	marks    map[string]Mark // of each job's latest event
	order    []Marked        // all events; the one at i has mark i+1
	beat     narrator.Moment
	sessions []Session
	refusal  error
	closed   bool
}

var errClosed = errors.New("the journal is closed; open it again")

// Refuse makes every later write fail with err, as a full disk would; nil ends that.
func (m *Memory) Refuse(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.refusal = err
}

// use runs do under the lock while the store is open.
func (m *Memory) use(ctx context.Context, do func() error) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.closed {
		return errClosed
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return do()
}

func (m *Memory) write(ctx context.Context, do func() error) error {
	return m.use(ctx, func() error {
		if m.refusal != nil {
			return m.refusal
		}
		return do()
	})
}

// Append implements [Store].
func (m *Memory) Append(ctx context.Context, events []narrator.Event) error {
	details, err := encode(events)
	if err != nil {
		return err
	}
	return m.write(ctx, func() error {
		logs := map[string][]narrator.Event{}
		for i, e := range events {
			log, ok := logs[e.Job]
			if !ok {
				log = slices.Clone(m.logs[e.Job])
			}
			if want := int64(len(log)) + 1; e.Seq != want {
				return &SequenceError{Job: e.Job, Seq: e.Seq, Want: want}
			}
			e.Detail = narrator.Detail{}
			if err := decode(details[i], &e); err != nil {
				return err
			}
			logs[e.Job] = append(log, e)
		}
		if m.logs == nil {
			m.logs, m.marks = map[string][]narrator.Event{}, map[string]Mark{}
		}
		for job, log := range logs {
			m.logs[job] = log
		}
		for i, e := range events {
			added := logs[e.Job][e.Seq-1]
			m.order = append(m.order, Marked{Mark: Mark(len(m.order) + 1), Event: added, Raw: details[i]})
			m.marks[e.Job] = Mark(len(m.order))
		}
		return nil
	})
}

// Log implements [Store].
func (m *Memory) Log(ctx context.Context, job string) (log []narrator.Event, err error) {
	err = m.use(ctx, func() error {
		log = slices.Clone(m.logs[job])
		if len(log) == 0 && job != "" {
			return NoJob(job)
		}
		return nil
	})
	return log, err
}

// Jobs implements [Store].
func (m *Memory) Jobs(ctx context.Context, filter Filter) (entries []Entry, err error) {
	err = m.use(ctx, func() error {
		for job, log := range m.logs {
			if job != "" {
				entries = append(entries, entry(job, log, int64(len(log))))
			}
		}
		entries = List(entries, filter)
		return nil
	})
	return entries, err
}

// Changed implements [Store].
func (m *Memory) Changed(ctx context.Context, after Mark) (changes []Change, err error) {
	err = m.use(ctx, func() error {
		for job, mark := range m.marks {
			if job != "" && mark > after {
				changes = append(changes, Change{job, mark})
			}
		}
		slices.SortFunc(changes, func(a, b Change) int { return cmp.Compare(a.Mark, b.Mark) })
		return nil
	})
	return changes, err
}

// Since implements [Store].
func (m *Memory) Since(ctx context.Context, after Mark, limit int) (events []Marked, err error) {
	err = m.use(ctx, func() error {
		from := min(max(int(after), 0), len(m.order))
		events = slices.Clone(m.order[from:min(from+limit, len(m.order))])
		return nil
	})
	return events, err
}

// NextJob implements [Store].
func (m *Memory) NextJob(ctx context.Context, day time.Time) (id string, err error) {
	err = m.use(ctx, func() error {
		var ids []string
		for job := range m.logs {
			ids = append(ids, job)
		}
		id = NextID(day, ids)
		return nil
	})
	return id, err
}

// Beat implements [Store].
func (m *Memory) Beat(ctx context.Context, at narrator.Moment) error {
	return m.write(ctx, func() error { m.beat = at; return nil })
}

// LastBeat implements [Store].
func (m *Memory) LastBeat(ctx context.Context) (at narrator.Moment, err error) {
	err = m.use(ctx, func() error { at = m.beat; return nil })
	return at, err
}

// Begin implements [Store].
func (m *Memory) Begin(ctx context.Context, s Session) error {
	return m.write(ctx, func() error { m.sessions = append(m.sessions, s); return nil })
}

// LastSession implements [Store].
func (m *Memory) LastSession(ctx context.Context) (s Session, err error) {
	err = m.use(ctx, func() error {
		if n := len(m.sessions); n > 0 {
			s = m.sessions[n-1]
		}
		return nil
	})
	return s, err
}

// Close implements [Store].
func (m *Memory) Close() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.closed = true
	return nil
}
