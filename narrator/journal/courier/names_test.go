package courier_test

import (
	"testing"

	"stepcaller/narrator"
	"stepcaller/narrator/journal/courier"
)

func TestInShop(t *testing.T) {
	for _, c := range []struct{ bay, job, want, back string }{
		{"lift-2", "2026-11-25-1", "2026-11-25-1.lift-2", "2026-11-25-1"},
		{"lift-2", "2026-11-25-1.pit", "2026-11-25-1.pit", "2026-11-25-1.pit"},
		{"lift-2", "2026-11-25-1.lift-2", "2026-11-25-1.lift-2", "2026-11-25-1"},
		{"lift-2", "", "@lift-2", ""},
		{"2", "2026-11-25-1.lift-2", "2026-11-25-1.lift-2", "2026-11-25-1.lift-2"},
	} {
		if got := courier.InShop(c.bay, c.job); got != c.want {
			t.Errorf("InShop(%q, %q) = %q, want %q", c.bay, c.job, got, c.want)
		}
		if got := courier.InBay(c.bay, c.want); got != c.back {
			t.Errorf("InBay(%q, %q) = %q, want %q", c.bay, c.want, got, c.back)
		}
	}
}

func TestRename(t *testing.T) {
	e := narrator.Event{Job: "2026-11-25-2", Detail: narrator.Detail{Earlier: "2026-11-20-1", File: "memos/2026-11-25-2-1.wav"}}
	courier.Rename("pit", &e)
	want := narrator.Event{Job: "2026-11-25-2.pit", Detail: narrator.Detail{Earlier: "2026-11-20-1.pit", File: "memos/2026-11-25-2.pit-1.wav"}}
	if e != want {
		t.Errorf("%+v, want %+v", e, want)
	}
	courier.Rename("lift-2", &e)
	if e != want {
		t.Errorf("named again by another bay: %+v", e)
	}
	courier.Localise("lift-2", &e)
	if e != want {
		t.Errorf("in a bay that took it over: %+v", e)
	}
	courier.Localise("pit", &e)
	if want := (narrator.Event{Job: "2026-11-25-2", Detail: narrator.Detail{Earlier: "2026-11-20-1", File: "memos/2026-11-25-2-1.wav"}}); e != want {
		t.Errorf("back in the bay that began it: %+v, want %+v", e, want)
	}
}

func TestValidBay(t *testing.T) {
	for name, want := range map[string]bool{"lift-2": true, "2": true, "": false, "-a": false, "Lift": false, "a.b": false, "a_b": false,
		"abcdefghijklmnopqrstuvwx": true, "abcdefghijklmnopqrstuvwxy": false} {
		if courier.ValidBay(name) != want {
			t.Errorf("%q: %v", name, !want)
		}
	}
}
