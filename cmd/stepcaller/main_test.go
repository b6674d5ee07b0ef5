package main

import "testing"

func TestExitCodes(t *testing.T) {
	atHome(t)
	for _, c := range []struct {
		want int
		args []string
	}{
		{exitDone, []string{"version"}},
		{exitDone, []string{"--help"}},
		{exitDone, []string{"jobs"}},
		{exitDone, []string{"check", "procedure", "valve-cover", "water-pump", "front-brakes"}},
		{exitDone, []string{"completion", "bash"}},
		{exitUsage, []string{"sing"}},
		{exitUsage, []string{"check", "weather"}},
		{exitUsage, []string{"start"}},
		{exitUsage, []string{"start", "no-such-procedure"}},
		{exitUsage, []string{"--loud"}},
		{exitUsage, []string{"labour", "2000-01-01-1"}},
		{exitUsage, []string{"resume"}},
		{exitUsage, []string{"rehearse", "valve-cover"}},
		{exitUsage, []string{"rehearse", "valve-cover", "--hear", "absent.wav", "--data", t.TempDir()}},
		{exitUsage, []string{"rehearse", "valve-cover", "--hear", "absent.wav"}},
		{exitUsage, []string{"--config", "absent.yaml", "jobs"}},
	} {
		if got := run(t.Context(), c.args); got != c.want {
			t.Errorf("%v: exit code %d, want %d", c.args, got, c.want)
		}
	}
}
