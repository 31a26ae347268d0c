package app

// RigDocument is the document of the rig command and of the page Rig. Where a
// number cannot be had it is null, with a sentence in warnings.
type RigDocument struct {
	Heading
	WaterSPerM  float64         `json:"water_S_per_m"`
	Supply      RigSupplyFacts  `json:"supply"`
	Cable       RigCableFacts   `json:"cable"`
	Electrodes  []RigPairFacts  `json:"electrodes" doc:"What each pair's way through the water takes."`
	Positions   []RigPosition   `json:"positions" doc:"The switch table, the largest current first."`
	Lost        []RigLoss       `json:"lost" doc:"What each part takes of the current, at the first position and the first pair."`
	Silent      []RigSilent     `json:"silent" doc:"Current of every silent pair in each of the three states of the switch, at the position with the largest current and for the driven pair that is worst for it."`
	Battery     *RigBattery     `json:"battery,omitempty" doc:"Only with a battery."`
	Compliance  *RigCompliance  `json:"compliance,omitempty" doc:"Only with a supply of constant current."`
	Faults      []RigFault      `json:"faults" doc:"What happens when something breaks, the undisturbed rig first."`
	Safety      RigSafety       `json:"safety"`
	Parts       []RigPart       `json:"parts"`
	WantedField *RigFieldAnswer `json:"wanted_field,omitempty"`
	Draws       int             `json:"draws" doc:"Draws of the Monte Carlo intervals."`
	Methods     []string        `json:"methods" doc:"Sentences: how it was worked out and what it takes for granted."`
}

// RigSupplyFacts is the supply as it was counted, with what was left out filled
// in.
type RigSupplyFacts struct {
	Kind        string   `json:"kind" doc:"battery or constant_current."`
	VoltageV    *float64 `json:"voltage_V" nullable:"true" doc:"Null with constant current."`
	FullV       *float64 `json:"full_V" nullable:"true"`
	EmptyV      *float64 `json:"empty_V" nullable:"true"`
	InternalOhm *float64 `json:"internal_ohm" nullable:"true"`
	LimitingOhm []string `json:"limiting" doc:"The two limiting resistors as text, such as 750 kΩ; empty with constant current."`
}

// RigCableFacts is the cable's resistance.
type RigCableFacts struct {
	OhmPerKM float64 `json:"ohm_per_km" doc:"Of one core at 20 °C."`
	LegOhm   float64 `json:"leg_ohm" doc:"Of one core in its whole length at its temperature."`
	From     string  `json:"from" doc:"Where the resistance comes from."`
}

// RigPairFacts is one pair's own resistances.
type RigPairFacts struct {
	Pair       string  `json:"pair"`
	SelfOhm    float64 `json:"self_ohm" doc:"Spreading resistance of one electrode."`
	BridgeOhm  float64 `json:"bridge_ohm" doc:"Of one salt bridge; 0 without."`
	PairOhm    float64 `json:"pair_ohm" doc:"Between the two electrodes: through the water and both bridges."`
	OffsetUA   float64 `json:"offset_uA" doc:"What the stated offset drives through this pair where its legs are joined at the switch."`
	FaceMM2    float64 `json:"face_mm2" doc:"Wetted area of one electrode."`
	Millivolts float64 `json:"water_mV" doc:"Voltage through the water and both bridges at the largest position."`
}

// RigPosition is one position of the switch.
type RigPosition struct {
	Label        string       `json:"label"`
	WantedUA     *float64     `json:"wanted_uA" nullable:"true"`
	StepOhm      []float64    `json:"step_ohm" doc:"Resistors of this step, in series; empty: none."`
	StepText     string       `json:"step_text" doc:"The same as text: 120 kΩ + 5.1 kΩ; none."`
	ChainOhm     float64      `json:"chain_ohm" doc:"All steps up to this one."`
	NominalUA    float64      `json:"nominal_uA" doc:"Mean over the pairs."`
	ErrorPercent *float64     `json:"error_percent" nullable:"true" doc:"Nominal against wanted."`
	Currents     []RigCurrent `json:"currents" doc:"For each driven pair."`
}

