package hearing

import "slices"

// WordErrors count how words that were heard differ from those that were said.
type WordErrors struct {
	Said       int `json:"said"`
	Correct    int `json:"correct"`
	Substitute int `json:"substituted"`
	Delete     int `json:"deleted"`
	Insert     int `json:"inserted"`
}

// Rate is the word error rate: errors over words said. It may pass 1, and is 0
// where nothing was said.
func (e WordErrors) Rate() float64 {
	if e.Said == 0 {
		return 0
	}
	return float64(e.Substitute+e.Delete+e.Insert) / float64(e.Said)
}

func (e *WordErrors) add(o WordErrors) {
	e.Said += o.Said
	e.Correct += o.Correct
	e.Substitute += o.Substitute
	e.Delete += o.Delete
	e.Insert += o.Insert
}

// Weights of an alignment, those of NIST sclite: a substitution is dearer than an
// insertion, but not than an insertion and a deletion.
const (
	costSubstitute = 4
	costDelete     = 3
	costInsert     = 3
)

// Align compares what was heard with what was said, word by word, by the
// alignment of least weight.
func Align(said, heard []string) WordErrors {
	type cell struct {
		cost int
		WordErrors
	}
	row := make([]cell, len(heard)+1)
	for j := 1; j <= len(heard); j++ {
		row[j] = row[j-1]
		row[j].cost += costInsert
		row[j].Insert++
	}
	for _, word := range said {
		above := slices.Clone(row)
		row[0].cost += costDelete
		row[0].Delete++
		for j, other := range heard {
			best := above[j]
			if word == other {
				best.Correct++
			} else {
				best.cost += costSubstitute
				best.Substitute++
			}
			if c := above[j+1]; c.cost+costDelete < best.cost {
				best = c
				best.cost += costDelete
				best.Delete++
			}
			if c := row[j]; c.cost+costInsert < best.cost {
				best = c
				best.cost += costInsert
				best.Insert++
			}
			row[j+1] = best
		}
	}
	e := row[len(heard)].WordErrors
	e.Said = len(said)
	return e
}
