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

// The library shows everything that a file may say. What one procedure leaves out, another has.
func TestBundled_exercisesFormat(t *testing.T) {
	var wanted []string
	for _, o := range procedures.Orders() {
		wanted = append(wanted, "order "+string(o))
	}
	for _, kind := range procedures.ItemKinds() {
		wanted = append(wanted, "ledger "+kind.Leave)
	}
	wanted = append(wanted, "condition dry", "condition oiled", "condition thread locker", "condition sealant",
		"low spark plug", "low drain plug", "low bearing preload", "low into aluminium", "again after heat", "again after road test",
		"timer ", "timer begin", "timer word", "await", "unit N·m", "unit lbf·ft", "unit lbf·in",
		"stage snug", "stage half", "stage full", "stage angle", "new", "left-hand", "loosening left-hand", "lengths", "positions",
		"reading limits", "reading wear", "reading positions", "reading before", "reading after", "reading difference", "reading °C",
		"approval", "only if two", "unless", "cover", "overlap", "diagnosis", "operations", "part number", "core", "capacity", "level",
		"figure", "starts", "drives", "caution named", "caution answered", "caution waits")
	shown := map[string]bool{}
	for _, p := range procedures.Bundled() {
		showProcedure(p, shown)
		for i := range p.Steps {
			showStep(&p.Steps[i], shown)
		}
	}
	for _, what := range wanted {
		if !shown[what] {
			t.Errorf("no bundled procedure has %q", what)
		}
	}
}

func showProcedure(p *procedures.Procedure, shown map[string]bool) {
	shown["overlap"] = shown["overlap"] || p.Overlap > 0
	shown["cover"] = shown["cover"] || len(p.Covers) > 0
	for _, c := range p.Choices {
		shown["approval"] = shown["approval"] || c.Approval
	}
	for _, o := range p.Book {
		shown["diagnosis"] = shown["diagnosis"] || o.Diagnosis
	}
	for _, part := range p.Parts {
		shown["core"] = shown["core"] || part.Core
		shown["part number"] = shown["part number"] || part.Number != ""
	}
	for _, f := range p.Fluids {
		shown["capacity"] = shown["capacity"] || f.Capacity != "" && f.Spec != ""
	}
}

func showStep(s *procedures.Step, shown map[string]bool) {
	for what, has := range map[string]bool{
		"figure": len(s.Figures) > 0, "starts": s.Starts, "drives": s.Drives, "await": len(s.Await) > 0, "level": len(s.Level) > 0,
		"operations": len(s.Operations) > 0, "only if two": len(s.OnlyIf) > 1,
	} {
		shown[what] = shown[what] || has
	}
	for kind, items := range map[string][]string{"disconnect": s.Disconnect, "loosen": s.Loosen, "off": s.Off, "by_hand": s.ByHand,
		"open": s.Open, "plug": s.Plug, "stuff": s.Stuff, "drain": s.Drain, "support": s.Support} {
		shown["ledger "+kind] = shown["ledger "+kind] || len(items) > 0
	}
	for _, premise := range s.OnlyIf {
		shown["unless"] = shown["unless"] || premise.No
	}
	for _, timer := range s.Timers {
		shown["timer "+string(timer.From)] = true
	}
	for _, c := range s.Cautions {
		shown["caution named"] = shown["caution named"] || c.Name != ""
		shown["caution answered"] = shown["caution answered"] || c.Name == "" && c.Answer != ""
		shown["caution waits"] = shown["caution waits"] || c.Wait > 0
	}
	for _, l := range s.Loosening {
		shown["loosening left-hand"] = shown["loosening left-hand"] || l.LeftHand
	}
	for _, r := range s.Readings {
		shown["reading "+r.When], shown["reading "+r.Unit] = true, true
		shown["reading limits"] = shown["reading limits"] || r.Min != nil && r.Max != nil
		shown["reading wear"] = shown["reading wear"] || r.Wear != nil
		shown["reading positions"] = shown["reading positions"] || len(r.Positions) > 0
		shown["reading difference"] = shown["reading difference"] || r.Difference && r.Unit == "°C"
	}
	for _, torque := range s.Torque {
		shown["order "+string(torque.Order)], shown["condition "+string(torque.Condition)], shown["low "+string(torque.Low)] = true, true, true
		shown["unit "+torque.Value.Unit().String()] = true
		for what, has := range map[string]bool{"new": torque.New, "left-hand": torque.LeftHand, "stage angle": torque.Angle > 0,
			"lengths": len(torque.Lengths) > 0, "positions": len(torque.Positions) > 0} {
			shown[what] = shown[what] || has
		}
		for _, stage := range torque.Stages {
			shown["stage "+stage.Name] = true
		}
		for _, again := range torque.Again {
			shown["again "+string(again)] = true
		}
	}
}
