package hearing

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"sync"

	"golang.org/x/sys/unix"

	"stepcaller/speech"
)

// Test is what to measure. It is not changed by being run, and gives the same
// report each time, but for the real-time factor.
type Test struct {
	Engines   []Engine
	Live      []string  // phrases that may be obeyed
	Clips     []Clip    // see [FindClips]
	SNRs      []float64 // dB, besides clean; none without Noise
	Noise     []string  // files: mixed in, and heard alone
	Talk      []string  // files that hold no command
	KeepLevel bool      // leave sound as loud as it is
	Seed      uint64    // of the noise drawn

	// Progress is told how many of all pieces of sound are done, one call at a
	// time; may be nil.
	Progress func(done, all int)
}

// Run measures, on as many goroutines as the machine has processors. A file that
// cannot be used is named in the report and takes no part.
func (t Test) Run(ctx context.Context) (*Report, error) {
	if len(t.Engines) == 0 {
		return nil, errors.New("a test needs an engine")
	}
	if len(t.SNRs) > 0 && len(t.Noise) == 0 {
		return nil, errors.New("a signal to noise ratio needs noise to mix in")
	}
	bank, skipped, err := OpenBank(t.Noise, t.Seed)
	if err != nil {
		return nil, err
	}
	skip := map[string]bool{}
	for _, s := range skipped {
		skip[s.File] = true
	}
	var noise []string
	for _, path := range t.Noise {
		if !skip[path] {
			noise = append(noise, path)
		}
	}
	pieces := make([]piece, 0, len(t.Clips)+len(t.Talk)+len(noise))
	for i := range t.Clips {
		pieces = append(pieces, piece{clip: &t.Clips[i], path: t.Clips[i].Path})
	}
	for _, path := range t.Talk {
		pieces = append(pieces, piece{path: path, kind: talk})
	}
	for _, path := range noise {
		pieces = append(pieces, piece{path: path, kind: noiseAlone})
	}
	if err := t.hear(ctx, bank, pieces); err != nil {
		return nil, err
	}
	for _, p := range pieces {
		if p.skipped != "" {
			skipped = append(skipped, Skipped{p.path, p.skipped})
		}
	}
	return t.report(pieces, skipped), nil
}

// piece is one file's part in a test: a clip under every condition, or a
// recording.
type piece struct {
	clip    *Clip // nil for a recording
	path    string
	kind    kind
	skipped string // why it took no part
	engines []heardPiece
	quiet   bool           // see [Speech]
	length  speech.Samples // of a recording
}

// kind tells recordings apart.
type kind int

const (
	talk kind = iota + 1
	noiseAlone
)

// heardPiece is what one engine made of a piece.
type heardPiece struct {
	takes   []take         // a clip's, clean first
	stream  []speech.Heard // a recording's
	seconds float64        // processor time spent on takes
	sound   float64        // seconds of sound in takes
}

// take is a clip under one condition, as one engine took it.
type take struct {
	heard    []speech.Heard
	nearest  string
	from, to speech.Samples // of the speech
}

// hear has every engine hear every piece.
func (t Test) hear(ctx context.Context, bank *Bank, pieces []piece) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	next := make(chan int)
	var workers sync.WaitGroup
	var progress sync.Mutex
	done := 0
	for range min(runtime.GOMAXPROCS(0), max(1, len(pieces))) {
		workers.Go(func() {
			runtime.LockOSThread() // processor time is counted by thread
			defer runtime.UnlockOSThread()
			listeners, err := t.listeners()
			if err != nil {
				stop(err)
			}
			defer func() {
				for _, l := range listeners {
					if err := l.Close(); err != nil {
						stop(err)
					}
				}
			}()
			for i := range next {
				if ctx.Err() != nil {
					continue
				}
				if err := t.hearPiece(listeners, bank, &pieces[i]); err != nil {
					stop(err)
				}
				progress.Lock()
				done++
				if t.Progress != nil {
					t.Progress(done, len(pieces))
				}
				progress.Unlock()
			}
		})
	}
	for i := range pieces {
		next <- i
	}
	close(next)
	workers.Wait()
	return context.Cause(ctx)
}

