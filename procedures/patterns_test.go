package procedures_test

import (
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

func decimal(n int) string { return strconv.Itoa(n) }

func TestOrder_Sequence(t *testing.T) {
	for _, c := range []struct {
		order  procedures.Order
		count  int
		want   []int
		source string
	}{
		{procedures.AsListed, 3, []int{1, 2, 3}, "by definition"},
		{procedures.MiddleOutward, 5, []int{3, 4, 2, 5, 1}, "common practice: a straight cover"},
		{procedures.MiddleOutward, 6, []int{3, 4, 2, 5, 1, 6}, "common practice: a straight cover"},
		{procedures.CrissCross, 4, []int{1, 3, 2, 4}, "common practice: diagonals"},
		{procedures.CrissCross, 6, []int{2, 5, 1, 4, 3, 6}, "common practice: from the middle pair to the corners"},
		{procedures.CrissCross, 10, []int{3, 8, 2, 7, 4, 9, 1, 6, 5, 10}, "common practice: a cylinder head's ten bolts"},
		{procedures.Star, 4, []int{1, 3, 2, 4}, "ASME PCC-1, legacy cross pattern (from memory)"},
		{procedures.Star, 5, []int{1, 3, 5, 2, 4}, "common practice: a wheel's five bolts, a drawn star"},
		{procedures.Star, 6, []int{1, 4, 2, 5, 3, 6}, "common practice: opposite pairs"},
		{procedures.Star, 8, []int{1, 5, 3, 7, 2, 6, 4, 8}, "ASME PCC-1, legacy cross pattern (from memory)"},
		{procedures.Star, 12, []int{1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12}, "ASME PCC-1, legacy cross pattern (from memory)"},
		{procedures.Star, 16, []int{1, 9, 5, 13, 3, 11, 7, 15, 2, 10, 6, 14, 4, 12, 8, 16}, "ASME PCC-1, legacy cross pattern (from memory)"},
		{procedures.CrissCross, 1, []int{1}, "one bolt"},
		{procedures.Star, 0, nil, "no bolt"},
		{"", 4, nil, "no order"},
	} {
		if got := c.order.Sequence(c.count); !slices.Equal(got, c.want) {
			t.Errorf("%s of %d is %v, want %v (%s)", c.order, c.count, got, c.want, c.source)
		}
	}
}

func TestOrder_everyFastenerOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		order := rapid.SampledFrom(procedures.Orders()).Draw(t, "order")
		count := rapid.IntRange(1, 100).Draw(t, "count")
		got := slices.Clone(order.Sequence(count))
		slices.Sort(got)
		if want := procedures.AsListed.Sequence(count); !slices.Equal(got, want) {
			t.Fatalf("%s of %d takes %v", order, count, got)
		}
	})
}

// A gasket is pressed out evenly when the tightened bolts grow from the middle.
func TestOrder_middleFirst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(2, 60).Draw(t, "count")
		middle := float64(count+1) / 2
		before := -1.0
		for _, n := range procedures.MiddleOutward.Sequence(count) {
			distance := max(float64(n)-middle, middle-float64(n))
			if distance < before {
				t.Fatalf("%d of %d comes after one further out", n, count)
			}
			before = distance
		}
	})
}

// Two rows are pulled down evenly when every fastener is followed by one of the other row (common practice). Numbered clockwise, the
// first half is one row.
func TestOrder_crissCrossSwapsSides(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		row := rapid.IntRange(1, 40).Draw(t, "fasteners in a row")
		seq := procedures.CrissCross.Sequence(2 * row)
		for i := 1; i < len(seq); i++ {
			if (seq[i] <= row) == (seq[i-1] <= row) {
				t.Fatalf("%d and %d of two rows of %d are in the same row: %v", seq[i-1], seq[i], row, seq)
			}
		}
	})
}

// A cover is let go from the outside to the middle, so that it does not warp (common practice).
func TestOrder_loosening(t *testing.T) {
	if got := procedures.MiddleOutward.Loosening(5); !slices.Equal(got, []int{1, 5, 2, 4, 3}) {
		t.Errorf("five bolts in a row are slackened %v", got)
	}
	if got := procedures.Order("").Loosening(5); got != nil {
		t.Errorf("no order is %v", got)
	}
}

// In a star every second fastener of an even circle lies straight across from the one before.
func TestOrder_starOpposites(t *testing.T) {
	for count := 4; count <= 40; count += 2 {
		seq := procedures.Star.Sequence(count)
		for i := 0; i < count; i += 2 {
			if gap := (seq[i+1] - seq[i] + count) % count; gap != count/2 {
				t.Errorf("star of %d goes from %d to %d, not straight across", count, seq[i], seq[i+1])
			}
		}
	}
}

// Going across means that no two neighbours of a circle follow each other.
func TestOrder_starGoesAcross(t *testing.T) {
	for count := 5; count <= 40; count++ {
		seq := procedures.Star.Sequence(count)
		for i := 1; i < len(seq); i++ {
			gap := (seq[i] - seq[i-1] + count) % count
			if gap == 1 || gap == count-1 {
				t.Errorf("star of %d goes from %d to its neighbour %d", count, seq[i-1], seq[i])
			}
		}
	}
}

func TestOrder_spoken(t *testing.T) {
	for _, order := range procedures.Orders() {
		if said := order.Sentence(); said == "" || procedures.Speakable(said) != said {
			t.Errorf("%s is said %q", order, said)
		}
		if got, err := procedures.ParseOrder(string(order)); err != nil || got != order {
			t.Errorf("%s is read as %q, error %v", order, got, err)
		}
	}
	if got := procedures.Star.SaySequence(5); got != "1, 3, 5, 2, 4" {
		t.Errorf("star of 5 is said %q", got)
	}
	_, err := procedures.ParseOrder("cris-cross")
	if want := `"cris-cross" is no tightening order; did you mean ` + "`criss-cross`?"; err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
}
