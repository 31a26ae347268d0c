package season

import "brinefield/core/study"

// IntervalRow is one pass in the table of `infer`: between which fields its
// threshold lies, and when it turned.
type IntervalRow struct {
	Pass, Trial string
	Individual  string // "" = not identified
	Species     string
	Pair        string // "active", "control" or "silent"
	Turned, Bit study.Answer
	// Low and High bound the field in nV/cm. High is +Inf where the cell is
	// blank. High below Low is a falling field and only stands at a turn.
	Low, High float64
	// OnsetBeforeS is the last time before the turn at which the animal was
	// seen not to turn, OnsetS the turn, WatchedS how long it was watched.
	OnsetBeforeS, OnsetS, WatchedS study.Opt[float64]
	Visit                          string
	Exact                          bool // the threshold is Low = High itself
	LevelNVPerCm                   study.Opt[float64]
	Row                            int // 1 is the header
}

// IntervalTable is the table of `infer`.
type IntervalTable struct {
	Rows []IntervalRow
	// HasTimes: some row states a time, so that `detection` can be estimated.
	HasTimes bool
	// HasFields: the table has the two field columns. Only a table of set
	// levels may lack them; its rows then have Low 0 and High +Inf.
	HasFields bool
	// HasLevel: some row states the level that the experimenter set.
	HasLevel bool
	// Covariates are the names of all further columns, in file order.
	Covariates []string
}
