package speech_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"stepcaller/speech"
	"stepcaller/speech/voicetest"
)

func TestVoiceProgramsKeepTheContract(t *testing.T) {
	keeps := func(program, line, name string) {
		t.Run(program, func(t *testing.T) {
			voicetest.Need(t, program)
			voice := speech.CommandVoice{Command: parsed(t, line), Settings: speech.Settings{Voice: name, WordsPerMinute: 160}}
			voicetest.Contract(t, voice)
			t.Run("is slower when asked", func(t *testing.T) {
				slow := voice.Settings
				slow.WordsPerMinute = 100
				a, b := said(t, voice, "Tighten it to forty."), said(t, voice.At(slow), "Tighten it to forty.")
				if len(b)*10 < len(a)*13 {
					t.Errorf("%d samples at 160 words a minute, %d at 100", len(a), len(b))
				}
			})
		})
	}
	keeps("espeak-ng", speech.DefaultCommand, "en-gb")
	keeps("flite", "flite -voice {voice} --setf duration_stretch={stretch} -t {text} -o {wav}", "slt")
}

// A child is a shell script in place of a voice program. In it, $sound is a good WAV file with a second of
// a 440 Hz tone, $half is the first half of that, $head a header that leaves the length open.
func child(t *testing.T, script string, places ...string) speech.CommandVoice {
	t.Helper()
	dir := t.TempDir()
	file := func(name string, content []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, content, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	good := childWAV(childTone(speech.Rate), 2*speech.Rate)
	open := childWAV(nil, math.MaxUint32)
	path := file("voice.sh", fmt.Appendf(nil, "sound=%s half=%s head=%s\n%s\n",
		file("sound", good), file("half", good[:len(good)/2]), file("head", open), script))
	line := "sh '" + path + "' " + strings.Join(places, " ")
	return speech.CommandVoice{Command: parsed(t, line), Settings: speech.DefaultSettings()}
}

func TestChildSpeaks(t *testing.T) {
	speaks := func(name string, voice speech.CommandVoice) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if n := len(said(t, voice, "-n one {wav}")); n != speech.Rate {
				t.Errorf("%d samples, want %d", n, speech.Rate)
			}
		})
	}
	speaks("on standard output", child(t, `cat $sound`))
	speaks("into a file", child(t, `cp $sound "$1"`, "{wav}"))
	speaks("what it reads on standard input", child(t, `read -r line; test "$line" = "-n one {wav}" && cat $sound`))
	speaks("what it gets as one word", child(t, `test $# = 1 && test "$1" = " -n one {wav}" && cat $sound`, "{text}"))
	speaks("in its settings", child(t, `test "$*" = "160 1.031 x-en-gb" && cat $sound`, "{wpm} {stretch} x-{voice}"))
	speaks("while complaining at length", child(t, `yes complaint | head -c 1000000 >&2; cat $sound`))
	speaks("without the words it was left with", child(t, `exec <&-; cat $sound`))
}

func TestChildFails(t *testing.T) {
	fails := func(name string, want error, says string, voice speech.CommandVoice) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			pcm, err := voice.Speak(t.Context(), "one")
			if !errors.Is(err, want) || pcm != nil {
				t.Fatalf("%d samples and %v, want %v", len(pcm), err, want)
			}
			if !strings.Contains(err.Error(), says) {
				t.Errorf("%v, which does not say %q", err, says)
			}
			if len(err.Error()) > 6<<10 {
				t.Errorf("a message of %d bytes", len(err.Error()))
			}
		})
	}
	hasty := func(voice speech.CommandVoice) speech.CommandVoice {
		voice.Patience = 200 * time.Millisecond
		return voice
	}
	fails("with a status", speech.ErrVoiceFailed, `exit status 1: it said "no such voice"`, child(t, `echo no such voice >&2; exit 1`))
	fails("after much ado", speech.ErrVoiceFailed, `the end"`, child(t, `yes ado | head -c 1000000 >&2; echo the end >&2; exit 3`))
	fails("although it spoke", speech.ErrVoiceFailed, "exit status 1", child(t, `cat $sound; exit 1`))
	fails("halfway", speech.ErrVoiceFailed, "killed", child(t, `cat $half; kill -9 $$`))
	fails("with garbage", speech.ErrVoiceGarbled, "not a WAV file", child(t, `yes "this is no sound" | head -c 500`))
	fails("with nothing", speech.ErrVoiceGarbled, "", child(t, `exit 0`))
	fails("without the file", speech.ErrVoiceGarbled, "no file", child(t, `exit 0`, "{wav}"))
	fails("with a header only", speech.ErrVoiceSilent, "only silence", child(t, `cat $head`))
	fails("in silence", speech.ErrVoiceSilent, "only silence", child(t, `cat $head; head -c 32000 /dev/zero`))
	fails("without end", speech.ErrVoiceEndless, "", child(t, `cat $head; exec cat /dev/zero`))
	fails("without end, into a file", speech.ErrVoiceEndless, "", child(t, `exec cat /dev/zero > "$1"`, "{wav}"))
	fails("with more than a sentence", speech.ErrVoiceEndless, "", child(t, `cat $head; yes sounds | head -c 4000000`))
	fails("by hanging", speech.ErrVoiceHung, "not finished in 260ms", hasty(child(t, `cat $half; exec sleep 1000`)))
	fails("by hanging unasked", speech.ErrVoiceHung, "not finished", hasty(child(t, `trap '' TERM HUP INT; while :; do sleep 1000; done`)))
	fails("by leaving something behind", speech.ErrVoiceHung, "left something running", child(t, `cat $sound; sleep 1000 & exit 0`))
}

