package app

// What the page Rig and the command rig are told: everything that feeds the
// electrodes. Keys that may be left out are marked omitempty; null counts as
// left out.

// RigSpec is a rig as it is planned or built.
type RigSpec struct {
	WaterSPerM   float64       `json:"water_S_per_m" doc:"Actual conductivity of the water, in S/m."`
	WaterSPerMSD *float64      `json:"water_S_per_m_sd,omitempty" nullable:"true" doc:"Standard deviation of it; absent: known exactly."`
	Supply       RigSupply     `json:"supply"`
	Limiting     *RigLimiting  `json:"limiting,omitempty" doc:"Two resistors in series at the battery, one in each leg. Absent with a constant-current supply."`
	Ladder       RigLadder     `json:"ladder"`
	Cable        RigCable      `json:"cable"`
	Electrodes   RigElectrodes `json:"electrodes"`
	Pairs        []RigPair     `json:"pairs"`
	Ammeter      *RigAmmeter   `json:"ammeter,omitempty"`
	Silent       string        `json:"silent" doc:"What the switch does with silent pairs: open_both, open_one (the leg of the negative electrode stays connected) or closed (its two legs are joined)."`
	Use          *RigUse       `json:"use,omitempty"`
	TemperatureC *float64      `json:"temperature_C,omitempty" nullable:"true" doc:"Of the resistors, which have their values at 20 °C; absent: 20."`
	DiverOhm     *float64      `json:"diver_ohm,omitempty" nullable:"true" doc:"Resistance of a diver's body between two hands; absent: 750, and 500 where the supply has more than 50 V."`
	WantedField  *RigWanted    `json:"wanted_field,omitempty"`
	Measured     []RigBench    `json:"measured,omitempty" doc:"Currents that were measured; the newest of a position and pair replaces the nominal one."`
}

// RigSupply is a battery, or a supply of constant current.
type RigSupply struct {
	Kind             string   `json:"kind" doc:"battery or constant_current."`
	VoltageV         *float64 `json:"voltage_V,omitempty" nullable:"true" doc:"Battery: open-circuit voltage that the rig is laid out for."`
	FullV            *float64 `json:"full_V,omitempty" nullable:"true" doc:"Battery: when new; absent: voltage_V."`
	EmptyV           *float64 `json:"empty_V,omitempty" nullable:"true" doc:"Battery: when it is replaced; absent: voltage_V."`
	InternalOhm      *float64 `json:"internal_ohm,omitempty" nullable:"true" doc:"Battery; absent: 1.7."`
	CapacityMAh      *float64 `json:"capacity_mAh,omitempty" nullable:"true" doc:"Battery."`
	CurrentUA        *float64 `json:"current_uA,omitempty" nullable:"true" doc:"Constant current: the largest setting; the positions of the ladder are its settings."`
	TolerancePercent *float64 `json:"tolerance_percent,omitempty" nullable:"true" doc:"Constant current: of each setting."`
	ComplianceV      *float64 `json:"compliance_V,omitempty" nullable:"true" doc:"Constant current: the most voltage that it can give."`
}

// RigLimiting are the limiting resistors at the battery.
type RigLimiting struct {
	Ohm              []float64 `json:"ohm" doc:"[in the positive leg, in the negative leg]."`
	TolerancePercent float64   `json:"tolerance_percent"`
	PPMPerC          *float64  `json:"ppm_per_C,omitempty" nullable:"true" doc:"Temperature coefficient of these and of the ladder's resistors, of either sign."`
}

// RigLadder is the chain of resistors: a position takes all steps before it
// and its own. Either wanted_uA, and the resistors are chosen, or positions.
type RigLadder struct {
	WantedUA            []float64         `json:"wanted_uA,omitempty"`
	Series              string            `json:"series,omitempty" doc:"E24 or E96 (IEC 60063); absent: E24, or E96 where the tolerance is 1 % or less."`
	TolerancePercent    *float64          `json:"tolerance_percent,omitempty" nullable:"true" doc:"Of the ladder's resistors; absent: 1."`
	MostResistors       *int              `json:"most_resistors,omitempty" nullable:"true" doc:"The most resistors in series for one step, 1 to 3; absent: 2."`
	LargestErrorPercent *float64          `json:"largest_error_percent,omitempty" nullable:"true" doc:"How far a position may lie from its wanted current; absent: 5."`
	Positions           []RigPositionSpec `json:"positions,omitempty"`
}

// RigPositionSpec is one step of a ladder that is there already.
type RigPositionSpec struct {
	Label string    `json:"label"`
	Ohm   []float64 `json:"ohm" doc:"The resistors of this step alone, in series; none: the position adds nothing."`
}

