package procedures_test

import (
	"cmp"
	"encoding/xml"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"stepcaller/procedures"
)

// label is a text of a drawing with its place.
type label struct {
	X    int    `xml:"x,attr"`
	Y    int    `xml:"y,attr"`
	Text string `xml:",chardata"`
}

// labels reads the texts of a drawing, which must be whole XML.
func labels(t *testing.T, figure procedures.Figure) []label {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("library", figure.File))
	if err != nil {
		t.Fatal(err)
	}
	var drawing struct {
		Labels []label `xml:"g>text"`
	}
	if err := xml.Unmarshal(data, &drawing); err != nil {
		t.Fatalf("%s: %v", figure.File, err)
	}
	return drawing.Labels
}

func TestPictures_bundled(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range procedures.Bundled() {
		for _, step := range p.Steps {
			for _, figure := range step.Figures {
				seen[figure.File] = true
				if len(labels(t, figure)) == 0 {
					t.Errorf("%s: %s has no text", p.ID, figure.File)
				}
			}
		}
	}
	files, err := filepath.Glob("library/figures/*")
	if err != nil || len(files) != len(seen) || len(files) < 2 {
		t.Errorf("the steps show %v, the folder holds %v, error %v", seen, files, err)
	}
}

// The drawing of the cover bolts shows the order that is called: bolts are numbered clockwise from the top left, and each bears its turn.
func TestPictures_coverBolts(t *testing.T) {
	p, _, err := procedures.Find(procedures.Demo)
	if err != nil {
		t.Fatal(err)
	}
	at, _ := p.Index("cover-tight")
	all := labels(t, p.Steps[at].Figures[0])
	clockwise := func(a, b label) int {
		const middle = 115 // between the two rows
		if top := a.Y < middle; top != (b.Y < middle) || !top {
			return cmp.Or(cmp.Compare(a.Y/middle, b.Y/middle), cmp.Compare(b.X, a.X))
		}
		return cmp.Compare(a.X, b.X)
	}
	slices.SortFunc(all, clockwise)
	turns := map[int]int{} // bolt by turn
	for _, l := range all {
		if turn, err := strconv.Atoi(l.Text); err == nil {
			turns[turn] = len(turns) + 1
		}
	}
	var shown []int
	for turn := range len(turns) {
		shown = append(shown, turns[turn+1])
	}
	torque := p.Steps[at].Torque[0]
	if want := torque.Order.Sequence(torque.Count); !slices.Equal(shown, want) {
		t.Errorf("the drawing goes %v, the call %v", shown, want)
	}
}
