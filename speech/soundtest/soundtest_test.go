package soundtest_test

import (
	"testing"

	"stepcaller/speech/soundtest"
)

func TestServer(t *testing.T) {
	s := soundtest.Start(t)
	r := s.RecordSpeaker()
	s.SayInto(make([]int16, 16000))
	if n := len(r.Stop()); n < 15000 || n > 70000 {
		t.Errorf("a second's recording has %d samples", n)
	}
	s.Kill()
	s.Restart()
	s.SayInto(make([]int16, 1600))
}
