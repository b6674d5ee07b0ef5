package study_test

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"

	"stepcaller/narrator/labour/study"
)

// references are figures by case and what they are.
type references map[string]map[string][]float64

// reference is what R 4.2.2 printed of testdata/reference.R: random times, the figures that R's own functions make of them, and the data
// of NIST StRD Michelso.
func reference(t *testing.T) references {
	t.Helper()
	text, err := os.ReadFile("testdata/reference.txt")
	if err != nil {
		t.Fatal(err)
	}
	all := references{}
	for lines := bufio.NewScanner(bytes.NewReader(text)); lines.Scan(); {
		words := strings.Fields(lines.Text())
		if all[words[0]] == nil {
			all[words[0]] = map[string][]float64{}
		}
		for _, w := range words[2:] {
			v, err := strconv.ParseFloat(w, 64)
			if err != nil {
				t.Fatal(err)
			}
			all[words[0]][words[1]] = append(all[words[0]][words[1]], v)
		}
	}
	return all
}

func alike(t *testing.T, what string, got, want []float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s is %v, want %v", what, got, want)
	}
	for i := range got {
		if !(math.Abs(got[i]-want[i]) <= 1e-9*math.Max(1, math.Abs(want[i]))) {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
}

// R's median, quantile (type 7), predict of a constant fitted to logarithms, pt and qt.
func TestTimesAgainstR(t *testing.T) {
	r := reference(t)
	for _, n := range []int{3, 4, 5, 6, 7, 8, 12, 30} {
		want := r[fmt.Sprintf("times-%d", n)]
		times := want["times"]
		if len(times) != n {
			t.Fatalf("%d times of %d", len(times), n)
		}
		low, high := study.Quartiles(times)
		alike(t, "the median", []float64{study.Median(times)}, want["median"])
		alike(t, "the quartiles", []float64{low, high}, want["quartiles"])
		beat, _ := study.Beat(times, 20, study.Prior{})
		quote, _ := study.Quote(times, 0.8, study.Prior{})
		alike(t, "the chance of 20 minutes", []float64{beat}, want["beat-20"])
		alike(t, "the quote", []float64{quote}, want["quote-80"])
		mean, deviation := stat.MeanStdDev(times, nil)
		alike(t, "readings by Niebel", []float64{float64(study.Niebel(mean, deviation, n, 0.95, 0.1))}, want["niebel"])
		if i, ok := study.Next(times, 0.8, study.Prior{}); !ok || (i.Basis == study.Logs) != (n < 9) {
			t.Errorf("%d times: %+v", n, i)
		} else if i.Basis == study.Logs {
			alike(t, "the next", []float64{i.Low, i.High}, want["next"])
		}
	}
}

// R's lm of logarithms on logarithms and its confint.
func TestCurvesAgainstR(t *testing.T) {
	r := reference(t)
	for _, n := range []int{3, 6, 12, 40} {
		want := r[fmt.Sprintf("runs-%d", n)]
		c, ok := study.Learn(want["times"])
		if !ok || c.Runs != n {
			t.Fatalf("%d runs: %+v", n, c)
		}
		alike(t, "the curve", []float64{c.First, c.Slope, c.Rate, c.Low, c.High, c.R2}, want["curve"])
	}
}

func TestRStillSaysSo(t *testing.T) {
	r, err := exec.LookPath("Rscript")
	if err != nil {
		t.Skip("R is not installed (Debian: r-base-core); what it printed once is tested all the same")
	}
	got, err := exec.CommandContext(t.Context(), r, "--vanilla", "testdata/reference.R").Output()
	want, ferr := os.ReadFile("testdata/reference.txt")
	if err != nil || ferr != nil || !bytes.Equal(got, want) {
		t.Errorf("R prints other figures than testdata/reference.txt: %v, %v", err, ferr)
	}
}

// NIST StRD Michelso: mean 299.8524, standard deviation 0.0790105478190518 of 100 values.
func TestMichelso(t *testing.T) {
	times := reference(t)["michelso"]["times"]
	mean, sd := stat.MeanStdDev(times, nil)
	if len(times) != 100 {
		t.Fatalf("%d values", len(times))
	}
	near(t, "mean", mean, 299.8524, 1e-12)
	near(t, "standard deviation", sd, 0.0790105478190518, 1e-12)
	// n = (t·s/(k·mean))² for k = 0.0001 and t(0.975; 99) = 1.98422 (Student's tables) is 27.34, so 28.
	if n := study.Niebel(mean, sd, 100, 0.95, 0.0001); n != 28 {
		t.Errorf("%d readings", n)
	}
}

// norris is NIST StRD Norris, y against x.
var norris = [2][]float64{
	{0.1, 338.8, 118.1, 888, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998, 888.8, 119.6,
		0.3, 0.6, 557.6, 339.3, 888, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2},
	{0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777, 558.2, 0.4, 0.6, 775.5, 666.9, 338, 447.5, 11.6, 556, 228.1, 995.8, 887.6, 120.2,
		0.3, 0.3, 556.8, 339.1, 887.2, 999, 779, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5},
}

// NIST StRD Norris certifies b0 -0.262323073774029, b1 1.00211681802045 with a standard error of 0.000429796848199937, and
// R² 0.999993745883712.
func TestNorris(t *testing.T) {
	b0, b1, deviation, r2 := study.Line(norris[1], norris[0])
	near(t, "b0", b0, -0.262323073774029, 1e-11)
	near(t, "b1", b1, 1.00211681802045, 1e-13)
	near(t, "standard error of b1", deviation, 0.000429796848199937, 1e-14)
	near(t, "R²", r2, 0.999993745883712, 1e-13)
}
