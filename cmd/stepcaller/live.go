package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/pages"
	"stepcaller/speech"
)

// retry is how often a lost device is looked for.
const retry = time.Second

// Order is what a terminal asks of a session that runs: inputs, one after the other. Their moment is that of the session.
type Order struct {
	Inputs func(ctx context.Context, at narrator.Moment) ([]narrator.Input, error)
	Reply  chan error
}

// clock reads job time off CLOCK_BOOTTIME, which counts through standby and never jumps. The wall clock is read once a boot of the machine:
// a later start of the program goes on from the first one's reading.
type clock struct {
	wall narrator.Moment
	boot time.Duration
}

// newClock begins a session in the journal and reads its clocks.
func newClock(ctx context.Context, store journal.Store) (clock, error) {
	since := speech.Boottime()
	id, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return clock{}, fmt.Errorf("clock: %w", err)
	}
	last, err := store.LastSession(ctx)
	if err != nil {
		return clock{}, err
	}
	boot := strings.TrimSpace(string(id))
	wall, same := last.Reckon(boot, since)
	if !same {
		wall = narrator.MomentOf(time.Now())
	}
	return clock{wall: wall, boot: since}, store.Begin(ctx, journal.Session{Boot: boot, SinceBoot: since, Opened: wall})
}

func (c clock) at(boot time.Duration) narrator.Moment {
	return c.wall.Add(narrator.SpanOf(boot - c.boot))
}

func (c clock) now() narrator.Moment { return c.at(speech.Boottime()) }

// live is a bay at its microphone and loudspeaker.
type live struct {
	config Config
	out    io.Writer
	// first is what begins the work: a job started or taken up; nil to go on where the journal stands.
	first func(ctx context.Context, s *Session, at narrator.Moment) ([]narrator.Input, error)
	// stay keeps listening when no job is open any more.
	stay bool
}

// run listens and speaks until ctx ends or, unless it stays, no job is open any more. A lost device is looked for until it is back.
func (l live) run(ctx context.Context) error {
	settings, err := l.config.settings()
	if err != nil {
		return err
	}
	log := l.config.logger()
	host := speech.NewHost(log)
	defer host.Close()
	line := newLiveLine(l.out)
	if line != nil {
		l.out = line
		defer line.end()
	}
	watch := l.config.watcher(newTerminal(l.out, time.Time{}))
	system := newSupervisor()
	defer context.AfterFunc(ctx, system.stopping)()
	player := speech.NewPlayer()
	s, done, err := assemble(ctx, l.config, settings, l.config.Data, player, watch, false)
	if err != nil {
		return err
	}
	defer func() {
		if err := done(); err != nil {
			watch.Trouble(err)
		}
	}()
	clock, err := newClock(ctx, s.Store)
	if err != nil {
		return err
	}
	if err := l.wake(ctx, s, clock); err != nil {
		return err
	}
	orders, stop, err := serveOrders(l.config.Data, s.Store)
	if err != nil {
		return err
	}
	defer stop()
	s.Metrics = newMetrics()
	if s.Shop != nil {
		s.Metrics.unsent(s.Shop.unsent)
	}
	s.Store = timed{s.Store, s.Metrics}
	hub := pages.NewHub()
	defer showPages(ctx, l.config, hub, s.Metrics, l.out)()
	s.Screen = newScreen(hub, s.Words)
	s.Screen.line = line

	s.Alive = func() { system.alive(func() string { return statusOf(s.Bay) }) }
	log.Info("started", "data", l.config.Data, "version", version)
	defer log.Info("stopped")

	begun := false
	for {
		err := l.listen(ctx, s, host, clock, orders, &begun)
		switch {
		case ctx.Err() != nil, errors.Is(err, errNoJobLeft):
			return nil
		case errors.Is(err, speech.ErrDeviceLost), begun && errors.Is(err, speech.ErrNoDevice):
			watch.Trouble(fmt.Errorf("%w; plug it in again, the job waits", err))
		default:
			return err
		}
		if err := l.wait(ctx, host, orders, s, clock, system); err != nil {
			return nil
		}
		log.Info("the sound is back")
	}
}

var errNoJobLeft = errors.New("no job is open any more")

