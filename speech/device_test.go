package speech_test

import (
	"bytes"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"stepcaller/speech"
	"stepcaller/speech/soundtest"
)

// patience is how long a test waits for something that is going to happen.

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

// chirps is sound with a chirp at each of the places, and as much silence

// after the last.

// findChirps returns where chirps begin: the places at which the correlation

// with a chirp is at least 0.8 and highest within its length.

// hear reads the source until it has heard that many chirps and 100 ms more.

// With the device's own rate the same is asked for as at 16 kHz.

// offset is a source whose first samples have been read already.

// resampler's ringing.

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
	s = openSpeaker(t, h, speech.DeviceConfig{}, p)
	wait := server.Saying(chirps(1600))
	hear(t, m, 1)
	wait()
	r := server.RecordSpeaker()
	p.Say(1, chirps(1600, 8000, 14400)) // one of them without a pause of the machine's
	if !r.Await(func(pcm []int16) bool { return len(findChirps(pcm)) > 0 }) {
		t.Errorf("the loudspeaker plays nothing: %v, %v", s.Advance(speech.Frame), p.Reports())
	}
}

func TestDeviceThatHangsIsLeftBehind(t *testing.T) {
	server := soundtest.Start(t)
	h := newHost(t)
	m := openMicrophone(t, h, speech.DeviceConfig{})
	openSpeaker(t, h, speech.DeviceConfig{}, speech.NewPlayer())
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
	t.Logf("lost after %v", time.Since(began).Round(time.Millisecond))
	if err := h.Reopen(); !errors.Is(err, speech.ErrStuck) {
		t.Errorf("reopening while the server hangs: %v", err)
	}
	server.Thaw()
	for began := time.Now(); h.Reopen() != nil; {
		if time.Since(began) > patience {
			t.Fatalf("the server goes on, and still: %v", h.Reopen())
		}
	}
	m = openMicrophone(t, h, speech.DeviceConfig{})
	openSpeaker(t, h, speech.DeviceConfig{}, speech.NewPlayer())
	if _, err := m.Read(); err != nil {
		t.Fatal(err)
	}
}

// A reader that is away for more than the 2 s that are stored finds a hole in

// the sound and the count right behind it.

// childFile names, to the process that records for the next test, its file.

// A whole program that stands still for a second, its audio thread too: the

// count is right whether the sound server kept the sound or dropped it.

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
