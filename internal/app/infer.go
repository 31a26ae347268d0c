package app

import (
	"fmt"
	"math"

	"brinefield/core/inference"
	"brinefield/core/season"
	"brinefield/core/study"
)

// InferOptions are the choices of an analysis of a table of intervals.
type InferOptions struct {
	Curve   bool
	Program Program
}

// Infer estimates from a table of intervals, without a season.
func Infer(name string, data []byte, opt InferOptions) (Findings, error) {
	table, faults := season.ReadIntervals(name, data)
	if len(faults) > 0 {
		return Findings{}, &FaultsError{Faults: faults}
	}
	f := Findings{Heading: Heading{
		Format: Format, Program: opt.Program,
		InputsSHA256: Input{name: data}.Fingerprints(),
	}}
	warn := warnings{}
	if len(table.Covariates) > 0 {
		warn.add(fmt.Sprintf("columns read as covariates, which no model here uses: %s", joinWords(table.Covariates)))
	}
	records := tableRecords(table)
	noDesign := scheduleDesign{why: "the table does not say which pairs the trials had: analyse a season to get it"}
	f.Preference = preferences(records, noDesign, 0)
	f.Thresholds = thresholds(records)
	f.Detection = detections(records)
	f.Individuals = individuals(records)
	if opt.Curve {
		if !table.HasLevel {
			return Findings{}, fmt.Errorf("--curve needs the column level_nV_per_cm: the levels that the experimenter set")
		}
		f.Curve = responseCurves(table)
	}
	f.Warnings = warn.list()
	return f, nil
}

func tableRecords(table *season.IntervalTable) []record {
	out := make([]record, 0, len(table.Rows))
	visits := make([]string, 0, len(table.Rows))
	for i := range table.Rows {
		row := &table.Rows[i]
		r := record{
			species: row.Species, individual: row.Individual, trial: -1, turnPair: -1,
			cluster: clusterName(row.Individual, row.Trial, row.Species),
			role:    roleNamed(row.Pair),
			turned:  row.Turned == study.Yes || row.Bit == study.Yes,
			bit:     row.Bit == study.Yes,
			low:     row.Low, high: row.High, exact: row.Exact,
		}
		r.used = row.Turned != study.NotScored || r.bit
		r.onset = row.Turned == study.Yes && row.OnsetS.Known
		r.t0, r.t1 = row.OnsetBeforeS.Or(0), row.OnsetS.Or(0)
		r.watched = row.WatchedS
		r.falling = r.turned && !r.exact && !math.IsInf(r.high, 1) && r.high <= r.low
		out = append(out, r)
		visits = append(visits, row.Visit)
	}
	markVisits(out, visits)
	canonical(out)
	return out
}

func roleNamed(pair string) study.Role {
	switch pair {
	case "active":
		return study.RoleActive
	case "control":
		return study.RoleControl
	}
	return study.RoleSilent
}

func responseCurves(table *season.IntervalTable) []Curve {
	bySpecies := map[string][]inference.CurveRow{}
	var names []record
	for i := range table.Rows {
		row := &table.Rows[i]
		if row.Turned == study.NotScored && row.Bit != study.Yes {
			continue
		}
		if !row.LevelNVPerCm.Known && row.Pair == "active" {
			continue
		}
		names = append(names, record{species: row.Species})
		bySpecies[row.Species] = append(bySpecies[row.Species], inference.CurveRow{
			LevelNVPerCm: row.LevelNVPerCm.Value,
			Active:       row.Pair == "active",
			Turned:       row.Turned == study.Yes || row.Bit == study.Yes,
		})
	}
	var out []Curve
	for _, name := range speciesNames(names) {
		out = append(out, responseCurve(name, bySpecies[name]))
	}
	return out
}

func responseCurve(name string, rows []inference.CurveRow) Curve {
	fit, err := inference.Curve(rows)
	if err != nil {
		return Curve{Species: name, Reason: Reason{reasonOf(err)}}
	}
	return Curve{
		Species: name, Guess: finite(fit.Guess), Lapse: finite(fit.Lapse), Median: finite(fit.Median),
		Slope: finite(fit.Slope), LogLikelihood: finite(fit.LogLikelihood), Boundary: fit.Boundary,
		Made: Made{Method: "curve", Ignores: []string{"individuals: the passes of one animal count as so many animals"}, Warnings: fit.Warnings},
	}
}
