package simulate

import (
	"brinefield/core/exposure"
	"brinefield/core/inference"
	"brinefield/core/study"
)

// detectionRows are the used passes of one species as inference takes them.
func detectionRows(s *study.Study, all []exposure.Exposure, species int) []inference.DetectionRow {
	var rows []inference.DetectionRow
	for i := range all {
		e := &all[i]
		if p := &s.Passes[e.Pass]; e.Used && p.Species == species {
			rows = append(rows, inference.DetectionRow{
				Cluster: e.Cluster, Identified: e.Identified, Low: e.Low * nVPerCm, High: e.High * nVPerCm,
				Turned: e.HighKnown, Onset: e.OnsetS.Known,
				OnsetBeforeS: e.OnsetBeforeS.Value, OnsetS: e.OnsetS.Value, WatchedS: e.WatchedS.Value, Exact: e.Exact,
			})
		}
	}
	return rows
}
