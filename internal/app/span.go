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

// finite is the number, or nil where it is not one: no NaN or infinity
// reaches a user.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
