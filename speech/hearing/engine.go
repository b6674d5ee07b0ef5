package hearing

import (
	"errors"
	"fmt"
	"io"

	"stepcaller/speech"
)

// Engine is a recogniser under test.
type Engine interface {
	// Name tells it from the others in a report.
	Name() string
	// Listen makes a listener that may obey the phrases live, or an error that
	// says which it cannot know. It may be called from any goroutine.
	Listen(live []string) (Listener, error)
}

// Listener is an engine at work. One goroutine uses it.
type Listener interface {
	// Hear hears a source to its end from a fresh state and returns what was
	// decided, in order. It does not close the source.
	Hear(source speech.Source) ([]speech.Heard, error)
	// Nearest is the live phrase most like the samples from up to to of the
	// sound last heard, "" where the engine has none to offer. The span lies
	// within the last 2.5 s, but for its beginning if it is longer.
	Nearest(from, to speech.Samples) string
	// Close frees what the listener holds.
	Close() error
}

// Ears is the program's own recogniser as an [Engine].
type Ears struct {
	New    func() (*speech.Ears, error) // makes ears, each for one goroutine
	Taught string                       // the technician whose voice they are tuned to, "" for none
	Lax    bool                         // phrases that they do not know are missed, and no mistake
}

// Name implements [Engine].
func (e Ears) Name() string {
	if e.Taught != "" {
		return "stepcaller for " + e.Taught
	}
	return "stepcaller"
}

// Listen implements [Engine].
func (e Ears) Listen(live []string) (Listener, error) {
	ears, err := e.New()
	if err != nil {
		return nil, err
	}
	if unknown := ears.Live(live); len(unknown) > 0 && !e.Lax {
		return nil, unknownError(unknown)
	}
	return &earsListener{ears}, nil
}

type earsListener struct{ ears *speech.Ears }

func (l *earsListener) Hear(source speech.Source) (heard []speech.Heard, err error) {
	l.ears.Reset()
	for {
		b, err := source.Read()
		if errors.Is(err, io.EOF) {
			return heard, nil
		}
		if err != nil {
			return heard, err
		}
		heard = append(heard, l.ears.Hear(b, nil)...)
	}
}

func (l *earsListener) Nearest(from, to speech.Samples) string { return l.ears.Nearest(from, to) }

func (l *earsListener) Close() error { return nil }

func unknownError(phrases []string) error {
	return fmt.Errorf("the engine does not know %q", phrases)
}
