// Package seawater turns what a meter or a bottle gives into what the water
// conducts: practical salinity, temperature and pressure to conductivity and
// back, readings that a meter has compensated to 25 °C, and the conductivity
// of a sediment from its porosity (Archie's law).
//
// Start with [ConductivityFromSalinity]; ask [Validity] what to tell the user
// about the inputs. Temperatures are in °C on the scale of 1990 (ITS-90),
// pressures in dbar above the atmosphere (0 at the surface), conductivities in
// S/m, salinities on the practical scale of 1978 (no unit).
package seawater

import (
	"fmt"
	"math"
)

// Where the conversions refuse. Between the range of the standard and these
// limits the polynomials run smoothly and [Validity] warns; beyond them they
// are not to be trusted with anything.
const (
	lowestTemperatureC  = -5
	highestTemperatureC = 50
	highestSalinity     = 60
	highestPressureDbar = 12_000
)

// Where the standard holds.
const (
	validTemperatureLowC  = -2
	validTemperatureHighC = 35
	validSalinityHigh     = 42
	scaleSalinityLow      = 2 // below: the extension to low salinity
	validPressureHighDbar = 10_000
	freshSalinity         = 0.05
)

// referenceSPerM is the conductivity of standard sea water: salinity 35, 15 °C
// on the temperature scale of 1968, no pressure. 42.914 mS/cm.
const referenceSPerM = 4.2914

// ConductivityFromSalinity returns the conductivity of sea water in S/m.
//
// The practical salinity scale of 1978 gives salinity from conductivity; this
// is its inverse, by Newton's method to machine precision, with pressure in
// closed form. Below salinity 2 it is the inverse of the scale's extension to
// low salinity, made continuous at 2.
//
// Shapes and units: salinity on the practical scale, temperatureC in °C
// (ITS-90), pressureDbar in dbar above the atmosphere.
// Holds for 2 ≤ S ≤ 42 (0 to 2 by extension), −2 to 35 °C, 0 to 10 000 dbar.
// Outside, [Validity] has warnings; at salinity 0 the result is the limit of
// the extension, about 0.0001 S/m, of which real fresh water has many times
// more: measure its conductivity.
//
// Errors, each naming the value and the limits: a value that is not finite, a
// negative salinity or pressure, a salinity above 60, a temperature outside −5
// to 50 °C, a pressure above 12 000 dbar.
//
// Sources: UNESCO Technical Papers in Marine Science 44, 1983; Deep-Sea
// Research 28A, 307–328, 1981; extension: IEEE J. Oceanic Eng. OE-11, 109–112,
// 1986, in the form that TEOS-10 uses. Tests: the check values of both
// standards to their own tolerances, round trips, monotony.
func ConductivityFromSalinity(salinity, temperatureC, pressureDbar float64) (float64, error) {
	if err := checkSalinity(salinity); err != nil {
		return 0, err
	}
	if err := checkState(temperatureC, pressureDbar); err != nil {
		return 0, err
	}
	w := newWater(temperatureC, pressureDbar)
	root := w.rootRatio(salinity)
	return referenceSPerM * w.totalRatio(root*root), nil
}

// SalinityFromConductivity returns the practical salinity of water that
// conducts sPerM, in S/m: the scale of 1978, and below salinity 2 its
// extension. Water that conducts less than about 0.0001 S/m has salinity 0.
//
// Units, range and sources as [ConductivityFromSalinity]. Errors: a
// conductivity that is not finite or not above 0, or that belongs to a
// salinity above 60; temperature and pressure as there.
func SalinityFromConductivity(sPerM, temperatureC, pressureDbar float64) (float64, error) {
	if err := checkConductivity("conductivity", sPerM); err != nil {
		return 0, err
	}
	if err := checkState(temperatureC, pressureDbar); err != nil {
		return 0, err
	}
	w := newWater(temperatureC, pressureDbar)
	salinity, _ := w.salinity(math.Sqrt(w.ratioAtSurface(sPerM / referenceSPerM)))
	if !(salinity <= highestSalinity) {
		return 0, fmt.Errorf("a conductivity of %g S/m at %g °C is beyond sea water of salinity %d; is it in S/m (1 S/m = 10 mS/cm)?", sPerM, temperatureC, highestSalinity)
	}
	return math.Max(0, salinity), nil
}

