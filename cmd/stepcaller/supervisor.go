package main

import (
	"fmt"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"

	"stepcaller/narrator"
)

// supervisor tells systemd how the daemon fares (sd_notify(3)): ready once devices and journal are open, alive as long as the session's loop goes round, and
// what it does. Where no systemd asked, nothing is told. The session's goroutine uses it, but for stopping.
type supervisor struct {
	every time.Duration // between two signs of life
	next  time.Time
	dog   bool
	up    bool
}

// newSupervisor reads what systemd wants from the environment.
func newSupervisor() *supervisor {
	s := &supervisor{every: 5 * time.Second}
	if limit, err := daemon.SdWatchdogEnabled(false); err == nil && limit > 0 {
		s.every, s.dog = min(s.every, limit/3), true
	}
	return s
}

// alive says that the loop goes round; not more often than is wanted.
func (s *supervisor) alive(status func() string) {
	now := time.Now()
	if now.Before(s.next) {
		return
	}
	s.next = now.Add(s.every)
	state := "STATUS=" + status()
	if s.dog {
		state = "WATCHDOG=1\n" + state
	}
	if !s.up {
		s.up = true
		tell("READY=1")
	}
	tell(state)
}

// stopping says that the end is near.
func (s *supervisor) stopping() { tell("STOPPING=1\nSTATUS=Finishing the sentence") }

// tell sends a state to systemd. It cannot be helped where that fails: systemd then ends the daemon, and says so.
func tell(state string) { _, _ = daemon.SdNotify(false, state) }

// statusOf is what a bay does, without anything that was said or heard.
func statusOf(b *narrator.Bay) string {
	job := b.Job()
	switch {
	case job == nil:
		return fmt.Sprintf("Listening; no job, %d others open", len(b.Others()))
	case len(job.Procedure.Steps) == 0:
		return "Listening; job " + job.ID
	}
	return fmt.Sprintf("Listening; job %s, step %d of %d", job.ID, job.Step+1, len(job.Procedure.Steps))
}
