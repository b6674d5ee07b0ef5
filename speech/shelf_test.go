package speech

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestShelfForgetsWhatWasTakenLongestAgo compares the shelf with a plain list.
func TestShelfForgetsWhatWasTakenLongestAgo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const room = 100
		shelf := newShelf(room)
		var model []shelved // the latest last
		find := func(w wording) int {
			return slices.IndexFunc(model, func(s shelved) bool { return s.wording == w })
		}
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			w := wording{text: rapid.SampledFrom([]string{"a", "b", "c", "d", "e", "f"}).Draw(t, "text")}
			at := find(w)
			pcm, ok := shelf.take(w)
			if ok != (at >= 0) {
				t.Fatalf("%q is there: %v, in the list at %d", w.text, ok, at)
			}
			if ok {
				if len(pcm) != len(model[at].pcm) {
					t.Fatalf("%q has %d samples, want %d", w.text, len(pcm), len(model[at].pcm))
				}
				taken := model[at]
				model = append(slices.Delete(model, at, at+1), taken)
				continue
			}
			pcm = make([]int16, rapid.IntRange(0, room+10).Draw(t, "length"))
			shelf.put(w, pcm)
			if len(pcm) > room {
				continue
			}
			model = append(model, shelved{w, pcm})
			for used(model) > room {
				model = model[1:]
			}
			if shelf.used != used(model) || len(shelf.places) != len(model) || shelf.recent.Len() != len(model) {
				t.Fatalf("%d samples of %d sentences, want %d of %d", shelf.used, len(shelf.places), used(model), len(model))
			}
		}
	})
}

func used(model []shelved) int {
	n := 0
	for _, s := range model {
		n += len(s.pcm)
	}
	return n
}
