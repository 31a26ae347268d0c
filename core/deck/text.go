package deck

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// mostText is the longest document that is read. The longest that has no fault
// is shorter.
const mostText = 64 << 10

// Text is the document of a spec. Specs that say the same have the same text,
// which [Parse] reads back. A spec with faults may have none.
func (s Spec) Text() (string, error) {
	s.fill()
	text, err := json.Marshal(s)
	return string(text), err
}

// fill puts empty lists in the place of none.
func (s *Spec) fill() {
	if s.Responses == nil {
		s.Responses = []Response{}
	}
	if s.Heights == nil {
		s.Heights = []Height{}
	}
	if s.Checks == nil {
		s.Checks = []Check{}
	}
}

// ErrText answers for a text that is no spec; it is wrapped with what is wrong.
var ErrText = errors.New("this text does not say how a study logs on deck")

// Parse reads a document. What it gives has no faults.
//
// Errors: [ErrText].
func Parse(text string) (Spec, error) {
	if len(text) > mostText {
		return Spec{}, fmt.Errorf("%w: it has %d bytes; expected at most %d", ErrText, len(text), mostText)
	}
	var version struct {
		Format int `json:"format"`
	}
	if err := json.Unmarshal([]byte(text), &version); err == nil && version.Format > Format {
		return Spec{}, fmt.Errorf("%w: it has format %d, of a newer program; this one knows %d", ErrText, version.Format, Format)
	}
	d := json.NewDecoder(bytes.NewReader([]byte(text)))
	d.DisallowUnknownFields()
	var s Spec
	if err := d.Decode(&s); err != nil {
		return Spec{}, fmt.Errorf("%w: %w", ErrText, err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return Spec{}, fmt.Errorf("%w: something stands behind its end", ErrText)
	}
	if faults := s.Faults(); len(faults) > 0 {
		return Spec{}, fmt.Errorf("%w: %s", ErrText, faults[0])
	}
	s.fill()
	return s, nil
}
