package procedures

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Order is the name of the pattern in which several fasteners are tightened. The
// empty order means that none is given.
type Order string

// The patterns, by their names in the trade. How the fasteners are numbered
// belongs to the pattern.
const (
	AsListed      Order = "as listed"      // 1, 2, 3 as the drawing numbers them
	MiddleOutward Order = "middle outward" // one row, numbered from one end
	CrissCross    Order = "criss-cross"    // two rows, numbered clockwise round the part from its front left corner
	Star          Order = "star"           // a circle, numbered clockwise from the top
)

// Orders lists the named patterns.
func Orders() []Order { return []Order{AsListed, MiddleOutward, CrissCross, Star} }

// ParseOrder reads the name of a pattern.
func ParseOrder(name string) (Order, error) {
	for _, o := range Orders() {
		if name == string(o) {
			return o, nil
		}
	}
	return "", fmt.Errorf("%q is no tightening order; %s", name, lowerFirst(mendOrder(name)))
}

// mendOrder suggests the pattern nearest to an unknown name.
func mendOrder(name string) string {
	if near := nearest(name, orderNames()); near != "" {
		return fmt.Sprintf("Did you mean `%s`?", near)
	}
	return "Known: " + strings.Join(orderNames(), ", ")
}

func orderNames() (names []string) {
	for _, o := range Orders() {
		names = append(names, string(o))
	}
	return names
}

// Sentence tells the technician how to go round, ready to speak. It is empty for
// the empty order.
func (o Order) Sentence() string {
	switch o {
	case AsListed:
		return "Tighten them in the order listed."
	case MiddleOutward:
		return "Start in the middle and work outward, side to side."
	case CrissCross:
		return "Go criss-cross, from the middle outward."
	case Star:
		return "Go across in a star, never round the circle."
	default:
		return ""
	}
}

// Sequence is the order in which count fasteners are tightened, each by its
// number from 1. It is nil for the empty order and for a count below 1.
func (o Order) Sequence(count int) []int {
	if count < 1 {
		return nil
	}
	switch o {
	case AsListed:
		return listed(count)
	case MiddleOutward:
		return middleOutward(count)
	case CrissCross:
		return crissCross(count)
	case Star:
		return star(count)
	default:
		return nil
	}
}

// Loosening is the order in which count fasteners are slackened: that of tightening from its end to its beginning (common practice). It is nil
// where Sequence is.
func (o Order) Loosening(count int) []int {
	seq := o.Sequence(count)
	slices.Reverse(seq)
	return seq
}

// SaySequence is the sequence as figures for the ear: "3, 2, 4, 1, 5".
func (o Order) SaySequence(count int) string {
	var numbers []string
	for _, n := range o.Sequence(count) {
		numbers = append(numbers, strconv.Itoa(n))
	}
	return strings.Join(numbers, ", ")
}

// listed counts from 1 to n.
func listed(n int) []int {
	seq := make([]int, n)
	for i := range seq {
		seq[i] = i + 1
	}
	return seq
}

// middleOutward begins at the middle of one row and swaps sides: 3 4 2 5 1.
func middleOutward(n int) []int {
	var seq []int
	left, right := (n+1)/2, (n+1)/2+1
	for left >= 1 || right <= n {
		if left >= 1 {
			seq = append(seq, left)
		}
		if right <= n {
			seq = append(seq, right)
		}
		left, right = left-1, right+1
	}
	return seq
}

// crissCross works on two rows of n/2 from the middle outward, each time from a
// corner to the one diagonally across. A last odd fastener, at the end of the
// part, comes last.
func crissCross(n int) []int {
	columns := n / 2
	opposite := func(column int) int { return 2*columns + 1 - column }
	var seq []int
	left, right := (columns+1)/2, columns/2+1
	for ; left >= 1; left, right = left-1, right+1 {
		if left == right {
			seq = append(seq, left, opposite(left))
			continue
		}
		seq = append(seq, left, opposite(right), right, opposite(left))
	}
	if n%2 == 1 {
		seq = append(seq, n)
	}
	return seq
}

// star goes across a circle: in crosses of four where the count allows it, else
// in opposite pairs, else from each fastener to about the far side.
func star(n int) []int {
	var arms []int
	switch {
	case n%4 == 0:
		arms = []int{0, n / 2, n / 4, 3 * n / 4}
	case n%2 == 0:
		arms = []int{0, n / 2}
	default:
		arms = []int{0}
	}
	var seq []int
	for _, first := range leaps(n / len(arms)) {
		for _, arm := range arms {
			seq = append(seq, first+arm)
		}
	}
	return seq
}

// leaps visits 1 to n in leaps of half the way round, taking the next free
// number where one is taken: 1 3 5 2 4.
func leaps(n int) []int {
	taken := make([]bool, n)
	seq := make([]int, 0, n)
	for at := 0; len(seq) < n; at = (at + max(1, n/2)) % n {
		for taken[at] {
			at = (at + 1) % n
		}
		taken[at] = true
		seq = append(seq, at+1)
	}
	return seq
}