func TestChildLengthFieldMayBeWrong(t *testing.T) {
	want := said(t, child(t, `cat $sound`), "one")
	for _, length := range []uint32{0, math.MaxUint32, 0x7ffff000, 0x80000000, 2*speech.Rate + 1, 1 << 20} {
		path := filepath.Join(t.TempDir(), "odd.wav")
		if err := os.WriteFile(path, childWAV(childTone(speech.Rate), length), 0o600); err != nil {
			t.Fatal(err)
		}
		if got := said(t, child(t, "cat "+path), "one"); !slices.Equal(got, want) {
			t.Errorf("length %#x: %d samples, want the %d of the right one", length, len(got), len(want))
		}
	}
}

func TestCancelledChildIsGoneWithAllItStarted(t *testing.T) {
	gone := func(name, script string) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			pipe, heard := lifeline(t)
			voice := child(t, "exec 9>"+pipe+"; "+script)
			voice.Patience = time.Hour
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			spoken := make(chan string, 1)
			go func() {
				_, err := voice.Speak(ctx, "one")
				spoken <- fmt.Sprint("cancelled: ", errors.Is(err, context.Canceled))
			}()
			awaited(t, heard, "begun")
			cancel()
			awaited(t, heard, "ended")
			awaited(t, spoken, "cancelled: true")
		})
	}
	gone("plain", `printf begun >&9; exec sleep 1000`)
	gone("with a family", `sleep 1000 & (sleep 1000 & sleep 1000) & printf begun >&9; sleep 1000`)
	gone("ignoring signals", `trap '' TERM HUP INT; printf begun >&9; while :; do sleep 1000; done`)
	gone("with its output closed", `exec >&- 2>&-; printf begun >&9; exec sleep 1000`)
	gone("in the middle of the sound", `cat $half; printf begun >&9; exec sleep 1000`)
}

func TestWhatAChildLeftRunningIsEnded(t *testing.T) {
	t.Parallel()
	pipe, heard := lifeline(t)
	voice := child(t, "exec 9>"+pipe+"; cat $sound; printf begun >&9; sleep 1000 & exit 0")
	if _, err := voice.Speak(t.Context(), "one"); !errors.Is(err, speech.ErrVoiceHung) {
		t.Errorf("%v, want ErrVoiceHung", err)
	}
	awaited(t, heard, "begun")
	awaited(t, heard, "ended")
}

// lifeline is a named pipe. Whatever a script starts after it opened the pipe inherits the writing end, so
// that "ended" is heard when all of it has ended. Before that comes the "begun" that the script writes.
func lifeline(t *testing.T) (pipe string, heard <-chan string) {
	t.Helper()
	pipe = filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	news := make(chan string, 2)
	go func() {
		f, err := os.Open(pipe)
		if err != nil {
			news <- err.Error()
			return
		}
		defer f.Close()
		begun := make([]byte, len("begun"))
		_, _ = io.ReadFull(f, begun)
		news <- string(begun)
		_, _ = io.Copy(io.Discard, f)
		news <- "ended"
	}()
	return pipe, news
}

func awaited(t *testing.T, from <-chan string, want string) {
	t.Helper()
	select {
	case got := <-from:
		if got != want {
			t.Fatalf("%q, want %q", got, want)
		}
	case <-time.After(30 * time.Second):
		t.Fatalf("no %q in 30 s", want)
	}
}

func parsed(t testing.TB, line string) speech.Command {
	t.Helper()
	c, err := speech.ParseCommand(line)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func said(t testing.TB, voice speech.Voice, text string) []int16 {
	t.Helper()
	pcm, err := voice.Speak(t.Context(), text)
	if err != nil || len(pcm) == 0 {
		t.Fatalf("%q: %d samples and %v", text, len(pcm), err)
	}
	return pcm
}

// childTone is n samples of 440 Hz at half of full scale.
func childTone(n int) []int16 {
	pcm := make([]int16, n)
	for i := range pcm {
		pcm[i] = int16(16383 * math.Sin(2*math.Pi*440*float64(i)/speech.Rate))
	}
	return pcm
}

// childWAV is a WAV file of pcm at Rate, whose header says that the sound has so many bytes.
func childWAV(pcm []int16, length uint32) []byte {
	var b bytes.Buffer
	for _, field := range []any{
		[]byte("RIFF"), length + 36, []byte("WAVE"),
		[]byte("fmt "), uint32(16), uint16(1), uint16(1), uint32(speech.Rate), uint32(2 * speech.Rate), uint16(2), uint16(16),
		[]byte("data"), length, pcm,
	} {
		_ = binary.Write(&b, binary.LittleEndian, field) // to a buffer, of fixed-size values: cannot fail
	}
	return b.Bytes()
}
