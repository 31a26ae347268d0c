package app

import "brinefield/core/journal"

// sizes takes what is written down of the animal's size from the pass and from
// its individual, who may be unknown. A size that is no length is none.
func (p *FootagePass) sizes(pass map[string]string, individual *journal.State) {
	length := func(fields map[string]string, name string) *float64 {
		if v := numberField(fields, name); v != nil && *v > 0 {
			return v
		}
		return nil
	}
	p.TotalLengthCm = length(pass, "total_length_cm")
	if individual == nil {
		return
	}
	p.HeadWidthCm = length(individual.Fields, "head_width_cm")
	if p.TotalLengthCm == nil {
		p.TotalLengthCm = length(individual.Fields, "total_length_cm")
	}
}