// RigCurrent is the current of one position through one driven pair, in µA.
// Every interval is [low, high].
type RigCurrent struct {
	Pair         string     `json:"pair"`
	NominalUA    float64    `json:"nominal_uA" doc:"Through the electrodes: the mean of what leaves the positive and what enters the negative one."`
	SupplyUA     float64    `json:"supply_uA" doc:"Out of the supply; what leaks is the difference."`
	ErrorPercent *float64   `json:"error_percent" nullable:"true" doc:"Nominal against wanted."`
	WorstUA      [2]float64 `json:"worst_uA" doc:"Over the corners of all tolerances, at the nominal voltage."`
	DrawnUA      [2]float64 `json:"drawn_uA" doc:"Monte Carlo, 2.5 and 97.5 %, at the nominal voltage."`
	FullUA       *float64   `json:"full_uA" nullable:"true" doc:"Nominal parts, full battery."`
	EmptyUA      *float64   `json:"empty_uA" nullable:"true" doc:"Nominal parts, empty battery."`
	SeasonUA     [2]float64 `json:"season_uA" doc:"Worst case from an empty to a full battery."`
	PairV        float64    `json:"pair_V" doc:"Voltage between the contacts of the two electrodes."`
	MeterShift   *float64   `json:"meter_shift_percent" nullable:"true" doc:"How far the current is lower while the ammeter is in the circuit."`
	MeasuredUA   *float64   `json:"measured_uA" nullable:"true" doc:"The newest measurement."`
	MeasuredOn   string     `json:"measured_on,omitempty" doc:"Its date."`
	MeasuredOff  *float64   `json:"measured_off_percent" nullable:"true" doc:"Measured against nominal."`
	UsedUA       float64    `json:"used_uA" doc:"Measured where there is a measurement, else nominal."`
}

// RigLoss is what one part takes of the current.
type RigLoss struct {
	What    string  `json:"what" enum:"cable,leak,ammeter,water,bridge,polarisation,battery"`
	Percent float64 `json:"percent" doc:"By how much the current is lower than without it; below 0: higher."`
	Text    string  `json:"text"`
}

// RigSilent is what flows through a pair that is meant to be silent, in µA.
type RigSilent struct {
	Pair        string  `json:"pair"`
	State       string  `json:"state" enum:"open_both,open_one,closed"`
	Chosen      bool    `json:"chosen" doc:"Whether the rig's switch does this."`
	DrivenPair  string  `json:"driven_pair"`
	DrivenUA    float64 `json:"driven_uA" doc:"Through the driven pair meanwhile."`
	DriveUA     float64 `json:"drive_uA" doc:"What the driven pair sends through the silent one (the larger of its two electrodes)."`
	OffsetUA    float64 `json:"offset_uA" doc:"At most, what the offsets of all electrodes send through it."`
	LargestUA   float64 `json:"largest_uA" doc:"Both, with the worst signs."`
	Percent     float64 `json:"percent" doc:"Of the driven current."`
	SecondPair  bool    `json:"second_pair" doc:"More than 1 % of the driven current: a second live pair."`
	SingleWay   bool    `json:"single_way" doc:"What flows through its positive electrode is less than half of what flows through its negative one: a single pole, whose field falls with the square of the distance and not with the cube."`
	Description string  `json:"description"`
}

// RigBattery says how long the battery lasts and what its charge does.
type RigBattery struct {
	LoadUA       float64     `json:"load_uA" doc:"At the largest position, measured currents included."`
	LifeH        *float64    `json:"life_h" nullable:"true" doc:"Capacity over the load; null without a capacity."`
	NeededH      *float64    `json:"needed_h" nullable:"true" doc:"Of use; null where no use is stated."`
	Lasts        *bool       `json:"lasts" nullable:"true"`
	SagPercent   float64     `json:"sag_percent" doc:"By how much the load lowers the battery's voltage."`
	DriftPercent float64     `json:"drift_percent" doc:"Change of the current from a full to an empty battery."`
	Charge       []RigCharge `json:"charge" doc:"From full to empty in even steps of the voltage."`
}

// RigCharge is the current at one voltage of the battery.
type RigCharge struct {
	VoltageV      float64 `json:"voltage_V"`
	CurrentUA     float64 `json:"current_uA" doc:"At the largest position, first pair."`
	ChangePercent float64 `json:"change_percent" doc:"Against the full battery."`
}

// RigCompliance says whether a supply of constant current can hold its
// settings.
type RigCompliance struct {
	ComplianceV float64                 `json:"compliance_V"`
	LargestOhm  float64                 `json:"largest_ohm" doc:"The most resistance that the largest setting can be driven through."`
	Positions   []RigCompliancePosition `json:"positions"`
}

// RigCompliancePosition is the voltage that one setting needs.
type RigCompliancePosition struct {
	Label    string  `json:"label"`
	NeededV  float64 `json:"needed_V" doc:"The worst pair and the worst corner of the tolerances."`
	MarginV  float64 `json:"margin_V"`
	Held     bool    `json:"held"`
	GivesUA  float64 `json:"gives_uA" doc:"What flows then."`
	OfNeeded float64 `json:"times_needed" doc:"Compliance over what is needed."`
}

