package app

import "errors"

var (
	// ErrNotReady answers for results that are still being computed.
	ErrNotReady = errors.New("the analysis is still running")
	// ErrUnknownPass answers for a pass that the season does not have.
	ErrUnknownPass = errors.New("there is no such pass in this season")
	// ErrFaults answers for results of a season whose files have faults.
	ErrFaults = errors.New("the season's files have faults: mend them and open it again")
)
