package app

// ScheduleDocument is the document of the command schedule. Sealed, it has
// neither active_pair nor current_uA, nor anything else that tells them.
type ScheduleDocument struct {
	Heading
	Plan     SchedulePlan     `json:"plan"`
	Rule     ScheduleRule     `json:"rule"`
	Trials   []ScheduledTrial `json:"trials"`
	Spare    []ScheduledTrial `json:"spare" doc:"Further draws, for protocols that draw again after a bite."`
	Seal     string           `json:"seal" doc:"Root of the Merkle tree over the plan and all trials (docs/formats/seal.md)."`
	Sealed   string           `json:"sealed,omitempty" doc:"The whole schedule, encrypted in the age format to the keys of sealed_to."`
	SealedTo []string         `json:"sealed_to,omitempty"`
	SeedHex  string           `json:"seed_hex,omitempty" doc:"Seed of the draw of a sealed schedule, 64 hexadecimal digits: once all of it is opened anybody can draw it again."`
	Chance   *ScheduleChance  `json:"chance,omitempty" doc:"Not while it is sealed."`
	Balance  *ScheduleBalance `json:"balance,omitempty" doc:"Not while it is sealed."`
}

// SchedulePlan is what was drawn; it is public.
type SchedulePlan struct {
	Pairs        []string  `json:"pairs"`
	CurrentsUA   []float64 `json:"currents_uA"`
	Trials       int       `json:"trials" doc:"Silent ones and shams among them."`
	Silent       int       `json:"silent"`
	Sham         int       `json:"sham"`
	OdourOff     int       `json:"odour_off" doc:"Driven trials without odour."`
	DrawPolarity bool      `json:"draw_polarity"`
	Repeats      int       `json:"repeats" doc:"How often a block holds each pair."`
	MostAlike    int       `json:"most_alike" doc:"Driven trials running that may have the same pair; 0: no limit."`
	Spare        int       `json:"spare"`
}

// ScheduleRule is what [schedule] in study.toml says of it, for a
// randomisation test that draws again by the same rule.
type ScheduleRule struct {
	Rule  string `json:"rule" doc:"Always blocks."`
	Block int    `json:"block" doc:"Trials of a block."`
	// MostAlike is not there where there is no limit.
	MostAlike int `json:"most_alike,omitempty" doc:"Driven trials running that may have the same pair; absent: no limit."`
}

// ScheduledTrial is one trial.
type ScheduledTrial struct {
	Trial      string   `json:"trial"`
	Kind       string   `json:"kind,omitempty" doc:"active, silent or sham."`
	ActivePair string   `json:"active_pair,omitempty" doc:"none in a silent trial and a sham."`
	CurrentUA  *float64 `json:"current_uA,omitempty" doc:"With its sign; where no pair is driven, the current that would have flowed."`
	Odour      *bool    `json:"odour,omitempty"`
	Commitment string   `json:"commitment" doc:"HMAC-SHA-256 of the trial's text, keyed with its nonce."`
	Nonce      string   `json:"nonce,omitempty"`
	Sealed     string   `json:"sealed,omitempty" doc:"This trial alone, encrypted to the same keys and padded to the length of all others."`
}

// ScheduleChance says how often guesses hit.
type ScheduleChance struct {
	Blind      float64 `json:"blind" doc:"Of somebody who knows nothing."`
	WithBlocks float64 `json:"with_blocks" doc:"At best, of somebody who is told every trial's pair when it is over and knows what the block holds."`
}

// ScheduleBalance counts driven trials.
type ScheduleBalance struct {
	Pairs      []PairBalance `json:"pairs"`
	LongestRun int           `json:"longest_run" doc:"The most driven trials running with one pair."`
}

// PairBalance counts the trials that drive one pair.
type PairBalance struct {
	Pair      string `json:"pair"`
	Trials    int    `json:"trials"`
	ByCurrent []int  `json:"by_current" doc:"In the order of the plan's currents."`
	Reversed  int    `json:"reversed"`
	ByDay     []int  `json:"by_day,omitempty" doc:"Where the trials of a day are stated."`
	ByTime    []int  `json:"by_time,omitempty" doc:"First, second and so on of its day."`
}
