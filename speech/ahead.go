package speech

import (
	"context"
	"fmt"
	"slices"
	"sync"
)

const (
	aheadRoom   = 12 << 20 // samples kept, 24 MB: some 13 minutes
	aheadWishes = 256      // sentences waiting to be made
)

// An Ahead is a [Voice] that makes sentences before they are asked for, so that an answer begins at once.
//
//   - Prepare names sentences that may come next. One worker makes them in the background, those of the
//     latest call first.
//   - Speak answers from what is made, joins a sentence that is in the making, or makes it now beside the
//     worker. The text and the settings together decide what is the same sentence.
//   - A Speak whose ctx ends stops waiting; the sentence is still finished and kept.
//   - What has not been asked for longest is forgotten when the sound kept passes 24 MB.
//   - Close ends what is in the making and waits for it; after that Speak is [ErrVoiceClosed].
//
// Any number of goroutines may use it at once.
type Ahead struct {
	voice func(Settings) Voice
	ctx   context.Context // ends with Close
	end   context.CancelFunc
	busy  sync.WaitGroup // the worker, and every sentence in the making
	woken chan struct{}  // there are wishes; room for one

	mu       sync.Mutex
	settings Settings
	wishes   []wording
	making   map[wording]*making
	made     shelf
}

// wording is what has to be equal for the sound to be equal.
type wording struct {
	settings Settings
	text     string
}

// making is a sentence in the making; pcm and err are set before done is closed. Everyone who waits for
// it shares pcm, so nobody writes to it.
type making struct {
	done chan struct{}
	pcm  []int16
	err  error
}

// NewAhead starts an Ahead over a voice that can be had in any settings, such as [CommandVoice.At]. The
// caller closes it.
func NewAhead(voice func(Settings) Voice, settings Settings) *Ahead {
	ctx, end := context.WithCancel(context.Background())
	a := &Ahead{
		voice:    voice,
		ctx:      ctx,
		end:      end,
		woken:    make(chan struct{}, 1),
		settings: settings,
		making:   make(map[wording]*making),
		made:     newShelf(aheadRoom),
	}
	a.busy.Go(a.work)
	return a
}

// Adjust changes the settings of every sentence asked for from now on. What was prepared and not begun is
// dropped; what was made in other settings is kept for the way back. Settings that fail their check change
// nothing.
func (a *Ahead) Adjust(s Settings) error {
	if err := s.Check(); err != nil {
		return err
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if s != a.settings {
		a.settings, a.wishes = s, nil
	}
	return nil
}

// Settings are those that Speak uses now.
func (a *Ahead) Settings() Settings {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.settings
}

// Prepare has sentences made in the background, in the order given and before those of earlier calls. It
// returns at once. A sentence that cannot be made is passed over: Speak will say why.
func (a *Ahead) Prepare(texts ...string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	wishes := make([]wording, 0, len(texts)+len(a.wishes))
	for _, text := range texts {
		wishes = append(wishes, wording{a.settings, text})
	}
	for _, earlier := range a.wishes {
		if !slices.Contains(wishes, earlier) {
			wishes = append(wishes, earlier)
		}
	}
	a.wishes = wishes[:min(len(wishes), aheadWishes)]
	select {
	case a.woken <- struct{}{}:
	default:
	}
}

// Speak implements [Voice].
func (a *Ahead) Speak(ctx context.Context, text string) ([]int16, error) {
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("speaking %q: %w", text, err)
	}
	m := a.ask(wording{a.Settings(), text})
	select {
	case <-m.done:
		return slices.Clone(m.pcm), m.err
	case <-ctx.Done():
		return nil, fmt.Errorf("speaking %q: %w", text, ctx.Err())
	}
}

// Close implements io.Closer. It returns nil and may be called again.
func (a *Ahead) Close() error {
	a.mu.Lock() // ask begins nothing once this is done
	a.end()
	a.mu.Unlock()
	a.busy.Wait()
	return nil
}

// work makes what is wished for, one sentence after the other, until Close.
func (a *Ahead) work() {
	for {
		select {
		case <-a.woken:
		case <-a.ctx.Done():
			return
		}
		for w, ok := a.nextWish(); ok; w, ok = a.nextWish() {
			<-a.ask(w).done
		}
	}
}

func (a *Ahead) nextWish() (w wording, ok bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if len(a.wishes) == 0 || a.ctx.Err() != nil {
		return wording{}, false
	}
	w, a.wishes = a.wishes[0], a.wishes[1:]
	return w, true
}

// ask finds w on the shelf or in the making, or begins to make it.
func (a *Ahead) ask(w wording) *making {
	a.mu.Lock()
	defer a.mu.Unlock()
	if m, ok := a.making[w]; ok {
		return m
	}
	m := &making{done: make(chan struct{})}
	if a.ctx.Err() != nil {
		m.err = fmt.Errorf("speaking %q: %w", w.text, ErrVoiceClosed)
		close(m.done)
		return m
	}
	if pcm, ok := a.made.take(w); ok {
		m.pcm = pcm
		close(m.done)
		return m
	}
	a.making[w] = m
	voice := a.voice(w.settings)
	a.busy.Go(func() {
		defer close(m.done)
		m.pcm, m.err = voice.Speak(a.ctx, w.text)
		if m.err != nil && a.ctx.Err() != nil {
			m.err = fmt.Errorf("speaking %q: %w: %w", w.text, ErrVoiceClosed, m.err)
		}
		a.mu.Lock()
		defer a.mu.Unlock()
		delete(a.making, w)
		if m.err == nil {
			a.made.put(w, m.pcm)
		}
	})
	return m
}
