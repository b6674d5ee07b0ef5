package speech

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// tuningForm is a tuning as JSON. Weights are 32-bit floats, little-endian,
// which JSON holds as base64.
type tuningForm struct {
	Network string   `json:"network"`
	Words   []string `json:"words,omitempty"`
	Rows    int      `json:"rows"`
	Columns int      `json:"columns"`
	Weights []byte   `json:"weights"`
	Biases  []byte   `json:"biases"`
}

// MarshalJSON writes every weight exactly.
func (t *Tuning) MarshalJSON() ([]byte, error) {
	return json.Marshal(tuningForm{Network: t.net, Words: t.own, Rows: t.phrase.rows, Columns: t.phrase.cols,
		Weights: floatBytes(t.phrase.w), Biases: floatBytes(t.phrase.b)})
}

// UnmarshalJSON refuses weights whose number does not fit.
func (t *Tuning) UnmarshalJSON(data []byte) error {
	var f tuningForm
	if err := json.Unmarshal(data, &f); err != nil {
		return err
	}
	w, b := bytesFloat(f.Weights), bytesFloat(f.Biases)
	if f.Rows <= 0 || f.Columns <= 0 || len(b) != f.Rows || len(w) != f.Rows*f.Columns {
		return fmt.Errorf("tuning: %d weights and %d biases are not %d rows of %d", len(w), len(b), f.Rows, f.Columns)
	}
	for _, v := range slices.Concat(w, b) {
		if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
			return errors.New("tuning: a weight is no number")
		}
	}
	*t = Tuning{phrase: layer{w: w, b: b, rows: f.Rows, cols: f.Columns}, own: f.Words, net: f.Network}
	return nil
}

func floatBytes(x []float32) []byte {
	out := make([]byte, 0, 4*len(x))
	for _, v := range x {
		out = binary.LittleEndian.AppendUint32(out, math.Float32bits(v))
	}
	return out
}

func bytesFloat(b []byte) []float32 {
	out := make([]float32, 0, len(b)/4)
	for ; len(b) >= 4; b = b[4:] {
		out = append(out, math.Float32frombits(binary.LittleEndian.Uint32(b)))
	}
	return out
}

// sealMark begins the first line of a sealed file; the format's version and the
// checksum of what follows the line come behind it.
const sealMark, sealVersion = "STEPCALLER VOICE", 1

// seal is v as JSON under a line with its checksum.
func seal(v any) ([]byte, error) {
	body, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(nil, "%s %d %x\n%s", sealMark, sealVersion, sha256.Sum256(body), body), nil
}

// ErrVoiceDamaged is the error where a technician's voice cannot be read from its
// file, though the file is there.
var ErrVoiceDamaged = errors.New("the voice cannot be used")

// What can be wrong with a sealed file.
var (
	errNotSealed = fmt.Errorf("%w: this is no file of a technician's voice", ErrVoiceDamaged)
	errTooNew    = fmt.Errorf("%w: it was written by a newer version of this program", ErrVoiceDamaged)
	errBroken    = fmt.Errorf("%w: it is damaged: its checksum does not fit", ErrVoiceDamaged)
)

// unseal reads what seal wrote into v.
func unseal(file []byte, v any) error {
	line, body, found := bytes.Cut(file, []byte("\n"))
	var version int
	var sum string
	rest, marked := strings.CutPrefix(string(line), sealMark+" ")
	if _, err := fmt.Sscan(rest, &version, &sum); !marked || err != nil {
		return errNotSealed
	}
	if version > sealVersion {
		return errTooNew
	}
	if !found || string(line) != fmt.Sprintf("%s %d %x", sealMark, sealVersion, sha256.Sum256(body)) {
		return errBroken
	}
	if err := json.Unmarshal(body, v); err != nil {
		return fmt.Errorf("%w: %w", errBroken, err)
	}
	return nil
}
