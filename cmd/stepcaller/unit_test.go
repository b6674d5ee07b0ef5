package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

func TestTheUnitIsInstalled(t *testing.T) {
	home := atHome(t)
	data := filepath.Join(home, "100 % bay")
	out := expect(t, exitDone, "systemctl --user enable --now stepcaller", "unit", "--install", "--data", data)
	path := filepath.Join(home, ".config", "systemd", "user", "stepcaller.service")
	text, err := os.ReadFile(path)
	if err != nil || !strings.Contains(out, path) {
		t.Fatal(err, out)
	}
	for _, line := range []string{"Type=notify", "WatchdogSec=30", " listen --data \"" + home + "/100 %% bay\"\n", "ReadWritePaths=\"-" + home + "/100 %% bay\" -" + home + "/.config/stepcaller/procedures"} {
		if !strings.Contains(string(text), line) {
			t.Errorf("no %q in\n%s", line, text)
		}
	}
	if info, err := os.Stat(data); err != nil || !info.IsDir() {
		t.Error(err)
	}
	expect(t, exitDone, path, "unit", "--install", "--data", data)
	if _, err := os.Stat(path + ".old"); err == nil {
		t.Error("the same unit is kept as an old one")
	}
	expect(t, exitDone, path, "unit", "--install")
	if old, err := os.ReadFile(path + ".old"); err != nil || string(old) != string(text) {
		t.Error("the old unit is not kept", err)
	}
}

// systemd itself reads the unit, and tells how exposed a service with it is, as if it ran as root.
func TestSystemdReadsTheUnit(t *testing.T) {
	if _, err := exec.LookPath("systemd-analyze"); err != nil {
		t.Skip("there is no systemd here")
	}
	atHome(t)
	t.Setenv("XDG_RUNTIME_DIR", t.TempDir())
	path := filepath.Join(t.TempDir(), "stepcaller.service")
	if err := os.WriteFile(path, []byte(expect(t, exitDone, "[Service]", "unit")), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("systemd-analyze", "verify", "--user", path).CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("verify: %v\n%s", err, out)
	}
	out, err := exec.Command("systemd-analyze", "security", "--offline=yes", "--user", "--no-pager", path).CombinedOutput()
	found := regexp.MustCompile(`exposure level for stepcaller.service: ([0-9.]+)`).FindSubmatch(out)
	if err != nil || found == nil {
		t.Skipf("this systemd does not judge a unit that is not loaded: %v\n%s", err, out)
	}
	exposure, err := strconv.ParseFloat(string(found[1]), 64)
	t.Logf("systemd-analyze security --offline=yes --user: exposure %.1f of 10", exposure)
	if err != nil || exposure > 5.5 {
		t.Errorf("%s", out)
	}
}
