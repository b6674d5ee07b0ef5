package speech

import (
	"encoding/binary"
	"math"
	"os"
	"testing"
)

// vectors are samples and what the training's own code made of them with the
// same rounded weights: speech/training/train.py writes them beside the
// weights.
type vectors struct {
	pcm                           []int16
	first, last                   int
	mel, activity, digits, phrase []float32
}

func readVectors(t *testing.T) (v vectors) {
	t.Helper()
	file, err := os.ReadFile("../testdata/ears/vectors.bin")
	if err != nil {
		t.Fatal(err)
	}
	number := func() int {
		n := int(int32(binary.LittleEndian.Uint32(file)))
		file = file[4:]
		return n
	}
	samples, _, first, last := number(), number(), number(), number()
	v.first, v.last = first, last
	for range samples {
		v.pcm = append(v.pcm, int16(binary.LittleEndian.Uint16(file)))
		file = file[2:]
	}
	for _, into := range []*[]float32{&v.mel, &v.activity, &v.digits, &v.phrase} {
		for range number() {
			*into = append(*into, math.Float32frombits(binary.LittleEndian.Uint32(file)))
			file = file[4:]
		}
	}
	return v
}

// The reference is the training's PyTorch network.
func TestNetworkAgreesWithTraining(t *testing.T) {
	v := readVectors(t)
	k, err := readKnowledge(weights)
	if err != nil {
		t.Fatal(err)
	}
	m, s := newMel(0), newNetStream(k)
	var bands [melBands]float32
	var pcm [Frame]float32
	worst := func(name string, at int, got, want float32) {
		if d := math.Abs(float64(got - want)); d > 1e-4 {
			t.Fatalf("%s %d: %v, training has %v", name, at, got, want)
		}
	}
	step := 0
	for f := range len(v.pcm) / Frame {
		for i := range pcm {
			pcm[i] = float32(v.pcm[f*Frame+i]) / 32768
		}
		m.frame(pcm[:], bands[:])
		for b, got := range bands {
			worst("mel", f*melBands+b, got, v.mel[f*melBands+b])
		}
		activity, done := s.hear(bands[:])
		if !done {
			continue
		}
		worst("activity", step, activity, sigmoid(v.activity[step]))
		want := append([]float32(nil), v.digits[step*k.digit.rows:(step+1)*k.digit.rows]...)
		softmax(want)
		for i := range want {
			worst("digit", step, s.digits[step*k.digit.rows+i], want[i])
		}
		if step++; step == v.last {
			got := append([]float32(nil), s.judge(v.first, v.last)...)
			want := append([]float32(nil), v.phrase...)
			softmax(want)
			for i := range want {
				worst("phrase", i, got[i], want[i])
			}
		}
	}
	if step < v.last {
		t.Fatalf("only %d steps", step)
	}
}

func TestDamagedWeightsAreRefused(t *testing.T) {
	for name, file := range map[string][]byte{
		"empty":    {},
		"no magic": make([]byte, 100),
		"heading":  weights[:200],
		"body":     weights[:len(weights)-2],
	} {
		if _, err := readKnowledge(file); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

func TestHalfPrecision(t *testing.T) {
	// IEEE 754-2008, binary16.
	for bits, want := range map[uint16]float32{0x3c00: 1, 0xc000: -2, 0x7bff: 65504, 0x0001: 5.9604645e-08, 0x0400: 6.1035156e-05, 0x3555: 0.33325195, 0x8000: 0} {
		if got := fromHalf(bits); got != want {
			t.Errorf("%#04x is %v, want %v", bits, got, want)
		}
	}
}

func TestNetworkAllocatesNothing(t *testing.T) {
	k, err := readKnowledge(weights)
	if err != nil {
		t.Fatal(err)
	}
	s := newNetStream(k)
	var bands [melBands]float32
	if n := testing.AllocsPerRun(200, func() { s.hear(bands[:]); s.judge(0, s.step) }); n != 0 {
		t.Fatalf("%v allocations a frame", n)
	}
}