// FromCompensated returns what the water conducts at its temperature, in S/m,
// from the reading of a meter that compensates to 25 °C by percentPerC per
// degree of what is conducted at 25 °C:
//
//	σ = σ25·(1 + p/100·(T − 25))
//
// Errors: a value that is not finite, a reading not above 0, a temperature
// outside −5 to 50 °C, a coefficient outside 0 to 5 per cent per °C, a
// temperature so low that the line would fall below zero.
//
// Source: the linear compensation of ISO 7888 (from memory); 1.91 per cent per
// °C is the usual coefficient. Tests: the usual table of factors, and the
// standard potassium chloride solutions.
func FromCompensated(sPerM25, temperatureC, percentPerC float64) (float64, error) {
	if err := checkConductivity("conductivity at 25 °C", sPerM25); err != nil {
		return 0, err
	}
	if err := checkTemperature(temperatureC); err != nil {
		return 0, err
	}
	if !(percentPerC >= 0 && percentPerC <= 5) {
		return 0, fmt.Errorf("a temperature coefficient of %g per cent per °C; 0 to 5 is expected, usually 1.91", percentPerC)
	}
	factor := 1 + percentPerC/100*(temperatureC-25)
	if factor <= 0 {
		return 0, fmt.Errorf("at %g °C and %g per cent per °C the linear compensation gives no conductivity above 0; the meter cannot have used this coefficient", temperatureC, percentPerC)
	}
	sigma := sPerM25 * factor
	if !(sigma > 0) || math.IsInf(sigma, 0) {
		return 0, fmt.Errorf("a conductivity at 25 °C of %g S/m is beyond what can be calculated with", sPerM25)
	}
	return sigma, nil
}

// ArchieConductivity returns the conductivity, in S/m, of a sediment whose
// pores are full of water that conducts waterSPerM and whose grains insulate:
//
//	σ = σ_water/F,  F = φ^(−m)
//
// with porosity φ (a fraction) and cementation exponent m: about 1.2 for
// spheres, 1.4 to 1.6 for natural marine sand, near 2 for mud (Archie's law
// with a = 1).
//
// Errors: a value that is not finite, a conductivity not above 0, a porosity
// outside 0 to 1 (0 excluded), an exponent outside 1 to 5.
//
// Source: Trans. AIME 146, 54–62, 1942 (from memory). Tests: worked values,
// the limits φ = 1 and m = 1.
func ArchieConductivity(waterSPerM, porosity, m float64) (float64, error) {
	if err := checkConductivity("conductivity of the water", waterSPerM); err != nil {
		return 0, err
	}
	if !(porosity > 0 && porosity <= 1) {
		return 0, fmt.Errorf("a porosity of %g; a fraction above 0 and up to 1 is expected (sand is about 0.4)", porosity)
	}
	if !(m >= 1 && m <= 5) {
		return 0, fmt.Errorf("a cementation exponent of %g; 1 to 5 is expected (sand is about 1.5)", m)
	}
	sigma := waterSPerM * math.Pow(porosity, m)
	if !(sigma > 0) {
		return 0, fmt.Errorf("a porosity of %g leaves the sediment no conductivity that can be calculated with", porosity)
	}
	return sigma, nil
}

// Validity says, for the user, where the inputs lie outside the range of the
// standard although the conversion goes through; nil when all is well. It does
// not repeat what is an error.
func Validity(salinity, temperatureC, pressureDbar float64) []string {
	var warnings []string
	add := func(format string, args ...any) { warnings = append(warnings, fmt.Sprintf(format, args...)) }
	switch {
	case salinity > validSalinityHigh:
		add("salinity %g is above 42, where the practical salinity scale ends", salinity)
	case salinity >= 0 && salinity < freshSalinity:
		add("salinity %g is fresh water: its ions differ from those of the sea, and only a conductivity meter tells what it conducts", salinity)
	case salinity >= 0 && salinity < scaleSalinityLow:
		add("salinity %g is below 2: the scale's extension to low salinity was used, which assumes diluted sea water", salinity)
	}
	if temperatureC < validTemperatureLowC || temperatureC > validTemperatureHighC {
		add("%g °C is outside −2 to 35 °C, for which the practical salinity scale was measured", temperatureC)
	}
	if pressureDbar > validPressureHighDbar {
		add("%g dbar is above 10 000 dbar, where the practical salinity scale ends", pressureDbar)
	}
	return warnings
}

func checkSalinity(salinity float64) error {
	if !(salinity >= 0 && salinity <= highestSalinity) {
		return fmt.Errorf("a salinity of %g; 0 to %d is expected (sea water is about 35)", salinity, highestSalinity)
	}
	return nil
}

func checkState(temperatureC, pressureDbar float64) error {
	if err := checkTemperature(temperatureC); err != nil {
		return err
	}
	if !(pressureDbar >= 0 && pressureDbar <= highestPressureDbar) {
		return fmt.Errorf("a pressure of %g dbar; 0 (at the surface) to %d is expected, about 1 dbar a metre", pressureDbar, highestPressureDbar)
	}
	return nil
}

func checkTemperature(temperatureC float64) error {
	if !(temperatureC >= lowestTemperatureC && temperatureC <= highestTemperatureC) {
		return fmt.Errorf("a temperature of %g °C; %d to %d is expected", temperatureC, lowestTemperatureC, highestTemperatureC)
	}
	return nil
}

func checkConductivity(what string, sPerM float64) error {
	if !(sPerM > 0) || math.IsInf(sPerM, 0) {
		return fmt.Errorf("a %s of %g S/m; a number above 0 is expected", what, sPerM)
	}
	return nil
}
