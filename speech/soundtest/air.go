package soundtest

import (
	"bytes"
	"encoding/binary"
	"io"
	"os/exec"
	"sync"
	"time"
)

// rate of the sound that a test gives and gets: mono, samples a second.
const rate = "16000"

// pacat is a client of the server that plays or records raw sound.
func pacat(mode, device, latency string) *exec.Cmd {
	return exec.Command("pacat", mode, "--device="+device, "--raw", "--format=s16le", "--channels=1",
		"--rate="+rate, "--latency-msec="+latency)
}

// SayInto plays pcm, mono at 16 kHz, before the virtual microphone and returns
// when it has been played.
func (s *Server) SayInto(pcm []int16) {
	s.t.Helper()
	wait := s.Saying(pcm)
	wait()
}

// Saying is SayInto that returns at once; the function that it returns waits
// for the end.
func (s *Server) Saying(pcm []int16) (wait func()) {
	s.t.Helper()
	var raw, said bytes.Buffer
	binary.Write(&raw, binary.LittleEndian, pcm)
	c := pacat("--playback", hearing, "500") // a busy machine leaves no hole in it
	c.Stdin, c.Stderr = &raw, &said
	if err := c.Start(); err != nil {
		s.t.Fatalf("speak into the microphone: %v", err)
	}
	return sync.OnceFunc(func() {
		s.t.Helper()
		if err := c.Wait(); err != nil {
			s.t.Errorf("speak into the microphone: %v: %s", err, said.String())
		}
	})
}

// Recording is what the virtual loudspeaker plays, mono at 16 kHz.
type Recording struct {
	command *exec.Cmd
	ended   chan struct{}
	more    chan struct{} // a token when sound has come

	mu  sync.Mutex
	raw []byte
}

// RecordSpeaker records what the virtual loudspeaker plays, from a moment
// before it returns until Stop or the end of the test.
func (s *Server) RecordSpeaker() *Recording {
	s.t.Helper()
	r := &Recording{command: pacat("--record", loudspeaker+".monitor", "20"), ended: make(chan struct{}), more: make(chan struct{}, 1)}
	out, err := r.command.StdoutPipe()
	if err == nil {
		err = r.command.Start()
	}
	if err != nil {
		s.t.Fatalf("record the loudspeaker: %v", err)
	}
	go r.keep(out)
	s.t.Cleanup(func() { r.Stop() })
	if !r.Await(func(pcm []int16) bool { return len(pcm) > 0 }) {
		s.t.Fatal("the loudspeaker cannot be recorded")
	}
	return r
}

func (r *Recording) keep(out io.Reader) {
	defer close(r.ended)
	part := make([]byte, 4096)
	for {
		n, err := out.Read(part)
		r.mu.Lock()
		r.raw = append(r.raw, part[:n]...)
		r.mu.Unlock()
		select {
		case r.more <- struct{}{}:
		default:
		}
		if err != nil {
			return
		}
	}
}

// Sound is the recording so far.
func (r *Recording) Sound() []int16 {
	r.mu.Lock()
	defer r.mu.Unlock()
	pcm := make([]int16, len(r.raw)/2)
	for i := range pcm {
		pcm[i] = int16(binary.LittleEndian.Uint16(r.raw[2*i:]))
	}
	return pcm
}

// Await waits until the recording is such as a test waits for. It reports false
// when that has not come within 30 s, or the recording ended before.
func (r *Recording) Await(such func(pcm []int16) bool) bool {
	limit := time.After(patience)
	for !such(r.Sound()) {
		select {
		case <-r.more:
		case <-r.ended:
			return such(r.Sound())
		case <-limit:
			return false
		}
	}
	return true
}

// Stop ends the recording and returns it.
func (r *Recording) Stop() []int16 {
	r.command.Process.Kill()
	<-r.ended
	r.command.Wait()
	return r.Sound()
}
