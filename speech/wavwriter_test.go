package speech_test

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/speech"
)

// What a crash leaves is the file up to some byte, with the header of the last
// Sync or of none.
func TestMendWAVSavesEveryWholeSample(t *testing.T) {
	path := filepath.Join(t.TempDir(), "memo.wav")
	rapid.Check(t, func(r *rapid.T) {
		pcm := mains(rapid.IntRange(0, 30000).Draw(r, "length"), speech.Rate)
		synced := rapid.IntRange(0, len(pcm)).Draw(r, "synced")
		w, err := speech.NewWAVWriter(path)
		if err != nil {
			r.Fatal(err)
		}
		w.Append(pcm[:synced])
		if rapid.Bool().Draw(r, "sync") {
			if err := w.Sync(); err != nil {
				r.Fatal(err)
			}
		}
		w.Append(pcm[synced:])
		left, err := os.ReadFile(path) // what has reached the file so far
		if err != nil {
			r.Fatal(err)
		}
		w.Close()
		left = left[:rapid.IntRange(44, len(left)).Draw(r, "cut")]
		if err := os.WriteFile(path, left, 0o644); err != nil {
			r.Fatal(err)
		}
		n, err := speech.MendWAV(path)
		if err != nil {
			r.Fatal(err)
		}
		got := readWAV(t, path)
		if want := (len(left) - 44) / 2; int(n) != want || !slices.Equal(got, pcm[:want]) {
			r.Fatalf("%d samples mended, %d read, %d written", n, len(got), want)
		}
		mended, _ := os.ReadFile(path)
		if n2, err := speech.MendWAV(path); n2 != n || err != nil {
			r.Fatalf("mending again: %d, %v", n2, err)
		}
		if again, _ := os.ReadFile(path); !bytes.Equal(mended, again) {
			r.Fatal("mending again changes the file")
		}
	})
}

func TestMendWAVLeavesOthersAlone(t *testing.T) {
	check := func(what string, data []byte) {
		t.Helper()
		path := filepath.Join(t.TempDir(), "other.wav")
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		if n, err := speech.MendWAV(path); err == nil {
			t.Errorf("%s: mended to %d samples", what, n)
		}
		if after, _ := os.ReadFile(path); !bytes.Equal(after, data) {
			t.Errorf("%s: changed", what)
		}
	}
	stereo, err := os.ReadFile(writeWAV(t, mains(100, speech.Rate), speech.Rate, 16, 2))
	if err != nil {
		t.Fatal(err)
	}
	check("stereo", stereo[:200])
	check("empty", nil)
	check("half a header", stereo[:20])
	check("text", bytes.Repeat([]byte("torque "), 20))
}

type ramp struct{ next int16 }

func (r *ramp) Pull(out []int16) {
	for i := range out {
		out[i] = r.next
		r.next++
	}
}

func TestCreateWAVWritesWhatItPulls(t *testing.T) {
	path := filepath.Join(t.TempDir(), "out.wav")
	sink, err := speech.CreateWAV(path, &ramp{})
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range []speech.Samples{160, 1, 0, 500, 339} {
		if err := sink.Advance(n); err != nil {
			t.Fatal(err)
		}
	}
	if err := sink.Close(); err != nil {
		t.Fatal(err)
	}
	got := readWAV(t, path)
	for i, v := range got {
		if int(v) != i {
			t.Fatalf("sample %d is %d", i, v)
		}
	}
	if len(got) != 1000 {
		t.Errorf("%d samples, want 1000", len(got))
	}
	if err := sink.Advance(1); err == nil {
		t.Error("a closed sink goes on")
	}
	if err := sink.Close(); err != nil {
		t.Errorf("closing again: %v", err)
	}
}