// wake closes the time since the program last ran: nothing was heard in it.
func (l live) wake(ctx context.Context, s *Session, clock clock) error {
	alive, err := s.Store.LastBeat(ctx)
	if err != nil {
		return err
	}
	at := clock.now()
	s.Origin = at
	if err := recoverNotes(ctx, s); err != nil {
		s.Watch.Trouble(err)
	}
	return s.take(ctx, narrator.Woke{At: at, Alive: alive, Quiet: l.first != nil})
}

// listen opens the devices and runs the session on them.
func (l live) listen(ctx context.Context, s *Session, host *speech.Host, clock clock, orders <-chan Order, begun *bool) error {
	mic, err := host.OpenMicrophone(speech.DeviceConfig{Name: l.config.Microphone})
	if err != nil {
		return err
	}
	defer mic.Close()
	sink, err := host.OpenSpeaker(speech.DeviceConfig{Name: l.config.Loudspeaker}, s.Player)
	if err != nil {
		return err
	}
	defer sink.Close()
	s.Source, s.Sink = mic, sink
	first, err := mic.Read()
	if err != nil {
		return fmt.Errorf("listening: %w", err)
	}
	s.Origin = clock.at(mic.Anchor())
	s.Ears.Reset()
	if err := s.step(ctx, first); err != nil {
		return err
	}
	if !*begun {
		*begun = true
		if l.first != nil {
			in, err := l.first(ctx, s, s.Now())
			if err != nil {
				return err
			}
			for _, in := range in {
				if err := s.take(ctx, in); err != nil {
					return err
				}
			}
		}
	}
	s.Quit = func() bool {
		return !l.stay && !s.Shop.pending() && s.Bay.Job() == nil && len(s.Bay.Others()) == 0 && !s.Player.Speaking() && s.Speaker.Idle()
	}
	return s.Run(ctx, orders)
}

// wait sleeps until the devices may be there again. Meanwhile the program runs, and says so to the journal and to terminals.
func (l live) wait(ctx context.Context, host *speech.Host, orders <-chan Order, s *Session, clock clock, system *supervisor) error {
	for {
		system.alive(func() string { return "The microphone or the loudspeaker is gone; looking for it" })
		select {
		case <-ctx.Done():
			return ctx.Err()
		case o := <-orders:
			o.Reply <- errors.New("the microphone or the loudspeaker is gone; the daemon waits for it")
			continue
		case <-time.After(retry):
		}
		if err := s.Store.Beat(ctx, clock.now()); err != nil {
			s.Watch.Trouble(err)
		}
		s.Screen.show(s.Bay, clock.now(), s.Bay.Settings.Tongue.F("The microphone or the loudspeaker is gone"))
		if err := host.Reopen(); err == nil {
			return nil
		}
	}
}

// recoverNotes keeps what was recorded of notes that a crash cut off, and names those that it kept but had no time to name.
func recoverNotes(ctx context.Context, s *Session) error {
	var errs []error
	left, err := s.Notes.Memos.Leftovers()
	errs = append(errs, err)
	for _, memo := range left {
		if _, err := s.Notes.Memos.Keep(memo.Path); err != nil {
			errs = append(errs, err)
		}
	}
	kept, err := s.Notes.Memos.Kept()
	errs = append(errs, err)
	for _, memo := range kept {
		job := s.Bay.Jobs[memo.Job]
		if job == nil || slices.ContainsFunc(job.Memos(), func(m narrator.Memo) bool { return m.File == memo.File }) {
			continue
		}
		errs = append(errs, nameNote(ctx, s, memo))
	}
	return errors.Join(errs...)
}

// nameNote appends the event for a note that has none. When it began is told by its length and by when it was last written.
func nameNote(ctx context.Context, s *Session, memo journal.Memo) error {
	info, err := os.Stat(memo.Path)
	if err != nil {
		return fmt.Errorf("note %s: %w", memo.File, err)
	}
	length, err := speech.MendWAV(memo.Path)
	if err != nil {
		return fmt.Errorf("note %s: %w", memo.File, err)
	}
	return s.take(ctx, narrator.NoteFound{At: s.Now(), Job: memo.Job, From: narrator.MomentOf(info.ModTime()).Add(-narrator.Span(length)),
		Length: narrator.Span(length), File: memo.File})
}
