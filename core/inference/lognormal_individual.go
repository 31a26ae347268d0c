package inference
type LognormalIndividualFit struct{}
func LognormalIndividual(rows []Interval) (LognormalIndividualFit, error) { return LognormalIndividualFit{}, checkIntervals(rows) }
