package speech_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"

	"stepcaller/speech"
	"stepcaller/speech/voicetest"
)

// made notes the texts a scripted voice is asked for. With a gate, each waits for one value from it, or for
// its ctx.
type made struct {
	gate chan struct{}

	mu    sync.Mutex
	texts []string
}

func (m *made) voice() voicetest.ScriptedVoice {
	return voicetest.ScriptedVoice{Before: func(ctx context.Context, text string) error {
		m.mu.Lock()
		m.texts = append(m.texts, text)
		m.mu.Unlock()
		if m.gate == nil {
			return nil
		}
		select {
		case <-m.gate:
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}}
}

func (m *made) want(t *testing.T, texts ...string) {
	t.Helper()
	synctest.Wait()
	m.mu.Lock()
	defer m.mu.Unlock()
	if !slices.Equal(m.texts, texts) {
		t.Errorf("made %q, want %q", m.texts, texts)
	}
}

// ahead runs a test of an Ahead over a scripted voice, whose goroutines all stand still at each want.
func ahead(t *testing.T, name string, gated bool, f func(t *testing.T, a *speech.Ahead, m *made)) {
	t.Run(name, func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			m := &made{}
			if gated {
				m.gate = make(chan struct{})
			}
			a := speech.NewAhead(m.voice().At, speech.DefaultSettings())
			defer a.Close()
			f(t, a, m)
		})
	})
}

func TestAhead(t *testing.T) {
	slow := speech.Settings{Voice: "en-gb", WordsPerMinute: 120}

	ahead(t, "makes each sentence once", false, func(t *testing.T, a *speech.Ahead, m *made) {
		a.Prepare("one", "two", "one")
		m.want(t, "one", "two")
		want := said(t, voicetest.ScriptedVoice{Settings: a.Settings()}, "two")
		if got := said(t, a, "two"); !slices.Equal(got, want) {
			t.Errorf("%d samples, want the %d of the voice itself", len(got), len(want))
		}
		said(t, a, "three")
		said(t, a, "three")
		m.want(t, "one", "two", "three")
	})

	ahead(t, "makes the latest wishes first", true, func(t *testing.T, a *speech.Ahead, m *made) {
		a.Prepare("one", "two", "three")
		m.want(t, "one")
		a.Prepare("ten", "two")
		for range 4 {
			m.gate <- struct{}{}
		}
		m.want(t, "one", "ten", "two", "three")
	})

	ahead(t, "speaks beside its worker", true, func(t *testing.T, a *speech.Ahead, m *made) {
		a.Prepare("one", "two")
		m.want(t, "one")
		spoken := make(chan error, 1)
		go func() {
			_, err := a.Speak(t.Context(), "now")
			spoken <- err
		}()
		m.want(t, "one", "now")
		m.gate <- struct{}{} // either of them
		m.gate <- struct{}{}
		if err := <-spoken; err != nil {
			t.Error(err)
		}
		m.want(t, "one", "now", "two")
	})

	ahead(t, "joins what is in the making", true, func(t *testing.T, a *speech.Ahead, m *made) {
		a.Prepare("one")
		spoken := make(chan int, 3)
		for range 3 {
			go func() {
				pcm, err := a.Speak(t.Context(), "one")
				if err != nil {
					t.Error(err)
				}
				spoken <- len(pcm)
				clear(pcm)
			}()
		}
		m.want(t, "one")
		m.gate <- struct{}{}
		for range 3 {
			if n := <-spoken; n == 0 {
				t.Error("no sound")
			}
		}
		if pcm := said(t, a, "one"); !slices.ContainsFunc(pcm, func(s int16) bool { return s != 0 }) {
			t.Error("a caller wrote into the sound that is kept")
		}
		m.want(t, "one")
	})

	ahead(t, "finishes what a caller gave up", true, func(t *testing.T, a *speech.Ahead, m *made) {
		ctx, cancel := context.WithCancel(t.Context())
		spoken := make(chan error, 1)
		go func() {
			_, err := a.Speak(ctx, "one")
			spoken <- err
		}()
		m.want(t, "one")
		cancel()
		if err := <-spoken; !errors.Is(err, context.Canceled) {
			t.Errorf("%v, want context.Canceled", err)
		}
		m.gate <- struct{}{}
		said(t, a, "one")
		m.want(t, "one")
	})

	ahead(t, "keeps the settings apart", false, func(t *testing.T, a *speech.Ahead, m *made) {
		quick := said(t, a, "one")
		if err := a.Adjust(slow); err != nil || a.Settings() != slow {
			t.Fatalf("settings %+v and %v, want %+v", a.Settings(), err, slow)
		}
		if n := len(said(t, a, "one")); n <= len(quick) {
			t.Errorf("%d samples at 120 words a minute, %d at 160", n, len(quick))
		}
		if err := a.Adjust(speech.Settings{}); err == nil || a.Settings() != slow {
			t.Errorf("no settings at all: %v, now %+v", err, a.Settings())
		}
		if err := a.Adjust(speech.DefaultSettings()); err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(said(t, a, "one"), quick) {
			t.Error("another sound on the way back")
		}
		m.want(t, "one", "one")
	})

	ahead(t, "drops what was wished for in other settings", true, func(t *testing.T, a *speech.Ahead, m *made) {
		a.Prepare("one", "two", "three")
		m.want(t, "one")
		if err := a.Adjust(slow); err != nil {
			t.Fatal(err)
		}
		a.Prepare("ten")
		m.gate <- struct{}{}
		m.gate <- struct{}{}
		m.want(t, "one", "ten")
	})

	ahead(t, "is bounded", false, func(t *testing.T, a *speech.Ahead, m *made) {
		// 2000 bytes of text are some 2 million samples, 4 MB: six fit into 24 MB, the seventh does not.
		long := func(i int) string { return strings.Repeat("abcdefghi ", 199) + "abcdefgh" + string(rune('0'+i)) }
		for i := range 7 {
			said(t, a, long(i))
		}
		said(t, a, long(6))
		said(t, a, long(0))
		m.want(t, long(0), long(1), long(2), long(3), long(4), long(5), long(6), long(0))
	})

	ahead(t, "ends what is in the making", true, func(t *testing.T, a *speech.Ahead, m *made) {
		a.Prepare("one", "two")
		m.want(t, "one")
		spoken := make(chan error, 1)
		go func() {
			_, err := a.Speak(t.Context(), "now")
			spoken <- err
		}()
		m.want(t, "one", "now")
		if err := a.Close(); err != nil {
			t.Error(err)
		}
		if err := <-spoken; !errors.Is(err, speech.ErrVoiceClosed) {
			t.Errorf("%v, want ErrVoiceClosed", err)
		}
		a.Prepare("three")
		if _, err := a.Speak(t.Context(), "one"); !errors.Is(err, speech.ErrVoiceClosed) {
			t.Errorf("%v, want ErrVoiceClosed", err)
		}
		m.want(t, "one", "now")
	})
}

func TestAheadTriesAgainAfterAFailure(t *testing.T) {
	broken := true
	voice := voicetest.ScriptedVoice{Before: func(context.Context, string) error {
		if broken {
			return speech.ErrVoiceFailed
		}
		return nil
	}}
	a := speech.NewAhead(voice.At, speech.DefaultSettings())
	defer a.Close()
	if pcm, err := a.Speak(t.Context(), "one"); !errors.Is(err, speech.ErrVoiceFailed) || pcm != nil {
		t.Errorf("%d samples and %v, want ErrVoiceFailed", len(pcm), err)
	}
	broken = false
	said(t, a, "one")
}
