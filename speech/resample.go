package speech

import "math"

// The kernel of the resampler: a sinc under a Kaiser window. With these
// figures what would fold back is about 90 dB down, and the passband of a
// 16 kHz result reaches 6.5 kHz.
const (
	sincZeros   = 32   // zero crossings on either side
	sincFine    = 512  // table entries between two of them
	sincRolloff = 0.92 // of the lower of the two Nyquist frequencies
	sincBeta    = 9
)

// sincTable holds one side of the kernel; table[i] stands for i/sincFine zero
// crossings.
func sincTable() []float64 {
	table := make([]float64, sincZeros*sincFine+2)
	table[0] = 1
	for i := 1; i < sincZeros*sincFine; i++ {
		x := float64(i) / sincFine
		r := x / sincZeros
		table[i] = math.Sin(math.Pi*x) / (math.Pi * x) * bessel(sincBeta*math.Sqrt(1-r*r)) / bessel(sincBeta)
	}
	return table
}

// bessel is the modified Bessel function of the first kind, order 0, by its
// power series.
func bessel(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > sum*1e-17; k++ {
		term *= (x / (2 * k)) * (x / (2 * k))
		sum += term
	}
	return sum
}

// resampler turns a stream of one rate into a stream of another. Sample k of
// the result stands at exactly k*from/to samples of the input, however long it
// runs: the position is kept in whole numbers.
type resampler struct {
	from, to int
	table    []float64
	cutoff   float64 // of the kernel, in zero crossings an input sample
	reach    int     // input samples the kernel needs on either side

	in    []float64 // input still needed
	start int64     // index of in[0] in the input; below 0 is silence
	out   []float64
	made  int64 // results so far
	given int64 // inputs so far
}

func newResampler(from, to int) *resampler {
	r := &resampler{from: from, to: to}
	if from == to {
		return r
	}
	r.table = sincTable()
	r.cutoff = sincRolloff * min(1, float64(to)/float64(from))
	r.reach = int(math.Ceil(sincZeros / r.cutoff))
	r.in = make([]float64, r.reach)
	r.start = -int64(r.reach)
	return r
}

// push takes in more input and returns the results that it completes; they are
// valid until the next call.
func (r *resampler) push(in []float64) []float64 {
	r.given += int64(len(in))
	if r.from == r.to {
		r.out = append(r.out[:0], in...)
		return r.out
	}
	r.in = append(r.in, in...)
	return r.resample(math.MaxInt64)
}

// flush returns the results that the input's end leaves to be made. The whole
// stream then has as many results as there are result times before its end.
func (r *resampler) flush() []float64 {
	if r.from == r.to {
		return nil
	}
	r.in = append(r.in, make([]float64, r.reach+1)...)
	all := (r.given*int64(r.to) + int64(r.from) - 1) / int64(r.from)
	return r.resample(all)
}

func (r *resampler) resample(limit int64) []float64 {
	r.out = r.out[:0]
	from, to := int64(r.from), int64(r.to)
	for r.made < limit {
		whole := r.made * from / to
		part := float64(r.made*from%to) / float64(to)
		centre := int(whole - r.start)
		if centre+r.reach >= len(r.in) {
			break
		}
		r.out = append(r.out, r.at(centre, part))
		r.made++
	}
	if spent := int(r.made*from/to-r.start) - r.reach; spent > 0 {
		r.in = r.in[:copy(r.in, r.in[spent:])]
		r.start += int64(spent)
	}
	return r.out
}

// at is the result at part of a sample after in[centre].
func (r *resampler) at(centre int, part float64) float64 {
	sum := 0.0
	step := r.cutoff * sincFine
	x := part * step
	for i := centre; x < sincZeros*sincFine; i-- {
		k := int(x)
		sum += r.in[i] * (r.table[k] + (x-float64(k))*(r.table[k+1]-r.table[k]))
		x += step
	}
	x = (1 - part) * step
	for i := centre + 1; x < sincZeros*sincFine; i++ {
		k := int(x)
		sum += r.in[i] * (r.table[k] + (x-float64(k))*(r.table[k+1]-r.table[k]))
		x += step
	}
	return sum * r.cutoff
}

// toInt16 appends samples rounded and held within 16 bits.
func toInt16(out []int16, in []float64) []int16 {
	for _, v := range in {
		out = append(out, int16(math.Round(max(math.MinInt16, min(math.MaxInt16, v)))))
	}
	return out
}
