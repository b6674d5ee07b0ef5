package speech_test

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"stepcaller/speech"
	"stepcaller/speech/soundtest"
)

// patience is how long a test waits for something that is going to happen.
const patience = 30 * time.Second

// newHost is a host whose chatter goes nowhere, closed after the test.
func newHost(t *testing.T) *speech.Host {
	t.Helper()
	h := speech.NewHost(slog.New(slog.DiscardHandler))
	t.Cleanup(func() {
		if err := h.Close(); err != nil {
			t.Errorf("close the sound system: %v", err)
		}
	})
	return h
}

func openMicrophone(t *testing.T, h *speech.Host, c speech.DeviceConfig) *speech.Microphone {
	t.Helper()
	m, err := h.OpenMicrophone(c)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func openSpeaker(t *testing.T, h *speech.Host, c speech.DeviceConfig, f speech.Feed) *speech.Speaker {
	t.Helper()
	s, err := h.OpenSpeaker(c, f)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// chirp is 100 ms that rise from 500 to 3000 Hz, which no other sound is
// mistaken for and whose place is known to the sample.
func chirp() []int16 {
	pcm := make([]int16, speech.Rate/10)
	for i := range pcm {
		s := float64(i) / speech.Rate
		edge := math.Sin(math.Pi * float64(i) / float64(len(pcm)))
		pcm[i] = int16(12000 * edge * math.Sin(2*math.Pi*(500*s+12500*s*s)))
	}
	return pcm
}

// chirps is sound with a chirp at each of the places, and as much silence
// after the last.
func chirps(places ...int) []int16 {
	c := chirp()
	pcm := make([]int16, places[len(places)-1]+2*len(c))
	for _, p := range places {
		copy(pcm[p:], c)
	}
	return pcm
}

// findChirps returns where chirps begin: the places at which the correlation
// with a chirp is at least 0.8 and highest within its length.
func findChirps(pcm []int16) (places []int) {
	c := chirp()
	var own float64
	for _, v := range c {
		own += float64(v) * float64(v)
	}
	best, at := 0.0, 0
	var energy float64
	for i := range pcm {
		energy += float64(pcm[i]) * float64(pcm[i])
		from := i - len(c) + 1
		if from < 0 {
			continue
		}
		if best > 0 && from > at+len(c) {
			places = append(places, at)
			best = 0
		}
		if energy > own/100 {
			var sum float64
			for k, v := range c {
				sum += float64(v) * float64(pcm[from+k])
			}
			if r := sum / math.Sqrt(own*energy); r > 0.8 && r > best {
				best, at = r, from
			}
		}
		energy -= float64(pcm[from]) * float64(pcm[from])
	}
	if best > 0 {
		places = append(places, at)
	}
	return places
}

// hear reads the source until it has heard that many chirps and 100 ms more.
func hear(t *testing.T, s speech.Source, n int) (places []int, missing int, pcm []int16) {
	t.Helper()
	limit := time.Now().Add(patience)
	for read := 0; ; read++ {
		b, err := s.Read()
		if err != nil {
			t.Fatal(err)
		}
		if int(b.At) != len(pcm) || len(b.PCM) != speech.Frame {
			t.Fatalf("a block of %d at %d after %d samples", len(b.PCM), b.At, len(pcm))
		}
		pcm = append(pcm, b.PCM...)
		missing += b.Missing
		if read%25 == 24 {
			if places = findChirps(pcm); len(places) >= n && places[n-1]+3200 <= len(pcm) {
				return places, missing, pcm
			}
			if time.Now().After(limit) {
				t.Fatalf("%d of %d chirps heard in %v", len(places), n, patience)
			}
		}
	}
}

func near(t *testing.T, what string, got, want, by int) {
	t.Helper()
	t.Logf("%s: %d, %d samples off", what, got, got-want)
	if got < want-by || got > want+by {
		t.Errorf("%s: %d, want %d to within %d", what, got, want, by)
	}
}

// With the device's own rate the same is asked for as at 16 kHz.
func eachRate(t *testing.T, f func(t *testing.T, c speech.DeviceConfig)) {
	for name, rate := range map[string]int{"16 kHz": 0, "48 kHz": 48000} {
		t.Run(name, func(t *testing.T) { f(t, speech.DeviceConfig{Rate: rate}) })
	}
}

func TestMicrophoneHearsAtTheRightTime(t *testing.T) {
	server := soundtest.Start(t)
	eachRate(t, func(t *testing.T, c speech.DeviceConfig) {
		m := openMicrophone(t, newHost(t), c)
		if _, err := m.Read(); err != nil {
			t.Fatal(err)
		}
		m2 := &offset{Source: m, by: speech.Frame}
		before := speech.Boottime()
		wait := server.Saying(chirps(3200, 19200, 27200))
		places, missing, _ := hear(t, m2, 3)
		wait()
		near(t, "second chirp after the first", places[1]-places[0], 16000, 8)
		near(t, "third chirp after the second", places[2]-places[1], 8000, 8)
		if missing != 0 {
			t.Errorf("%d samples missing", missing)
		}
		// The chirp is 200 ms in, and was heard before now. The virtual devices
		// make sound some 50 ms before its time.
		at := m.Anchor() + speech.Samples(places[0]+speech.Frame).Duration()
		if at < before+100*time.Millisecond || at > speech.Boottime() {
			t.Errorf("the chirp was heard %v after it was asked for", at-before)
		}
		t.Logf("chirp heard %v after the beginning of its sound was asked for, of which it is 200ms in", (at - before).Round(time.Millisecond))
	})
}

// offset is a source whose first samples have been read already.
type offset struct {
	speech.Source
	by speech.Samples
}

func (o *offset) Read() (speech.Block, error) {
	b, err := o.Source.Read()
	b.At -= o.by
	return b, err
}

func TestSpeakerPlays(t *testing.T) {
	server := soundtest.Start(t)
	eachRate(t, func(t *testing.T, c speech.DeviceConfig) {
		p := speech.NewPlayer()
		s := openSpeaker(t, newHost(t), c, p)
		r := server.RecordSpeaker()
		p.Say(1, chirps(1600, 9600))
		if !r.Await(func(pcm []int16) bool { return len(findChirps(pcm)) == 2 && len(pcm) > findChirps(pcm)[1]+4800 }) {
			t.Fatalf("chirps at %v", findChirps(r.Stop()))
		}
		places := findChirps(r.Stop())
		near(t, "second chirp after the first", places[1]-places[0], 8000, 8)
		reports := p.Reports()
		if len(reports) != 2 || reports[1].At-reports[0].At != 9600+3200 {
			t.Errorf("reports %v", reports)
		}
		if err := s.Advance(speech.Frame); err != nil {
			t.Error(err)
		}
		t.Logf("latency %v", s.Latency())
	})
}

// silentFrom is the place after the last sample that is louder than the
// resampler's ringing.
func silentFrom(pcm []int16) int {
	for i := len(pcm) - 1; i >= 0; i-- {
		if pcm[i] > 100 || pcm[i] < -100 {
			return i + 1
		}
	}
	return 0
}

func TestCutIsSilenceAtTheLoudspeaker(t *testing.T) {
	server := soundtest.Start(t)
	eachRate(t, func(t *testing.T, c speech.DeviceConfig) {
		p := speech.NewPlayer()
		openSpeaker(t, newHost(t), c, p)
		r := server.RecordSpeaker()
		p.Say(1, mains(20*speech.Rate, speech.Rate))
		if !r.Await(func(pcm []int16) bool { return silentFrom(pcm) > 8000 }) {
			t.Fatal("nothing to be heard")
		}
		cut := len(r.Sound())
		p.Cut()
		if !r.Await(func(pcm []int16) bool { return len(pcm) > silentFrom(pcm)+4800 }) {
			t.Fatal("the voice goes on")
		}
		d := speech.Samples(silentFrom(r.Stop()) - cut).Duration()
		t.Logf("silence %v after Cut, the recorder's own delay included", d)
		if d > 500*time.Millisecond {
			t.Errorf("silence only %v after Cut", d)
		}
	})
}

func TestDeviceLostWithItsServerIsOpenedAgain(t *testing.T) {
	server := soundtest.Start(t)
	h := newHost(t)
	p := speech.NewPlayer()
	m, s := openMicrophone(t, h, speech.DeviceConfig{}), openSpeaker(t, h, speech.DeviceConfig{}, p)
	for range 50 {
		if _, err := m.Read(); err != nil {
			t.Fatal(err)
		}
	}
	server.Kill()
	began := time.Now()
	for {
		b, err := m.Read()
		if err == nil {
			if time.Since(began) > patience {
				t.Fatal("sound without a server")
			}
			continue
		}
		if !errors.Is(err, speech.ErrDeviceLost) || b.PCM != nil {
			t.Fatalf("a block of %d and %v", len(b.PCM), err)
		}
		t.Logf("after %v: %v", time.Since(began).Round(time.Millisecond), err)
		break
	}
	for s.Advance(speech.Frame) == nil {
		if time.Since(began) > patience {
			t.Fatal("the loudspeaker plays without a server")
		}
	}
	if err := s.Advance(speech.Frame); !errors.Is(err, speech.ErrDeviceLost) {
		t.Errorf("loudspeaker: %v", err)
	}
	if err := h.Reopen(); !errors.Is(err, speech.ErrNoDevice) {
		t.Errorf("reopening without a server: %v", err)
	}
	server.Restart()
	if err := h.Reopen(); err != nil {
		t.Fatal(err)
	}
	m = openMicrophone(t, h, speech.DeviceConfig{})
	openSpeaker(t, h, speech.DeviceConfig{}, p)
	wait := server.Saying(chirps(1600))
	hear(t, m, 1)
	wait()
	r := server.RecordSpeaker()
	p.Say(1, chirps(1600))
	if !r.Await(func(pcm []int16) bool { return len(findChirps(pcm)) == 1 }) {
		t.Error("the loudspeaker plays nothing")
	}
}

func TestDeviceThatHangsIsLeftBehind(t *testing.T) {
	server := soundtest.Start(t)
	h := newHost(t)
	m := openMicrophone(t, h, speech.DeviceConfig{})
	if _, err := m.Read(); err != nil {
		t.Fatal(err)
	}
	server.Freeze()
	began := time.Now()
	var err error
	for err == nil && time.Since(began) < patience {
		_, err = m.Read()
	}
	if !errors.Is(err, speech.ErrDeviceLost) {
		t.Fatal(err)
	}
	t.Logf("lost after %v; reopening: %v", time.Since(began).Round(time.Millisecond), h.Reopen())
	server.Thaw()
	for began := time.Now(); h.Reopen() != nil; {
		if time.Since(began) > patience {
			t.Fatalf("the server goes on, and still: %v", h.Reopen())
		}
	}
	m = openMicrophone(t, h, speech.DeviceConfig{})
	if _, err := m.Read(); err != nil {
		t.Fatal(err)
	}
}

// A reader that is away for more than the 2 s that are stored finds a hole in
// the sound and the count right behind it.
func TestMicrophoneCountsWhatASlowReaderLost(t *testing.T) {
	server := soundtest.Start(t)
	eachRate(t, func(t *testing.T, c speech.DeviceConfig) {
		m := openMicrophone(t, newHost(t), c)
		const apart = 6 * speech.Rate
		wait := server.Saying(chirps(1600, 1600+apart))
		first, missing, before := hear(t, m, 1)
		if missing != 0 {
			t.Errorf("%d samples missing before the reader was away", missing)
		}
		server.SayInto(make([]int16, 5*speech.Rate/2))
		second, missing, _ := hear(t, &offset{m, speech.Samples(len(before))}, 1)
		wait()
		near(t, "second chirp after the first", len(before)+second[0]-first[0], apart, 320)
		t.Logf("%d samples missing", missing)
		if missing < speech.Rate/10 {
			t.Errorf("%d samples missing", missing)
		}
	})
}

// childFile names, to the process that records for the next test, its file.
const childFile = "SPEECH_TEST_RECORD"

// A whole program that stands still, its audio thread too, loses sound without
// anybody counting how much.
func TestMicrophoneCountsWhatAStandstillLost(t *testing.T) {
	server := soundtest.Start(t)
	path := filepath.Join(t.TempDir(), "heard.wav")
	child := exec.Command(os.Args[0], "-test.run=^TestMicrophoneRecordsInAChild$", "-test.v")
	child.Env = append(os.Environ(), childFile+"="+path)
	said, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	stop, err := child.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	defer child.Process.Kill()
	lines := bufio.NewScanner(said)
	for lines.Scan() && lines.Text() != "recording" {
	}
	const apart = 6 * speech.Rate
	wait := server.Saying(chirps(1600, 1600+apart))
	server.SayInto(make([]int16, speech.Rate/2))
	child.Process.Signal(syscall.SIGSTOP)
	server.SayInto(make([]int16, 2*speech.Rate))
	child.Process.Signal(syscall.SIGCONT)
	wait()
	server.SayInto(make([]int16, speech.Rate/4))
	stop.Close()
	for lines.Scan() {
		t.Log(lines.Text())
	}
	if err := child.Wait(); err != nil {
		t.Fatal(err)
	}
	places := findChirps(readWAV(t, path))
	if len(places) != 2 {
		t.Fatalf("chirps at %v", places)
	}
	near(t, "second chirp after the first", places[1]-places[0], apart, 320)
}

func TestMicrophoneRecordsInAChild(t *testing.T) {
	path := os.Getenv(childFile)
	if path == "" {
		return // it is no test of its own
	}
	m := openMicrophone(t, newHost(t), speech.DeviceConfig{})
	w, err := speech.NewWAVWriter(path)
	if err != nil {
		t.Fatal(err)
	}
	var stop atomic.Bool
	go func() {
		io.Copy(io.Discard, os.Stdin)
		stop.Store(true)
	}()
	missing := 0
	for !stop.Load() {
		b, err := m.Read()
		if err != nil {
			t.Fatal(err)
		}
		if b.At == 0 {
			fmt.Println("recording")
		}
		w.Append(b.PCM)
		missing += b.Missing
	}
	fmt.Println(missing, "samples missing")
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestDevicesAreListedAndChosenByName(t *testing.T) {
	soundtest.Start(t)
	h := newHost(t)
	devices, err := h.Devices()
	if err != nil {
		t.Fatal(err)
	}
	inputs := 0
	for _, d := range devices {
		t.Logf("%+v", d)
		if d.DefaultInput {
			inputs++
		}
	}
	if inputs != 1 {
		t.Errorf("%d default microphones", inputs)
	}
	if m, err := h.OpenMicrophone(speech.DeviceConfig{Name: "PUL"}); err != nil || m.Name() != "pulse" {
		t.Errorf("part of a name: %v", err)
	}
	if _, err := h.OpenMicrophone(speech.DeviceConfig{}); err == nil {
		t.Error("two microphones open at once")
	}
	_, err = h.OpenSpeaker(speech.DeviceConfig{Name: "gramophone"}, speech.NewPlayer())
	if !errors.Is(err, speech.ErrNoDevice) || !bytes.Contains([]byte(err.Error()), []byte("default")) {
		t.Errorf("a name that none has: %v", err)
	}
}

func TestMachineWithoutSoundSaysSo(t *testing.T) {
	server := soundtest.Start(t)
	server.Kill()
	h := newHost(t)
	if _, err := h.Devices(); !errors.Is(err, speech.ErrNoDevice) {
		t.Errorf("devices: %v", err)
	}
	if _, err := h.OpenMicrophone(speech.DeviceConfig{}); !errors.Is(err, speech.ErrNoDevice) {
		t.Errorf("microphone: %v", err)
	}
	if _, err := h.OpenSpeaker(speech.DeviceConfig{}, speech.NewPlayer()); !errors.Is(err, speech.ErrNoDevice) {
		t.Errorf("loudspeaker: %v", err)
	}
}

// ALSA's eighty lines go to the debug log, and the process's stderr is its own
// again afterwards.
func TestSoundSystemsChatterIsKeptFromStderr(t *testing.T) {
	server := soundtest.Start(t)
	path := filepath.Join(t.TempDir(), "stderr")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	before, err := unix.Dup(2)
	if err != nil {
		t.Fatal(err)
	}
	unix.Dup3(int(file.Fd()), 2, 0)
	var log bytes.Buffer
	h := speech.NewHost(slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug})))
	m, opening := h.OpenMicrophone(speech.DeviceConfig{})
	var reading error
	if opening == nil {
		_, reading = m.Read()
		server.Kill()
		for reading == nil {
			_, reading = m.Read()
		}
	}
	closing := h.Close()
	os.Stderr.WriteString("mine\n")
	unix.Dup3(before, 2, 0)
	unix.Close(before)
	if err := errors.Join(opening, closing); err != nil {
		t.Fatal(err)
	}
	if said, _ := os.ReadFile(path); string(said) != "mine\n" {
		t.Errorf("stderr has %q", said)
	}
	if n := bytes.Count(log.Bytes(), []byte("ALSA")); n == 0 {
		t.Error("the debug log has nothing from ALSA")
	} else {
		t.Logf("%d lines kept for the debug log", n)
	}
}