// RigCable is the two cores to each pair: either awg, or mm2 and class.
type RigCable struct {
	LengthM         float64  `json:"length_m" doc:"One way."`
	AWG             *int     `json:"awg,omitempty" nullable:"true"`
	MM2             *float64 `json:"mm2,omitempty" nullable:"true" doc:"Nominal cross-section of IEC 60228: 0.5, 0.75, 1, 1.5, 2.5 or 4."`
	Class           *int     `json:"class,omitempty" nullable:"true" doc:"Class of IEC 60228: 1, 2, 5 or 6; absent: 5."`
	Tinned          bool     `json:"tinned,omitempty" doc:"Tinned strands (classes 5 and 6)."`
	TemperatureC    *float64 `json:"temperature_C,omitempty" nullable:"true" doc:"Of the copper; absent: 20."`
	LeakMohm        *float64 `json:"leak_Mohm,omitempty" nullable:"true" doc:"Insulation between the two legs of a pair; absent: none leaks."`
	LeakToWaterMohm *float64 `json:"leak_to_water_Mohm,omitempty" nullable:"true" doc:"Insulation of each leg to the water round the cable; absent: none leaks."`
}

// RigElectrodes is what all electrodes have in common.
type RigElectrodes struct {
	Shape          string     `json:"shape" doc:"disc, hemisphere (only on a plate) or sphere."`
	On             string     `json:"on" doc:"plate (flush in, or lying on, an insulating plate) or water (hanging in it)."`
	PolarisationV  *float64   `json:"polarisation_V,omitempty" nullable:"true" doc:"Voltage that the two electrodes of a driven pair use up together; absent: 0."`
	PolarisationSD *float64   `json:"polarisation_sd_V,omitempty" nullable:"true"`
	OffsetMV       *float64   `json:"offset_mV,omitempty" nullable:"true" doc:"Largest open-circuit offset of a pair; absent: 1."`
	Bridge         *RigBridge `json:"bridge,omitempty" doc:"A salt bridge before each electrode."`
}

// RigBridge is a tube filled with an electrolyte.
type RigBridge struct {
	LengthM float64 `json:"length_m"`
	BoreM   float64 `json:"bore_m" doc:"Inner diameter."`
	SPerM   float64 `json:"S_per_m"`
}

// RigPair is two electrodes, in the season frame.
type RigPair struct {
	Label              string    `json:"label"`
	CentreM            []float64 `json:"centre_m" doc:"[x, y]."`
	SeparationM        float64   `json:"separation_m"`
	AzimuthDeg         float64   `json:"azimuth_deg,omitempty"`
	ElectrodeDiameterM float64   `json:"electrode_diameter_m"`
}

// RigAmmeter is a meter in the positive leg.
type RigAmmeter struct {
	BurdenOhm float64 `json:"burden_ohm"`
	StaysIn   bool    `json:"stays_in" doc:"Whether it stays in the circuit in the water, or only measures."`
}

// RigUse says how long the rig is driven.
type RigUse struct {
	HoursPerDay float64 `json:"hours_per_day"`
	Days        float64 `json:"days"`
}

// RigWanted is a field that is wanted on the axis of a pair.
type RigWanted struct {
	NVPerCm float64 `json:"nV_per_cm"`
	AtM     float64 `json:"at_m" doc:"Distance from the pair's centre, on its axis, beyond the electrode."`
}

// RigBench is one measurement on the bench or on site, as the study keeps it.
type RigBench struct {
	ID         string   `json:"id,omitempty" doc:"Of the study's record."`
	Date       string   `json:"date" doc:"Like 2026-06-01."`
	Position   string   `json:"position" doc:"Label of the position."`
	Pair       string   `json:"pair,omitempty" doc:"Label of the pair; blank: any."`
	CurrentUA  *float64 `json:"current_uA,omitempty" nullable:"true"`
	SupplyV    *float64 `json:"supply_V,omitempty" nullable:"true"`
	OffsetMV   *float64 `json:"offset_mV,omitempty" nullable:"true" doc:"Open-circuit offset of the pair."`
	SilentUA   *float64 `json:"silent_uA,omitempty" nullable:"true" doc:"Current through the pair while it was silent."`
	WaterSPerM *float64 `json:"water_S_per_m,omitempty" nullable:"true"`
	By         string   `json:"by,omitempty"`
	Note       string   `json:"note,omitempty"`
}

// RigStart is what the page begins with.
type RigStart struct {
	Spec     RigSpec    `json:"spec" doc:"As saved, or made from the study."`
	Saved    bool       `json:"saved"`
	SpecText string     `json:"spec_text" doc:"The saved text to the letter (the from of the next edit); empty where none is saved."`
	From     []string   `json:"from" doc:"Sentences: where each value was taken from."`
	Bench    []RigBench `json:"bench" doc:"What was measured, oldest first. To be sent as the measured of a calculation."`
	Warnings []string   `json:"warnings"`
}