func (t Test) listeners() (listeners []Listener, err error) {
	for _, e := range t.Engines {
		l, err := e.Listen(t.Live)
		if err != nil {
			return listeners, fmt.Errorf("%s: %w", e.Name(), err)
		}
		listeners = append(listeners, l)
	}
	return listeners, nil
}

// leave takes the piece out of the test where its file cannot be used.
func (p *piece) leave(err error) bool {
	if err != nil {
		p.skipped = err.Error()
	}
	return err != nil
}

// hearPiece returns an error only where an engine fails.
func (t Test) hearPiece(listeners []Listener, bank *Bank, p *piece) error {
	p.engines = make([]heardPiece, len(listeners))
	if p.clip == nil {
		return t.hearRecording(listeners, p)
	}
	pcm, said, err := openClip(p.path)
	if p.leave(err) {
		return nil
	}
	p.quiet = said.Quiet
	for _, snr := range t.conditions() {
		scene := Stage(p.clip.Name, pcm, said, snr, bank, t.KeepLevel)
		for i, l := range listeners {
			before := threadSeconds()
			heard, err := l.Hear(scene.Source())
			p.engines[i].seconds += threadSeconds() - before
			p.engines[i].sound += float64(len(scene.PCM)) / speech.Rate
			if err != nil {
				return fmt.Errorf("%s: %s: %w", t.Engines[i].Name(), p.path, err)
			}
			k := take{heard: heard, from: scene.From, to: scene.To}
			if p.clip.Live {
				if k.nearest, err = nearest(l, heard, scene); err != nil {
					return fmt.Errorf("%s: %s: %w", t.Engines[i].Name(), p.path, err)
				}
			}
			p.engines[i].takes = append(p.engines[i].takes, k)
		}
	}
	return nil
}

// nearest is the phrase nearest to the utterance that covers most of the speech,
// or to the speech itself where none covers half of it. Where the listener has
// heard on for too long to remember that, it hears the scene once more, up to
// the end of the speech.
func nearest(l Listener, heard []speech.Heard, scene Scene) (string, error) {
	const after, memory = 300 * speech.Rate / 1000, 2400 * speech.Rate / 1000
	found, most := "", (scene.To-scene.From)/2
	for _, h := range heard {
		if covers := min(h.To, scene.To) - max(h.From, scene.From); covers >= most && h.Nearest != "" {
			found, most = h.Nearest, covers
		}
	}
	if found != "" {
		return found, nil
	}
	if end := min(int(scene.To)+after, len(scene.PCM)); len(scene.PCM)-int(scene.From) > memory && end < len(scene.PCM) {
		scene.PCM = scene.PCM[:end]
		if _, err := l.Hear(scene.Source()); err != nil {
			return "", err
		}
	}
	return l.Nearest(scene.From, scene.To), nil
}

func (t Test) hearRecording(listeners []Listener, p *piece) error {
	for i, l := range listeners {
		r, length, err := openRecording(p.path, t.KeepLevel)
		if p.leave(err) {
			return nil
		}
		heard, err := l.Hear(r)
		if err := errors.Join(err, r.Close()); err != nil {
			return fmt.Errorf("%s: %s: %w", t.Engines[i].Name(), p.path, err)
		}
		p.length, p.engines[i].stream = length, heard
	}
	return nil
}

// conditions are the signal to noise ratios, clean first.
func (t Test) conditions() []float64 { return append([]float64{Clean}, t.SNRs...) }

// snr is a condition as a report has it.
func snrOf(c float64) *float64 {
	if math.IsInf(c, 1) {
		return nil
	}
	return &c
}

// threadSeconds is the processor time that the calling thread has used.
func threadSeconds() float64 {
	var u unix.Rusage
	if err := unix.Getrusage(unix.RUSAGE_THREAD, &u); err != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}
