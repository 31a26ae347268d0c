package app

import (
	"encoding/json"
	"math"
)

// Span is an interval [low, high]; where it cannot be estimated it is
// {"not_estimable": "why"} in its place. An infinite end is null.
type Span struct {
	Low, High    float64
	NotEstimable string
}

// MarshalJSON writes [low, high] or the reason.
func (s Span) MarshalJSON() ([]byte, error) {
	if s.NotEstimable != "" {
		return json.Marshal(Reason{NotEstimable: s.NotEstimable})
	}
	return json.Marshal([2]*float64{finite(s.Low), finite(s.High)})
}

// UnmarshalJSON reads what MarshalJSON writes; null is infinite.
func (s *Span) UnmarshalJSON(data []byte) error {
	var why Reason
	if err := json.Unmarshal(data, &why); err == nil {
		*s = Span{NotEstimable: why.NotEstimable}
		return nil
	}
	var ends [2]*float64
	if err := json.Unmarshal(data, &ends); err != nil {
		return err
	}
	*s = Span{Low: math.Inf(-1), High: math.Inf(1)}
	if ends[0] != nil {
		s.Low = *ends[0]
	}
	if ends[1] != nil {
		s.High = *ends[1]
	}
	return nil
}

// finite is the number, or nil where it is not one: no NaN or infinity
// reaches a user.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