// RigFault is one thing that can break, at the largest position, the worst
// driven pair and the full battery.
type RigFault struct {
	Case           string   `json:"case" doc:"Key: none, short_at_plate, flooded_plus …"`
	Title          string   `json:"title"`
	Pair           string   `json:"pair" doc:"The driven pair that is worst."`
	Position       string   `json:"position"`
	ElectrodeUA    float64  `json:"electrode_uA" doc:"The largest current through any electrode."`
	ElsewhereUA    float64  `json:"elsewhere_uA" doc:"The largest current that enters the water elsewhere: at a connector, a bare end, through a leak."`
	SupplyUA       float64  `json:"supply_uA"`
	WaterV         float64  `json:"water_V" doc:"The largest voltage between two bare conductors in the water, or one of them and the water far away."`
	DiverUA        float64  `json:"diver_uA" doc:"Through a diver who touches those two."`
	DiverShare     float64  `json:"diver_share" doc:"Of 2 mA, the direct current that is about felt (IEC 60479-1)."`
	Felt           bool     `json:"felt" doc:"2 mA or more."`
	NearVPerM      float64  `json:"near_V_per_m" doc:"Field on the pair's axis at near_m from its centre; where current enters elsewhere, 1 cm from that place, if it is larger."`
	NearM          float64  `json:"near_m" doc:"1 cm, and at least 5 mm beyond the middle of an electrode."`
	NearMargin     *float64 `json:"near_margin" nullable:"true" doc:"How many times below the field at which sharks twitch; null where there is no field."`
	FaceVPerM      float64  `json:"face_V_per_m" doc:"Mean field at the face of the electrode; at the rim of a disc it is higher."`
	FaceMargin     *float64 `json:"face_margin" nullable:"true"`
	Verdict        string   `json:"verdict" enum:"harmless,look,danger" doc:"danger: felt by a diver, or twitch field at 1 cm. look: a tenth of the 2 mA, or less than 100 times below the twitch field at 1 cm. Else harmless."`
	Text           string   `json:"text" doc:"What happens, in a sentence."`
	StrengthVsLive *float64 `json:"times_live" nullable:"true" doc:"Largest current in the water over that of the undisturbed rig."`
}

// RigSafety sums up the faults.
type RigSafety struct {
	DiverOhm       float64  `json:"diver_ohm"`
	FeltUA         float64  `json:"felt_uA" doc:"2000: direct current that is about felt."`
	TwitchVPerM    float64  `json:"twitch_V_per_m" doc:"4.16: the field at which sharks twitch."`
	WorstCase      string   `json:"worst_case" doc:"Key of the fault with the largest current through a diver."`
	WorstDiverUA   float64  `json:"worst_diver_uA"`
	LimitedDiverUA float64  `json:"limited_diver_uA" doc:"The largest with at most one of the limiting resistors and of the ladder lost: single faults."`
	Verdict        string   `json:"verdict" enum:"harmless,look,danger" doc:"Of single faults."`
	Text           string   `json:"text"`
	Sources        []string `json:"sources"`
}

// RigPart is one line of the parts list.
type RigPart struct {
	What             string   `json:"what" doc:"Such as Limiting resistor, positive leg."`
	Count            int      `json:"count"`
	Value            string   `json:"value" doc:"With its unit: 750 kΩ."`
	ValueOhm         *float64 `json:"value_ohm" nullable:"true" doc:"Of a resistor."`
	Series           string   `json:"series" doc:"E24, E96, or empty."`
	TolerancePercent *float64 `json:"tolerance_percent" nullable:"true"`
	PowerW           *float64 `json:"power_W" nullable:"true" doc:"The most that it turns into heat, faults included."`
	RatingW          *float64 `json:"rating_W" nullable:"true" doc:"The usual rating to buy: at least twice that."`
	Note             string   `json:"note"`
}

// RigFieldAnswer says which current gives the wanted field, by the formula of
// two points on the insulating plate, or in open water.
type RigFieldAnswer struct {
	NVPerCm  float64          `json:"nV_per_cm"`
	AtM      float64          `json:"at_m"`
	Pairs    []RigFieldOfPair `json:"pairs"`
	Warnings []string         `json:"warnings"`
}

// RigFieldOfPair is the current that one pair needs, and the position that
// comes nearest.
type RigFieldOfPair struct {
	Pair         string   `json:"pair"`
	NeededUA     *float64 `json:"needed_uA" nullable:"true" doc:"Null where the place is not beyond the electrode."`
	Position     string   `json:"position"`
	PositionUA   *float64 `json:"position_uA" nullable:"true" doc:"Used current of that position."`
	GivesNVPerCm *float64 `json:"gives_nV_per_cm" nullable:"true" doc:"Field at the place with it."`
}
