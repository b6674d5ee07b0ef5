package speech

import (
	_ "embed"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"sync"

	"stepcaller/speech/vector"
)

// weights is the trained network; speech/training/MODEL.md is its card.
//
//go:embed weights/ears.bin
var weights []byte

// netStride is the number of frames in one step of the network: 20 ms.
const netStride = 2

// netRing is the number of steps an utterance may be pooled over: 2.56 s.
const netRing = 128

// trained is what the weights in the program hold, decoded the first time that
// it is asked for. Any goroutine may ask.
var trained = sync.OnceValues(func() (*knowledge, error) { return readKnowledge(weights) })

// knowledge is what training left: the names of the classes and the layers.
// It is read once and shared; nothing changes it.
type knowledge struct {
	classes []string // labels first, in the order of training; a name that begins with "~" is no command
	labels  int      // how many of them are phrases
	digits  []string // of the digit head; the first is the blank
	delay   int      // frames that the activity head looks back

	stemA, stemB1, stemB2, stemC1, stemC2, stemD layer
	blocks                                       []block
	activity, digit, hidden, phrase              layer
}

// layer is a folded convolution or a matrix: rows outputs of cols inputs.
type layer struct {
	w, b       []float32
	rows, cols int
}

// block is one residual step: five taps a channel, dilated, then a matrix.
type block struct {
	depth, point layer
	dilation     int
}

// readKnowledge decodes the weights file: "EARS1", the length and text of a
// JSON heading, then 16-bit floats.
func readKnowledge(file []byte) (*knowledge, error) {
	const magic = "EARS1\x00\x00\x00"
	if len(file) < 12 || string(file[:8]) != magic {
		return nil, fmt.Errorf("network weights: not a weights file (it does not begin with EARS1); train again or restore speech/weights/ears.bin")
	}
	length := int(binary.LittleEndian.Uint32(file[8:]))
	if length > len(file)-12 {
		return nil, fmt.Errorf("network weights: the heading is cut off; restore speech/weights/ears.bin")
	}
	var head struct {
		Labels, Classes, Digits []string
		Width, Delay            int
		Dilations               []int
		Tensors                 []struct {
			Name  string
			Shape []int
			At    int
		}
	}
	if err := json.Unmarshal(file[12:12+length], &head); err != nil {
		return nil, fmt.Errorf("network weights: read the heading: %w", err)
	}
	body := file[12+length:]
	tensors := map[string][]float32{}
	for _, t := range head.Tensors {
		n := 1
		for _, d := range t.Shape {
			n *= d
		}
		if (t.At+n)*2 > len(body) {
			return nil, fmt.Errorf("network weights: tensor %s is cut off; restore speech/weights/ears.bin", t.Name)
		}
		v := make([]float32, n)
		for i := range v {
			v[i] = fromHalf(binary.LittleEndian.Uint16(body[2*(t.At+i):]))
		}
		tensors[t.Name] = v
	}
	var missing []string
	take := func(name string) layer {
		w, b := tensors[name+".w"], tensors[name+".b"]
		if len(b) == 0 || len(w)%len(b) != 0 {
			missing = append(missing, name)
			return layer{}
		}
		return layer{w: w, b: b, rows: len(b), cols: len(w) / len(b)}
	}
	k := &knowledge{
		classes: head.Classes, labels: len(head.Labels), digits: head.Digits, delay: head.Delay,
		stemA: take("stem.a").turned(), stemB1: take("stem.b1").turned(), stemB2: take("stem.b2"),
		stemC1: take("stem.c1").turned(), stemC2: take("stem.c2"), stemD: take("stem.d"),
		activity: take("activity"), digit: take("digit"), hidden: take("hidden"), phrase: take("phrase"),
	}
	for i, d := range head.Dilations {
		k.blocks = append(k.blocks, block{
			depth: take(fmt.Sprintf("block%d.depth", i)).turned(), point: take(fmt.Sprintf("block%d.point", i)), dilation: d,
		})
	}
	if len(missing) > 0 {
		return nil, fmt.Errorf("network weights: layers are missing or misshapen: %s", strings.Join(missing, ", "))
	}
	return k, nil
}

// turned is l with its weights input by input, so that inner loops run over
// channels.
func (l layer) turned() layer {
	w := make([]float32, len(l.w))
	for r := range l.rows {
		for c := range l.cols {
			w[c*l.rows+r] = l.w[r*l.cols+c]
		}
	}
	l.w = w
	return l
}

// times fills out with w x + b.
func (l *layer) times(out, x []float32) {
	n := l.cols
	x = x[:n]
	r := 0
	var four [4]float32
	for ; r+4 <= l.rows; r += 4 {
		vector.Dot4(&four, l.w[r*n:(r+4)*n], x, n)
		for i, v := range four {
			out[r+i] = l.b[r+i] + v
		}
	}
	for ; r < l.rows; r++ {
		w := l.w[r*n : (r+1)*n][:len(x)]
		a := l.b[r]
		for i, v := range x {
			a += w[i] * v
		}
		out[r] = a
	}
}

// fromHalf widens an IEEE 754 half-precision number.
func fromHalf(h uint16) float32 {
	sign, exp, frac := uint32(h>>15)<<31, uint32(h>>10)&31, uint32(h)&1023
	switch {
	case exp == 31:
		return math.Float32frombits(sign | 0xff<<23 | frac<<13)
	case exp == 0:
		v := float32(frac) / (1 << 24)
		if sign != 0 {
			return -v
		}
		return v
	}
	return math.Float32frombits(sign | (exp+112)<<23 | frac<<13)
}
