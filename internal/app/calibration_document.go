package app

// What a calibration says and is told: potentials that were measured with a
// pair of probe tips at known places round a driven pair, and what they say of
// dipole moment, water and offset. All places are in the season frame (metres,
// z = 0 the plate's top face, or the bottom where there is no plate), as
// everywhere in the knobs.

// CalibrationSpec is the design (knobs) with what was measured.
type CalibrationSpec struct {
	Knobs    StimulusKnobs        `json:"knobs" doc:"The setting as designed: the measured potentials are laid beside its own. Depth, bottom, plates, pairs and shares are taken as they stand; current and water are fitted."`
	Readings []CalibrationReading `json:"readings"`
	Offset   string               `json:"offset" doc:"fit: all readings share an unknown offset of the probe. none: they have none, as where each is half the difference of two polarities."`
	Priors   CalibrationPriors    `json:"priors" required:"false" doc:"What was measured otherwise."`
}

// CalibrationReading is one measured potential difference: the plus tip less
// the minus tip.
type CalibrationReading struct {
	Label  string    `json:"label,omitempty"`
	PlusM  []float64 `json:"plus_m" doc:"[x, y, z] of the plus tip."`
	MinusM []float64 `json:"minus_m" nullable:"true" required:"false" doc:"[x, y, z] of the minus tip; null: a reference far away, where the potential is 0."`
	UV     *float64  `json:"uV" nullable:"true" required:"false" doc:"As read, for the knobs' sign of the current; null: not measured yet, and only foretold."`
	SDUV   *float64  `json:"sd_uV" nullable:"true" required:"false" doc:"Standard deviation of the reading; stated for all readings or for none. Without any, the scatter of the readings tells it."`
}

// CalibrationPriors are what else was measured, as standard deviations about
// the knobs' own values. Without one of the first two an insulating bottom
// leaves only moment over conductivity.
type CalibrationPriors struct {
	CurrentUASD *float64 `json:"current_uA_sd" nullable:"true" required:"false" doc:"The knobs' current was measured with this standard deviation; null: not measured."`
	WaterSPerM  *float64 `json:"water_S_per_m_sd" nullable:"true" required:"false" doc:"The knobs' conductivity of the water was measured with this standard deviation; null: not measured."`
	PositionSDM *float64 `json:"position_sd_m" nullable:"true" required:"false" doc:"Standard deviation of each coordinate of each tip, independent from reading to reading; null: 0."`
}

// CalibrationStart is what the calibration part of the page begins with: the
// specification as it was saved, or one made of the study's knobs without
// readings.
type CalibrationStart struct {
	Spec     CalibrationSpec `json:"spec"`
	Saved    bool            `json:"saved"`
	SpecText string          `json:"spec_text" doc:"The text that is saved now, for the from of an edit; empty where none is."`
	From     []string        `json:"from" doc:"Sentences: where each value came from."`
	Warnings []string        `json:"warnings"`
}

// CalibrationDocument is the answer.
type CalibrationDocument struct {
	Heading
	Form          string                   `json:"form" doc:"Always real."`
	Method        string                   `json:"method" doc:"How the field was worked out."`
	RelativeError *float64                 `json:"relative_error" nullable:"true" doc:"Estimated, of the computed field: no estimate below is better than this."`
	Reached       bool                     `json:"reached" doc:"Whether the computed field reached its tolerance."`
	Solves        int                      `json:"solves" doc:"How often the field was worked out, each for one conductivity of the water."`
	Designed      CalibrationDesign        `json:"designed"`
	Fit           CalibrationFit           `json:"fit"`
	Readings      []CalibrationRow         `json:"readings" doc:"In the order given."`
	Verdict       CalibrationVerdict       `json:"verdict"`
	Explanations  []CalibrationExplanation `json:"explanations" doc:"Other settings laid through the same readings, each with its own scale and offset, the best first; empty without a fit."`
}

// CalibrationDesign is what the knobs say.
type CalibrationDesign struct {
	CurrentUA           float64   `json:"current_uA" doc:"Of the pair (or electrode) of the largest share, with its sign."`
	SeparationM         *float64  `json:"separation_m" nullable:"true" doc:"Of that pair; null where only single electrodes are driven: then no dipole moment is told."`
	DipoleMomentNAM     *float64  `json:"dipole_moment_nA_m" nullable:"true"`
	WaterSPerM          float64   `json:"water_S_per_m"`
	MomentOverWater     *float64  `json:"moment_over_water_nA_m2_per_S" nullable:"true" doc:"Dipole moment over conductivity: nA·m over S/m."`
	CurrentOverWater    float64   `json:"current_over_water_uA_m_per_S" doc:"Current over conductivity: µA over S/m."`
	BottomSPerM         float64   `json:"bottom_S_per_m" doc:"0: it insulates."`
	BottomGoesWithWater bool      `json:"bottom_goes_with_water" doc:"Everything that conducts is stated relative to the water, or nothing else does: then potentials tell only moment over conductivity, however many there are."`
	TextbookCentreM     []float64 `json:"textbook_centre_m" doc:"[x, y, z] of the middle of the driven pair, about which the textbook's formula is taken."`
}

// CalibrationValue is an estimate. What cannot be estimated is null and says
// why in the place of its interval.
type CalibrationValue struct {
	Value *float64 `json:"value" nullable:"true"`
	SE    *float64 `json:"se" nullable:"true"`
	CI95  Span     `json:"ci95"`
}

