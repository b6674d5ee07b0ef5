package speech

import "container/list"

// shelf keeps sentences up to a number of samples, and forgets first what was taken longest ago.
type shelf struct {
	room, used int
	places     map[wording]*list.Element
	recent     *list.List // of shelved, the latest first
}

type shelved struct {
	wording
	pcm []int16
}

func newShelf(room int) shelf {
	return shelf{room: room, places: make(map[wording]*list.Element), recent: list.New()}
}

// take returns what was put there for w.
func (s *shelf) take(w wording) (pcm []int16, ok bool) {
	place, ok := s.places[w]
	if !ok {
		return nil, false
	}
	s.recent.MoveToFront(place)
	return place.Value.(shelved).pcm, true
}

// put keeps pcm for w, which is not there yet; or not at all when it alone is more than there is room for.
func (s *shelf) put(w wording, pcm []int16) {
	if len(pcm) > s.room {
		return
	}
	s.places[w] = s.recent.PushFront(shelved{w, pcm})
	s.used += len(pcm)
	for s.used > s.room {
		oldest := s.recent.Remove(s.recent.Back()).(shelved)
		delete(s.places, oldest.wording)
		s.used -= len(oldest.pcm)
	}
}
