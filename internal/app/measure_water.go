package app

import (
	"fmt"

	"brinefield/core/seawater"
)

// WaterDocument is the document of the water command.
type WaterDocument struct {
	Heading
	ConductivitySPerM *float64 `json:"conductivity_S_per_m,omitempty"`
	Salinity          *float64 `json:"salinity,omitempty"`
}

// WaterQuestion is what the water command asks: conductivity from salinity,
// or salinity from conductivity.
type WaterQuestion struct {
	TemperatureC      float64
	PressureDbar      float64
	Salinity          *float64
	ConductivitySPerM *float64
}

// MeasureWater converts between salinity (PSS-78) and conductivity.
func MeasureWater(q WaterQuestion, program Program) (WaterDocument, error) {
	doc := WaterDocument{Heading: Heading{Format: Format, Program: program, InputsSHA256: map[string]string{}}}
	warn := warnings{}
	switch {
	case (q.Salinity == nil) == (q.ConductivitySPerM == nil):
		return doc, fmt.Errorf("give either --salinity or --conductivity-S-per-m")
	case q.Salinity != nil:
		sigma, err := seawater.ConductivityFromSalinity(*q.Salinity, q.TemperatureC, q.PressureDbar)
		if err != nil {
			return doc, err
		}
		doc.ConductivitySPerM = finite(sigma)
		warn.add(seawater.Validity(*q.Salinity, q.TemperatureC, q.PressureDbar)...)
	default:
		salinity, err := seawater.SalinityFromConductivity(*q.ConductivitySPerM, q.TemperatureC, q.PressureDbar)
		if err != nil {
			return doc, err
		}
		doc.Salinity = finite(salinity)
		warn.add(seawater.Validity(salinity, q.TemperatureC, q.PressureDbar)...)
	}
	doc.Warnings = warn.list()
	return doc, nil
}
