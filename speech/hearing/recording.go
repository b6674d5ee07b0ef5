package hearing

import (
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"time"

	"stepcaller/speech"
)

// recording is a file that holds no command, played at a level with Tail of
// near silence behind it, so that its last sound is decided on too.
type recording struct {
	track *speech.Track
	gain  float64
	r     *rand.Rand
	tail  speech.Samples // still to come; below 0 while the track plays
	at    speech.Samples
	frame [speech.Frame]int16
}

// openRecording brings the file's active level to SpeechLevel, or leaves it as
// it is with keep. It reads the whole file once for that.
func openRecording(path string, keep bool) (_ *recording, length speech.Samples, err error) {
	squares, length, err := fileSquares(path)
	if err != nil {
		return nil, 0, err
	}
	level, err := ActiveLevel(squares)
	if err != nil {
		return nil, 0, err
	}
	track, err := speech.OpenTrack(path, 0)
	if err != nil {
		return nil, 0, err
	}
	if keep {
		level = SpeechLevel
	}
	return &recording{track: track, gain: gain(SpeechLevel - level), r: rand.New(rand.NewPCG(1, 1)), tail: -1}, length, nil
}

func fileSquares(path string) (squares []float64, length speech.Samples, err error) {
	track, err := speech.OpenTrack(path, 0)
	if err != nil {
		return nil, 0, err
	}
	defer func() { err = errors.Join(err, track.Close()) }()
	for {
		b, err := track.Read()
		if errors.Is(err, io.EOF) {
			return squares, track.Length(), nil
		}
		if err != nil {
			return nil, 0, err
		}
		squares = append(squares, meanSquares(b.PCM, speech.Frame)...)
	}
}

func (r *recording) Read() (speech.Block, error) {
	var pcm []int16
	if r.tail < 0 {
		b, err := r.track.Read()
		switch {
		case errors.Is(err, io.EOF):
			r.tail = speech.SamplesIn(Tail)
		case err != nil:
			return speech.Block{}, err
		default:
			pcm = b.PCM
		}
	}
	if pcm == nil {
		if r.tail <= 0 {
			return speech.Block{}, io.EOF
		}
		r.tail -= speech.Frame
	}
	dither := fullScale * gain(DitherLevel)
	for i := range r.frame {
		v := dither * r.r.NormFloat64()
		if pcm != nil {
			v += r.gain * float64(pcm[i])
		}
		r.frame[i] = int16(math.Round(max(-fullScale, min(fullScale-1, v))))
	}
	b := speech.Block{At: r.at, PCM: r.frame[:]}
	r.at += speech.Frame
	return b, nil
}

func (r *recording) Anchor() time.Duration { return 0 }
func (r *recording) Close() error          { return r.track.Close() }
