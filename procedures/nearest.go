package procedures

import "strings"

// nearest is the candidate most like word, and empty where none is close enough
// to be what was meant.
func nearest(word string, candidates []string) string {
	if len(word) > 80 {
		return ""
	}
	best, closest := "", len([]rune(word))/4+2
	for _, c := range candidates {
		if d := editDistance(strings.ToLower(word), strings.ToLower(c)); d < closest {
			best, closest = c, d
		}
	}
	return best
}

// editDistance counts the letters to insert, delete, change or swap with their
// neighbour to get from a to b.
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	rows := make([][]int, len(x)+1)
	for i := range rows {
		rows[i] = make([]int, len(y)+1)
		rows[i][0] = i
	}
	for j := range y {
		rows[0][j+1] = j + 1
	}
	for i := range x {
		for j := range y {
			change := rows[i][j]
			if x[i] != y[j] {
				change++
			}
			d := min(rows[i][j+1]+1, rows[i+1][j]+1, change)
			if i > 0 && j > 0 && x[i] == y[j-1] && x[i-1] == y[j] {
				d = min(d, rows[i-1][j-1]+1)
			}
			rows[i+1][j+1] = d
		}
	}
	return rows[len(x)][len(y)]
}