// CalibrationFit is the least squares fit. All estimates but the factor carry
// what was measured otherwise (the priors). Without a fit they are null, and
// the verdict says why.
type CalibrationFit struct {
	Factor           CalibrationValue `json:"factor" doc:"The number by which the designed potentials have to be multiplied to be those measured, by the potentials alone: 1 is the rig as designed, below 0 is the other polarity."`
	MomentOverWater  CalibrationValue `json:"moment_over_water_nA_m2_per_S"`
	CurrentOverWater CalibrationValue `json:"current_over_water_uA_m_per_S"`
	DipoleMomentNAM  CalibrationValue `json:"dipole_moment_nA_m"`
	CurrentUA        CalibrationValue `json:"current_uA"`
	WaterSPerM       CalibrationValue `json:"water_S_per_m"`
	OffsetUV         CalibrationValue `json:"offset_uV"`

	OnlyRatio       bool                   `json:"only_ratio" doc:"Only moment over conductivity was measured: current, moment and conductivity are not told one by one."`
	Separation      string                 `json:"separation" doc:"A sentence: what tells current and conductivity apart here, or that nothing does."`
	Correlation     CalibrationCorrelation `json:"correlation"`
	UsedReadings    int                    `json:"used_readings"`
	DegreesFreedom  *float64               `json:"degrees_of_freedom" nullable:"true" doc:"Readings less what they were used up for; not a whole number where a prior takes part of it."`
	ChiSquare       *float64               `json:"chi_square" nullable:"true" doc:"Of the readings with their stated standard deviations; null where none are stated."`
	ChiSquareP      *float64               `json:"chi_square_p" nullable:"true"`
	ResidualSDUV    *float64               `json:"residual_sd_uV" nullable:"true" doc:"Scatter of one reading about the fit."`
	Scale           string                 `json:"scale" doc:"What the standard errors rest on: stated (the readings' own standard deviations), widened (those, widened because the readings scatter more), residuals (no standard deviations were stated)."`
	PriorAgreementP *float64               `json:"prior_agreement_p" nullable:"true" doc:"How well current and conductivity as measured agree with the potentials, as a p; null unless both were."`
	TriedLowSPerM   float64                `json:"tried_low_S_per_m" doc:"The conductivities between which the water was sought."`
	TriedHighSPerM  float64                `json:"tried_high_S_per_m"`
}

// CalibrationCorrelation is how estimates hang together. Near 1 or −1 two of
// them are known much worse than one with the other held.
type CalibrationCorrelation struct {
	Names  []string  `json:"names" doc:"Of those that were estimated: current, water, offset; or ratio, offset."`
	Values []Figures `json:"values"`
}

// CalibrationRow is one reading with its fit.
type CalibrationRow struct {
	Label        string    `json:"label"`
	PlusM        []float64 `json:"plus_m"`
	MinusM       []float64 `json:"minus_m" nullable:"true"`
	MiddleM      []float64 `json:"middle_m" doc:"Where to draw it: between the tips, or at the plus tip where the other is far away."`
	MeasuredUV   *float64  `json:"measured_uV" nullable:"true"`
	SDUV         *float64  `json:"sd_uV" nullable:"true" doc:"As used: the stated standard deviation (or the scatter) with position_uV."`
	PositionUV   *float64  `json:"position_uV" nullable:"true" doc:"The part of it that the tips' uncertain positions add, and over plates and round bodies the computed field's own error."`
	DesignedUV   *float64  `json:"designed_uV" nullable:"true" doc:"As designed, without offset; null where a tip lies in no water."`
	TextbookUV   *float64  `json:"textbook_uV" nullable:"true" doc:"By the textbook's formula as designed, without offset: ρ·I·d·cos θ over 2π·r². Null without a pair."`
	FittedUV     *float64  `json:"fitted_uV" nullable:"true" doc:"With the fitted offset."`
	ResidualUV   *float64  `json:"residual_uV" nullable:"true" doc:"Measured less fitted."`
	Standardised *float64  `json:"standardised" nullable:"true" doc:"Residual over its own standard deviation, this reading's pull on the fit taken into account."`
	Leverage     *float64  `json:"leverage" nullable:"true" doc:"0 to 1: how much of its own fitted value this reading makes; 1 is not checked by any other."`
	WithoutIt    *float64  `json:"factor_without_it" nullable:"true" doc:"The factor when this reading is left out."`
	Influence    *float64  `json:"influence" nullable:"true" doc:"The change of the factor when it is left out, in standard errors of the factor."`
	OutlierP     *float64  `json:"outlier_p" nullable:"true" doc:"Whether it fits the others, as a p for the worst of so many readings."`
	Says         string    `json:"says,omitempty" doc:"Why it was not used."`
}

// CalibrationVerdict is the answer in words.
type CalibrationVerdict struct {
	State     string   `json:"state" doc:"agrees, differs, too_uncertain (1 lies in the interval, and so does much else), does_not_fit (the readings scatter more than they should), nothing_measured or not_estimable."`
	Sentence  string   `json:"sentence"`
	Reasons   []string `json:"reasons" doc:"What would explain what was found, the likeliest first; empty where nothing has to be explained."`
	WithinPct *float64 `json:"within_percent" nullable:"true" doc:"The rig is shown to be as designed within this many percent (95 %): the farthest end of the factor's interval from 1."`
}

// CalibrationExplanation is another setting laid through the readings.
type CalibrationExplanation struct {
	Name         string           `json:"name" doc:"as_designed, no_plate, endless_plate, heights_10_percent_more, heights_10_percent_less, with_offset or without_reading."`
	Says         string           `json:"says"`
	Factor       CalibrationValue `json:"factor"`
	ResidualSDUV *float64         `json:"residual_sd_uV" nullable:"true"`
	Misfit       *float64         `json:"misfit" nullable:"true" doc:"Weighted sum of squared residuals, with the weights of the fit: smaller fits better, and a difference below about 4 means nothing."`
}
