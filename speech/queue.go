package speech

import "sync/atomic"

// queue hands values from one goroutine to another without a lock. It has no
// bound: put allocates, take does not.
type queue[T any] struct {
	first *link[T] // taken already; the taker's
	last  *link[T] // the putter's
}

type link[T any] struct {
	value T
	next  atomic.Pointer[link[T]]
}

func (q *queue[T]) init() {
	q.first = new(link[T])
	q.last = q.first
}

func (q *queue[T]) put(v T) {
	l := &link[T]{value: v}
	q.last.next.Store(l)
	q.last = l
}

func (q *queue[T]) take() (v T, ok bool) {
	l := q.first.next.Load()
	if l == nil {
		return v, false
	}
	var none T
	v, l.value = l.value, none
	q.first = l
	return v, true
}
