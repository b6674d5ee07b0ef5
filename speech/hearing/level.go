package hearing

import (
	"errors"
	"math"
	"slices"

	"stepcaller/speech"
)

// ActiveMargin is how far below the active level a frame may lie and still be
// active, in dB: the margin of ITU-T P.56, method B (12/2011).
const ActiveMargin = 15.9

// errSilent says that there is nothing to measure.
var errSilent = errors.New("it holds nothing but silence")

// silent is the mean square below which a frame counts as silence: -90 dBFS.
const silent = 1e-9

// ActiveLevel is the level of the active frames among those whose mean squares
// are given, full scale 1: dBFS, 10 log10 of their mean. As in ITU-T P.56 the
// active frames are those no more than ActiveMargin below the very level that
// they give; unlike there, no time after a frame counts with it, so that short
// words are not made quieter by the pause behind them. It is errSilent where
// every frame is silence.
func ActiveLevel(squares []float64) (float64, error) {
	sorted := slices.Clone(squares)
	slices.Sort(sorted)
	sum, n := 0.0, 0
	level := math.Inf(-1)
	for i := len(sorted) - 1; i >= 0 && sorted[i] > silent; i-- {
		sum += sorted[i]
		n++
		if l := decibels(sum / float64(n)); l-decibels(sorted[i]) <= ActiveMargin {
			level = l
		}
	}
	if n == 0 {
		return 0, errSilent
	}
	return level, nil
}

// Speech is where and how loud a clip's speech is.
type Speech struct {
	Level    float64        // active level, dBFS
	From, To speech.Samples // first sample of it, first after its last
	Quiet    bool           // the clip's own background is so quiet that From and To are sure
}

// MeasureSpeech finds the speech of a clip. It reaches from the first to the last
// 30 ms that stand above an edge: 30 dB below the active level where the quietest
// tenth of the clip is at least 10 dB below that; otherwise 10 dB above it, but
// no higher than active frames may be.
func MeasureSpeech(pcm []int16) (Speech, error) {
	const run, quarter = 3, speech.Frame / 4
	squares := meanSquares(pcm, speech.Frame)
	level, err := ActiveLevel(squares)
	if err != nil {
		return Speech{}, err
	}
	quietest := slices.Clone(squares)
	slices.Sort(quietest)
	sum, tenth := 0.0, (len(quietest)+9)/10
	for _, v := range quietest[:tenth] {
		sum += v
	}
	background := decibels(sum / float64(tenth))
	edge := max(level-30, min(level-ActiveMargin, background+10))
	above := func(v float64) bool { return decibels(v) >= edge }
	first, last := 0, len(squares)-1
	for first+run < len(squares) && !all(squares[first:first+run], above) {
		first++
	}
	for last-run >= first && !all(squares[last-run+1:last+1], above) {
		last--
	}
	s := Speech{Level: level, Quiet: background+10 <= level-30, From: speech.Samples(first * speech.Frame), To: min(speech.Samples((last+1)*speech.Frame), speech.Samples(len(pcm)))}
	// Within the outer frames the edge is found to a quarter of one.
	for i, v := range meanSquares(pcm[s.From:min(s.From+speech.Frame, s.To)], quarter) {
		if above(v) {
			s.From += speech.Samples(i * quarter)
			break
		}
	}
	tail := meanSquares(pcm[max(s.From, s.To-speech.Frame):s.To], quarter)
	for len(tail) > 1 && !above(tail[len(tail)-1]) {
		tail = tail[:len(tail)-1]
		s.To -= quarter
	}
	return s, nil
}

func all(v []float64, is func(float64) bool) bool {
	return !slices.ContainsFunc(v, func(x float64) bool { return !is(x) })
}

// meanSquares measures pieces of the given length; the last may be shorter.
func meanSquares(pcm []int16, length int) []float64 {
	squares := make([]float64, 0, len(pcm)/length+1)
	for piece := range slices.Chunk(pcm, length) {
		sum := 0.0
		for _, v := range piece {
			sum += float64(v) * float64(v)
		}
		squares = append(squares, sum/float64(len(piece))/(fullScale*fullScale))
	}
	return squares
}

const fullScale = 32768

// decibels is the level of a mean square.
func decibels(square float64) float64 { return 10 * math.Log10(max(square, 1e-12)) }

// gain is the factor on samples that raises a level by db.
func gain(db float64) float64 { return math.Pow(10, db/20) }
