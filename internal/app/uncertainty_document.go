package app

// Uncertainty is what one thing that the season says of its own inputs
// ([uncertainty] in study.toml) does to the medians of every species.
type Uncertainty struct {
	What    string             `json:"what" enum:"bottom conductivity,height,current,position,all together"`
	SD      *float64           `json:"sd" nullable:"true" doc:"Standard deviation as the season states it; null for all together."`
	Unit    string             `json:"unit" doc:"Of the standard deviation; empty for all together."`
	How     string             `json:"how" doc:"How it was worked out, in words."`
	Draws   int                `json:"draws,omitempty" doc:"Seasons that were simulated, where chance was used."`
	Species []UncertainMedians `json:"species"`
}

// UncertainMedians are the medians of one species, in nV/cm, from the lower to
// the higher of what they become; a reason stands in the place of what cannot be
// estimated.
type UncertainMedians struct {
	Species             string `json:"species"`
	Detection           Span   `json:"detection_median_nV_per_cm"`
	NPMLE               Span   `json:"npmle_median_nV_per_cm"`
	Lognormal           Span   `json:"lognormal_median_nV_per_cm"`
	LognormalIndividual Span   `json:"lognormal_individual_median_nV_per_cm"`
}

// UncertaintyView is what the page Findings shows of them, once it is asked for.
type UncertaintyView struct {
	Heading
	Stated      bool          `json:"stated" doc:"False where the season states no uncertainty that counts."`
	Uncertainty []Uncertainty `json:"uncertainty"`
}
