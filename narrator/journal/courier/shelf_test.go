package courier_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/storetest"
)

// fleet is some bays at work in one shop.
func fleet(t *testing.T, names ...string) (*courier.Memory, map[string]*bay) {
	t.Helper()
	m := courier.NewMemory("Kettle Street", names...)
	bays := map[string]*bay{}
	for _, name := range names {
		bays[name] = newBay(t, name, at(m, name)).start()
	}
	return m, bays
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// holds waits until a file has a text, "" for not being there.
func holds(t *testing.T, path, want string) {
	t.Helper()
	var got string
	defer func() {
		if t.Failed() {
			t.Logf("%s holds %q", path, got)
		}
	}()
	until(t, path+" holds what it should", func() bool {
		text, err := os.ReadFile(path)
		got = string(text)
		return got == want && (want != "" || errors.Is(err, fs.ErrNotExist))
	})
}

// edition is the text of a procedure that differs from others.
func edition(what string) string {
	return strings.Replace(storetest.Procedure, "Swap the belt.", "Swap the belt "+what+".", 1)
}

func TestAnEditReachesTheOtherBays(t *testing.T) {
	_, bays := fleet(t, "lift-2", "pit", "lift-3")
	file := func(bay string) string { return filepath.Join(bays[bay].procedures(), "fan-belt.yaml") }
	write(t, file("lift-2"), edition("v0"))
	holds(t, file("pit"), edition("v0"))
	holds(t, file("lift-3"), edition("v0"))
	write(t, file("pit"), edition("v1"))
	holds(t, file("lift-2"), edition("v1"))
	holds(t, file("lift-3"), edition("v1"))
	write(t, file("lift-3"), edition("v0")) // back again
	holds(t, file("lift-2"), edition("v0"))
	holds(t, file("pit"), edition("v0"))
}

func TestWhatWasEditedTwiceIsNotMergedByGuess(t *testing.T) {
	_, bays := fleet(t, "lift-2", "pit", "lift-3")
	file := func(bay string) string { return filepath.Join(bays[bay].procedures(), "fan-belt.yaml") }
	write(t, file("lift-2"), edition("v0"))
	holds(t, file("pit"), edition("v0"))
	holds(t, file("lift-3"), edition("v0"))
	bays["pit"].stop()
	write(t, file("lift-2"), edition("of lift-2"))
	write(t, file("pit"), edition("of pit"))
	holds(t, file("lift-3"), edition("of lift-2"))
	bays["pit"].start()
	beside := filepath.Join(bays["pit"].procedures(), "fan-belt.from-lift-2.yaml.txt")
	holds(t, beside, edition("of lift-2"))
	holds(t, file("pit"), edition("of pit"))
	if n := bays["pit"].news(courier.Fault); !strings.Contains(n.Err.Error(), beside) {
		t.Errorf("told %v", n.Err)
	}
	holds(t, file("lift-2"), edition("of lift-2"))
	write(t, file("pit"), edition("of both"))
	if err := os.Remove(beside); err != nil {
		t.Fatal(err)
	}
	for name := range bays {
		holds(t, file(name), edition("of both"))
	}
}

func TestAFileWithMistakesStaysInItsBay(t *testing.T) {
	m, bays := fleet(t, "lift-2", "pit")
	write(t, filepath.Join(bays["lift-2"].procedures(), "fan-belt.yaml"), "id: fan-belt\nsteps: [")
	if n := bays["lift-2"].news(courier.Fault); !strings.Contains(n.Err.Error(), "fan-belt.yaml") {
		t.Errorf("told %v", n.Err)
	}
	if files, err := m.Bay("pit").Files(t.Context(), courier.Procedure); len(files) != 0 || err != nil {
		t.Errorf("the shop has %+v, %v", files, err)
	}
}

func TestAFolderThatWasThereBeforeIsNotOverwritten(t *testing.T) {
	m := courier.NewMemory("Kettle Street", "lift-2", "pit")
	lift, pit := newBay(t, "lift-2", at(m, "lift-2")), newBay(t, "pit", at(m, "pit"))
	write(t, filepath.Join(lift.procedures(), "fan-belt.yaml"), edition("of lift-2"))
	write(t, filepath.Join(pit.procedures(), "fan-belt.yaml"), edition("of pit"))
	lift.start()
	until(t, "lift-2 sent its file", func() bool {
		files, _ := m.Bay("pit").Files(t.Context(), courier.Procedure)
		return len(files) == 1
	})
	pit.start()
	holds(t, filepath.Join(pit.procedures(), "fan-belt.from-lift-2.yaml.txt"), edition("of lift-2"))
	holds(t, filepath.Join(pit.procedures(), "fan-belt.yaml"), edition("of pit"))
}

func TestAVoiceFollowsWhoAgreed(t *testing.T) {
	m, bays := fleet(t, "lift-2", "pit")
	file := func(bay, name string) string { return filepath.Join(bays[bay].album(), name) }
	write(t, file("lift-2", "ines+b.voice"), "how Ines speaks")
	write(t, file("lift-2", "jo.voice"), "how Jo speaks")
	if err := courier.Agree(bays["lift-2"].data, " Ines  B"); err != nil {
		t.Fatal(err)
	}
	write(t, file("lift-2", "ines+b.voice"), "how Ines speaks now")
	holds(t, file("pit", "ines+b.voice"), "how Ines speaks now")
	if files, err := m.Bay("pit").Files(t.Context(), courier.Voice); len(files) != 1 || err != nil || files[0].Name != "ines b/ines+b.voice" {
		t.Errorf("the shop has %+v, %v", files, err)
	}
	if names, err := courier.Agreed(bays["lift-2"].data); len(names) != 1 || names[0] != "ines b" || err != nil {
		t.Errorf("agreed %q, %v", names, err)
	}
	if err := courier.Withdraw(bays["lift-2"].data, "Ines B"); err != nil {
		t.Fatal(err)
	}
	holds(t, file("pit", "ines+b.voice"), "")
	holds(t, file("lift-2", "ines+b.voice"), "how Ines speaks now")
	if files, err := m.Bay("pit").Files(t.Context(), courier.Voice); len(files) != 0 || err != nil {
		t.Errorf("the shop has %+v, %v", files, err)
	}
	if _, err := os.Stat(file("pit", "jo.voice")); err == nil {
		t.Error("Jo was not asked")
	}
}

func TestWhoWithdrawsInAnyBayWithdraws(t *testing.T) {
	m, bays := fleet(t, "lift-2", "pit")
	write(t, filepath.Join(bays["lift-2"].album(), "ines.voice"), "how Ines speaks")
	if err := courier.Agree(bays["lift-2"].data, "Ines"); err != nil {
		t.Fatal(err)
	}
	there := filepath.Join(bays["pit"].album(), "ines.voice")
	holds(t, there, "how Ines speaks")
	if err := courier.Withdraw(bays["pit"].data, "Ines"); err != nil {
		t.Fatal(err)
	}
	until(t, "lift-2 learns of it", func() bool {
		names, err := courier.Agreed(bays["lift-2"].data)
		return len(names) == 0 && err == nil
	})
	if files, err := m.Bay("pit").Files(t.Context(), courier.Voice); len(files) != 0 || err != nil {
		t.Errorf("the shop has %+v, %v", files, err)
	}
	holds(t, filepath.Join(bays["lift-2"].album(), "ines.voice"), "how Ines speaks")
	for _, name := range []string{"", " ", "a/b"} {
		if courier.Agree(bays["pit"].data, name) == nil {
			t.Errorf("%q agreed", name)
		}
	}
}

func TestNoFileOfTheShopLeavesItsFolder(t *testing.T) {
	m := courier.NewMemory("Kettle Street", "lift-2", "pit")
	bad := m.Bay("lift-2")
	for _, name := range []string{"../evil", "/etc/evil", "a/b", ".evil", ""} {
		put(t, bad, courier.Procedure, name, edition("evil"))
	}
	for _, name := range []string{"ines/../evil.voice", "x/ines.voice", "ines/.ines.voice", "/.voice", "ines/ines.wav"} {
		put(t, bad, courier.Voice, name, "evil")
	}
	put(t, bad, courier.Procedure, "good", edition("good"))
	pit := newBay(t, "pit", at(m, "pit")).start()
	holds(t, filepath.Join(pit.procedures(), "good.yaml"), edition("good"))
	pit.stop()
	err := filepath.WalkDir(filepath.Dir(pit.data), func(path string, e fs.DirEntry, err error) error {
		if text, _ := os.ReadFile(path); err == nil && !e.IsDir() && (strings.Contains(string(text), "the belt evil") || string(text) == "evil") {
			t.Errorf("%s was written", path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}
