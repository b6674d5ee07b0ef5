package speech_test

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"stepcaller/speech"
	"stepcaller/speech/soundtest"
)

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

const childFile = "SPEECH_TEST_RECORD"

func TestMicrophoneCountsThroughAStandstill(t *testing.T) {
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
	server.SayInto(make([]int16, speech.Rate/4))
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
