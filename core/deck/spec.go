// Package deck is how a study logs on a boat: what can be said of a pass, in
// which classes of height, what is looked at before a trial, how long a trial and
// the washout after it take, and what has been counted against a permit.
package deck

// Spec is what a study says of its own logging. It is kept as one document.
type Spec struct {
	Format int `json:"format"`
	// Responses are what can be said of a pass, in the order of the buttons.
	Responses []Response `json:"responses"`
	// Heights are the classes of height over the bottom that an eye can tell.
	Heights []Height `json:"heights"`
	// Checks are looked at before every trial.
	Checks []Check `json:"checks"`
	// TrialMin and WashoutMin are in minutes; 0: as the sealed schedule states.
	TrialMin   float64 `json:"trial_min" minimum:"0" maximum:"1440"`
	WashoutMin float64 `json:"washout_min" minimum:"0" maximum:"1440"`
}

// Answer is what a response says of turned and of bit: yes, no, or "" where it
// says nothing.
type Answer string

// Response is one thing that can be said of a pass.
type Response struct {
	// Word stands in the column response of the season; "" where turned and bit say it all.
	Word   string `json:"word"`
	Label  string `json:"label" doc:"On the button."`
	Turned Answer `json:"turned" enum:"yes,no,"`
	Bit    Answer `json:"bit" enum:"yes,no,"`
	// Electrode asks which electrode was bitten.
	Electrode bool `json:"electrode"`
}

// Height is a class of height over the bottom, in centimetres.
type Height struct {
	Word   string  `json:"word"`
	LowCM  float64 `json:"low_cm"`
	HighCM float64 `json:"high_cm"`
}

// Check is one thing to look at before a trial.
type Check struct {
	Word  string `json:"word"`
	Label string `json:"label"`
}
